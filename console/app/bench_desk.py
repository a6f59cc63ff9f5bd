"""Loads, judges and saves for the bench's view: threads, processes and files stand here."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Hashable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

from console.archive.limits_file import save_limits
from console.bench.compare import Comparer
from console.bench.labels import Label, LabelBook
from console.bench.pass_set import PassSet, load_passes
from console.bench.ready_pass import Progress, ReadyOrder
from console.bench.rejudge import Judged, Rejudge
from console.bench.sweep import SweepPoint, sweep
from console.core.errors import InputError
from console.envelope.limits import LimitsFile
from console.present.bench_port import Answer, Loading, Question, SweepQuestion
from console.present.opener import Opener

AT_ONCE_S = 0.03
"""What takes no longer is judged where it is asked for; the rest in a thread of its own."""
NO_FILE = InputError.of(
    "limits", "", "the shipped file is open", "give your own with --limits FILE to save"
)

Load = Callable[[Progress, Callable[[], bool]], PassSet]


class BenchDesk:
    """The bench's port on real passes.

    Parameters
    ----------
    opened : LimitsFile
    path : Path or None
        Where it was read from; None: nothing can be saved.
    load : callable
        Gives the passes; told whom to tell of progress, and whom to ask whether to stop.
    opener : Opener or None
        Shows passes in Watch.
    labels : sequence of Label or None, optional
        Known beforehand, such as a simulation's truth; else they are read beside the passes.
    """

    def __init__(
        self,
        opened: LimitsFile,
        path: Path | None,
        load: Load,
        opener: Opener | None = None,
        labels: Sequence[Label | None] | None = None,
    ) -> None:
        self._opened = opened
        self._path = path
        self._load = load
        self._opener = opener
        self._given = labels
        self._labels: list[Label | None] = []
        self._book: LabelBook | None = None
        self._book_fault = ""
        self._loading = Loading()
        self._set: PassSet | None = None
        self._rejudge: Rejudge | None = None
        self._is_stopped = threading.Event()
        self._loader = threading.Thread(target=self._run_load, name="bench-load", daemon=True)
        self._worker = ThreadPoolExecutor(1, thread_name_prefix="bench-judge")
        self._running: Future[Answer] | None = None
        self._sweeper = ThreadPoolExecutor(1, thread_name_prefix="bench-sweep")
        self._sweep: Future[tuple[SweepQuestion, tuple[SweepPoint, ...]]] | None = None
        self._sweep_waiting: SweepQuestion | None = None
        self._sweep_judge: Rejudge | None = None
        self._waiting: Question | None = None
        self._answer: Answer | None = None
        self._took_s = 0.0
        self._compared: tuple[Hashable, Comparer] | None = None

    def start(self) -> BenchDesk:
        """Begin to load."""
        self._loader.start()
        return self

    @property
    def opened(self) -> LimitsFile:
        """The limits file as it was opened or last saved."""
        return self._opened

    @property
    def labels(self) -> Sequence[Label | None]:
        """What is known of each pass."""
        return self._labels

    def loading(self) -> Loading:
        """Give how far loading is."""
        return self._loading

    def loaded(self) -> PassSet | None:
        """Give the passes once all are loaded."""
        return self._set

    def ask(self, question: Question) -> None:
        """Judge at once what is quick, else in the worker; the newest question wins."""
        if self._rejudge is None:
            return
        if self._running is None and self._took_s < AT_ONCE_S and self._rejudge.judged:
            self._answer = self._judged(question)
            self._took_s = self._answer.took_s
            return
        self._waiting = question
        self._feed()

    def take(self) -> Answer | None:
        """Give a new answer, None where there is none."""
        if self._running is not None and self._running.done():
            self._answer = self._running.result()
            self._took_s = self._answer.took_s
            self._running = None
        self._feed()
        answer, self._answer = self._answer, None
        return answer

    def ask_sweep(self, question: SweepQuestion) -> None:
        """Have a limit swept in a thread of its own; one still waiting is dropped for it."""
        self._sweep_waiting = question
        self._feed_sweep()

    def take_sweep(self) -> tuple[SweepQuestion, tuple[SweepPoint, ...]] | None:
        """Give a finished sweep with its question, None where there is none."""
        if self._sweep is None or not self._sweep.done():
            return None
        found, self._sweep = self._sweep.result(), None
        self._feed_sweep()
        return found

    def mark(self, number: int, label: Label | None) -> str:
        """Keep what is known of a pass beside it; give what kept it from being kept."""
        if self._set is None:
            return "the passes are still loading"
        if self._book is None:
            return self._book_fault or "these passes have no file to keep it beside"
        path = self._set.passes[number].path
        try:
            self._book.put(path, label)
        except InputError as error:
            return str(error)
        self._labels[number] = self._book.of(path)
        return ""

    def save(self, draft: LimitsFile, reason: str, author: str) -> LimitsFile:
        """Save a draft over the file opened; raises InputError, and then nothing is written."""
        if self._path is None:
            raise NO_FILE
        self._opened = save_limits(self._path, self._opened, draft, reason=reason, author=author)
        return self._opened

    def open_pass(self, number: int, t: float | None) -> None:
        """Show a pass in Watch."""
        if self._opener is not None and self._set is not None:
            self._opener.open_pass(self._set.passes[number].path, t)

    def close(self) -> None:
        """Stop loading and judging; a pass being read is finished first."""
        self._is_stopped.set()
        self._waiting = None
        self._sweep_waiting = None
        for pool in (self._worker, self._sweeper):
            pool.shutdown(wait=True, cancel_futures=True)
        if self._loader.is_alive():
            self._loader.join(timeout=10.0)

    def _feed(self) -> None:
        if self._waiting is not None and self._running is None and not self._is_stopped.is_set():
            question, self._waiting = self._waiting, None
            self._running = self._worker.submit(self._judged, question)

    def _feed_sweep(self) -> None:
        waiting, is_idle = self._sweep_waiting, self._sweep is None
        is_open = self._set is not None and not self._is_stopped.is_set()
        if waiting is not None and is_idle and is_open:
            self._sweep_waiting = None
            self._sweep = self._sweeper.submit(self._swept, waiting, list(self._labels))

    def _swept(
        self, question: SweepQuestion, labels: list[Label | None]
    ) -> tuple[SweepQuestion, tuple[SweepPoint, ...]]:
        assert self._set is not None
        if self._sweep_judge is None:
            self._sweep_judge = Rejudge(self._set)  # its own: the other's thread must not meet it
        limit = question.draft.limits[question.limit]
        points = sweep(
            self._sweep_judge, question.draft, labels, limit.id, question.knob, question.values
        )
        return question, points

    def _judged(self, question: Question) -> Answer:
        assert self._rejudge is not None
        begin = time.perf_counter()
        before = self._rejudge.judge(self._opened)
        after = self._rejudge.judge(question.draft)
        comparison = self._comparer(before, question).against(after)
        run = after.runs[question.limit]
        run.margins  # noqa: B018 - worked out here, not where it is drawn
        return Answer(question, before, after, comparison, run, time.perf_counter() - begin)

    def _comparer(self, before: Judged, question: Question) -> Comparer:
        """Give the comparer for a question, the last one where it still holds."""
        assert self._rejudge is not None
        limit = question.draft.limits[question.limit]
        only = limit.id if question.only else None
        key = (before.limits.sha256, limit.level, only, question.marks)
        if self._compared is None or self._compared[0] != key:
            passes, labels = self._rejudge.passes.passes, list(self._labels)
            self._compared = (key, Comparer(before, passes, labels, limit.level, only))
        return self._compared[1]

    def _run_load(self) -> None:
        def tell(done: int, of: int, name: str) -> None:
            self._loading = Loading(done, of, name)

        try:
            passes = self._load(tell, self._is_stopped.is_set)
            if self._is_stopped.is_set():
                return
            self._labels = self._labels_of(passes)
        except InputError as error:
            self._loading = replace(self._loading, fault=str(error))
            return
        except Exception as error:
            # a defect: told where the passes are waited for, and by the thread's own hook
            self._loading = replace(self._loading, fault=f"loading failed: {error}")
            raise
        self._rejudge = Rejudge(passes)
        self._set = passes  # last: whoever sees it may ask

    def _labels_of(self, passes: PassSet) -> list[Label | None]:
        if self._given is not None:
            return list(self._given)
        try:
            self._book = LabelBook(one.path for one in passes.passes)
        except InputError as error:
            self._book_fault = str(error)
            return [None] * len(passes)
        return [self._book.of(one.path) for one in passes.passes]


def desk_of_files(
    paths: Sequence[Path],
    order: ReadyOrder,
    path: Path | None,
    jobs: int,
    opener: Opener | None,
) -> BenchDesk:
    """Make a desk that loads files and folders in worker processes."""

    def load(tell: Progress, is_stopped: Callable[[], bool]) -> PassSet:
        return load_passes(paths, order, jobs=jobs, on_progress=tell, is_stopped=is_stopped)

    return BenchDesk(order.limits, path, load, opener)


def desk_of_set(
    passes: PassSet, opened: LimitsFile, labels: Sequence[Label | None], path: Path | None = None
) -> BenchDesk:
    """Make a desk on passes that are in memory already, such as simulated ones."""
    return BenchDesk(opened, path, lambda _tell, _stopped: passes, labels=labels)
