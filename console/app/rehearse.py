"""The Rehearse view put together: exercises on file, runs, scores and what they compare with."""

from __future__ import annotations

import re
import threading
from collections.abc import Callable
from concurrent.futures import CancelledError, Future, ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from console.app.around import Around, around_of, demo_coverage
from console.app.at_hand import newest_recordings, shipped_passes
from console.app.input_file import demo_setup, load_limits, load_setup, scenario_names
from console.app.rehearse_run import Rehearsal, RunOrder
from console.app.rehearse_stage import exercise_of, read_exercise, stage
from console.archive.places import data_folder, free_path
from console.archive.recording import open_recording
from console.archive.shipped import shipped
from console.core.errors import InputError
from console.envelope.limits import LimitsFile
from console.envelope.setup import Setup
from console.present.opener import Opener
from console.present.rehearse import Reviewed, RunningRehearsal
from console.present.rehearse_draft import Choices, Draft, draft_of, draft_text
from console.rehearsal.exercise import Exercise
from console.rehearsal.review import is_rehearsal, review
from console.rehearsal.score import RehearsalScore

if TYPE_CHECKING:
    from PySide6.QtWidgets import QWidget

_NOT_IN_NAMES = re.compile(r"[^\w-]+")


class ExerciseDesk:
    """Implements what the Rehearse view asks of the application.

    Parameters
    ----------
    limits : Path, optional
        In force; by default the shipped ones.
    setup : Path, optional
        By default the shipped outpost's, with its coverage plan.
    clock : callable, optional
        What runs are timed by, UTC seconds; by default the real one.
    """

    def __init__(
        self,
        limits: Path | None = None,
        setup: Path | None = None,
        clock: Callable[[], float] | None = None,
    ) -> None:
        self._clock = clock
        self._limits_path = limits
        self._setup_path = setup
        self._folder = Path()
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="rehearse")
        self._closing = threading.Event()

    def choices(self) -> Choices:
        """Give what there is to choose from."""
        return Choices(
            exercises=tuple(str(path) for path in _exercise_files()),
            scenarios=tuple(scenario_names()),
            passes=tuple(str(path) for path in (*shipped_passes(), *newest_recordings())),
        )

    def read(self, path: str) -> Draft:
        """Read an exercise file; a pass it names is then looked for beside it."""
        exercise = read_exercise(Path(path))
        self._folder = Path(path).parent
        return draft_of(exercise)

    def save(self, draft: Draft) -> Path:
        """Check a draft and write it below the user's data folder; nothing is overwritten.

        A file it was read beside is named by its whole path: the new file lies elsewhere.
        """
        beside = self._folder / draft.name
        if draft.name and beside.is_file():
            draft = replace(draft, name=str(beside.resolve()))
        exercise = self._checked(draft)
        word = _NOT_IN_NAMES.sub("_", exercise.title.strip().lower()).strip("_")[:60]
        path = free_path(own_exercises() / f"{word or 'exercise'}.toml")
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(exercise.text, encoding="utf-8")
        except OSError as error:
            reason = error.strerror or str(error)
            raise InputError.of(
                str(path), "", f"cannot be written: {reason}", "check its rights"
            ) from None
        return path

    def begin(self, draft: Draft, trainee: str) -> Future[RunningRehearsal]:
        """Check a draft and make it ready in the background."""
        return self._pool.submit(self._ready, draft, trainee)

    def review(self, path: Path) -> Future[Reviewed]:
        """Score a recording in the background and gather the runs to compare with."""
        return self._pool.submit(reviewed, path, self._closing.is_set)

    def close(self) -> None:
        """Take no more work, at once: what is in hand ends behind the window's back.

        Of a score nobody waits for only the run in hand is read; the recording is whole by then.
        A run just being made ready is not begun. The program ends after both.
        """
        self._closing.set()
        self._pool.shutdown(wait=False, cancel_futures=True)

    def _checked(self, draft: Draft) -> Exercise:
        return exercise_of(draft_text(draft).encode(), "this exercise", self._folder)

    def _ready(self, draft: Draft, trainee: str) -> RunningRehearsal:
        exercise = self._checked(draft)
        limits, setup, around = self._ground()
        staged = stage(exercise, self._folder, limits, setup)
        if self._closing.is_set():
            raise CancelledError  # nobody is there to run it: no file is begun
        return Rehearsal(staged, RunOrder(trainee, limits, setup, around), self._clock)

    def _ground(self) -> tuple[LimitsFile, Setup, Around]:
        path = self._setup_path or demo_setup()
        setup = load_setup(path)
        coverage = demo_coverage() if self._setup_path is None else None
        return load_limits(self._limits_path), setup, around_of(setup, path, coverage)


def rehearse_view(
    opener: Opener,
    *,
    limits: Path | None = None,
    setup: Path | None = None,
    clock: Callable[[], float] | None = None,
) -> QWidget:
    """Give the Rehearse view, ready to be shown in a tab.

    Parameters
    ----------
    opener : Opener
        For replaying and debriefing a finished run.
    limits, setup : Path, optional
        In force; by default the shipped ones.
    clock : callable, optional
        What runs are timed by, UTC seconds; by default the real one.
    """
    from console.window.rehearse_view import RehearseView

    desk = ExerciseDesk(limits, setup, clock)
    return RehearseView(desk, opener, on_close=desk.close)


def _never() -> bool:
    return False


def reviewed(path: Path, is_unwanted: Callable[[], bool] = _never) -> Reviewed:
    """Score a recording, and every other rehearsal among the user's newest recordings.

    ``is_unwanted`` is asked before each of the others: once it is true they are left out.
    """
    with open_recording(path) as recording:
        score = review(recording)
    others = [one for one in runs_on_file(None, is_unwanted) if one.recording != path.name]
    return Reviewed(path, score, tuple(others))


def runs_on_file(
    folder: Path | None = None, is_unwanted: Callable[[], bool] = _never
) -> tuple[RehearsalScore, ...]:
    """Score the rehearsals among the newest recordings, the earliest first.

    What is no rehearsal, is still being recorded or cannot be read is left out.
    """
    found = []
    for path in newest_recordings(folder):
        if is_unwanted():
            break
        try:
            with open_recording(path) as recording:
                if is_rehearsal(recording.meta) and recording.was_closed:
                    found.append(review(recording))
        except InputError:
            continue
    return tuple(sorted(found, key=lambda score: score.started_s))


def own_exercises() -> Path:
    """Give the folder of the user's own exercises, not yet made."""
    return data_folder() / "exercises"


def _exercise_files() -> list[Path]:
    shipped_ones = sorted(shipped("replay_data", "exercises").glob("*.toml"))
    return [*shipped_ones, *sorted(own_exercises().glob("*.toml"))]
