"""Many passes, loaded once and ready to be judged against any limits with the same rules."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from console.archive.ready_columns import prune_ready
from console.archive.recording import is_being_written
from console.bench.ready_pass import Progress, ReadyOrder, ReadyPass, make_ready, rules_of
from console.bench.worker_pool import WorkerPool
from console.core.errors import InputError
from console.envelope.limits import LimitsFile
from console.judging.columns import PassColumns
from console.judging.stack import PassStack

PASS_SUFFIXES = (".csv", ".parquet", ".leadmark")
AHEAD = 2
"""Passes given to each process at a time: enough to keep it busy, few enough to stop at once."""


@dataclass(frozen=True, slots=True)
class Refused:
    """A pass that cannot be judged, and why."""

    path: Path
    reason: str


@dataclass(frozen=True)
class PassSet:
    """Passes in the order given.

    Attributes
    ----------
    passes : tuple of ReadyPass
    rules : str
        Fingerprint of the rules they were made ready under
        (:func:`~console.bench.ready_pass.rules_of`).
    stale_after_s : float
        One of those rules: the longest step between judged samples that timers survive.
    refused : tuple of Refused
        What could not be read; the rest is judged all the same.
    under_way : int
        Recordings in the folders given that were still being written, and so were left out.
    """

    passes: tuple[ReadyPass, ...]
    rules: str
    stale_after_s: float
    refused: tuple[Refused, ...] = ()
    under_way: int = 0

    @classmethod
    def of(cls, passes: Sequence[ReadyPass], limits: LimitsFile) -> PassSet:
        """Make a set of passes that are ready already, such as simulated ones."""
        return cls(tuple(passes), rules_of(limits), limits.data.stale_after_s)

    @classmethod
    def of_columns(cls, columns: Sequence[PassColumns], limits: LimitsFile) -> PassSet:
        """Make a set of bare columns; their names are their numbers, from 1."""
        names = [f"pass {number:04d}" for number in range(1, len(columns) + 1)]
        ready = [ReadyPass(Path(n), n, c) for n, c in zip(names, columns, strict=True)]
        return cls.of(ready, limits)

    def __len__(self) -> int:
        return len(self.passes)

    @cached_property
    def stack(self) -> PassStack:
        """All passes end to end."""
        return PassStack.of([one.columns for one in self.passes])


@dataclass(frozen=True, slots=True)
class PassFiles:
    """What one look into the folders given found.

    Attributes
    ----------
    files : tuple of Path
        To be loaded.
    under_way : int
        Recordings in the folders that were being written, and so were left out.
    """

    files: tuple[Path, ...]
    under_way: int = 0


def pass_files(paths: Sequence[Path]) -> PassFiles:
    """Give the files to load: those given, and of a folder the passes in it, by name.

    A recording in a folder that is being written now is left out: it is no whole pass yet.

    Raises
    ------
    InputError
        A folder holds no pass.
    """
    found: dict[Path, None] = {}
    under_way: set[Path] = set()
    for path in paths:
        if not path.is_dir():
            found[path] = None
            continue
        inside = sorted(p for p in path.iterdir() if p.suffix in PASS_SUFFIXES and p.is_file())
        if not inside:
            kinds = ", ".join(PASS_SUFFIXES)
            raise InputError.of(str(path), "", "no pass in it", f"a folder with {kinds} files")
        for one in inside:
            if is_being_written(one):
                under_way.add(one)
            else:
                found[one] = None
    return PassFiles(tuple(found), len(under_way - found.keys()))


def load_passes(
    paths: Sequence[Path] | PassFiles,
    order: ReadyOrder,
    *,
    jobs: int = 1,
    on_progress: Progress | None = None,
    is_stopped: Callable[[], bool] | None = None,
) -> PassSet:
    """Make passes ready, in worker processes where there is more than one job.

    Parameters
    ----------
    paths : sequence of Path or PassFiles
        Files, and folders of files; or what was found in them before, to load the same again.
    order : ReadyOrder
        Under which rules.
    jobs : int
        Processes.
    on_progress : callable, optional
        Told after each pass.
    is_stopped : callable, optional
        Asked between passes; once it says so the rest is left out.

    Raises
    ------
    InputError
        A folder holds no pass, or a worker process was killed.
    """
    listed = paths if isinstance(paths, PassFiles) else pass_files(paths)
    files = listed.files
    found: dict[int, ReadyPass | Refused] = {}
    try:
        for number, made in _made(files, order, jobs, is_stopped or (lambda: False)):
            found[number] = made
            if on_progress is not None:
                on_progress(len(found), len(files), files[number].name)
    except BrokenProcessPool:
        raise InputError.of(
            "loading", "", "a process that read passes was ended", "try again with --jobs 1"
        ) from None
    results = [found[number] for number in sorted(found)]
    prune_ready()
    return PassSet(
        tuple(one for one in results if isinstance(one, ReadyPass)),
        rules_of(order.limits),
        order.limits.data.stale_after_s,
        tuple(one for one in results if isinstance(one, Refused)),
        listed.under_way,
    )


def _made(
    files: Sequence[Path], order: ReadyOrder, jobs: int, is_stopped: Callable[[], bool]
) -> Iterator[tuple[int, ReadyPass | Refused]]:
    """Give each pass with its number as it is done."""
    if jobs <= 1 or len(files) <= 1:
        for number, path in enumerate(files):
            if is_stopped():
                return
            yield number, _make(path, order)
        return
    with WorkerPool(min(jobs, len(files))) as pool:
        waiting: dict[Future[ReadyPass | Refused], int] = {}
        left = iter(enumerate(files))
        while True:
            while len(waiting) < AHEAD * jobs and not is_stopped():
                number, path = next(left, (-1, Path()))
                if number < 0:
                    break
                waiting[pool.submit(_make, path, order)] = number
            if not waiting:
                return
            done, _ = wait(waiting, return_when=FIRST_COMPLETED)
            for future in done:
                yield waiting.pop(future), future.result()


def _make(path: Path, order: ReadyOrder) -> ReadyPass | Refused:
    try:
        return make_ready(path, order)
    except InputError as error:
        return Refused(path, str(error))
