"""The Debrief view on real files: passes at hand, the work in another process, reports."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from console.app.debrief_job import (
    Drawn,
    Gather,
    Gathered,
    Job,
    ProcessJob,
    Refused,
    Start,
    Write,
    Wrote,
)
from console.app.report import check_report_ending
from console.archive.places import SUFFIX, data_folder, free_path, recordings_folder
from console.archive.recording import is_being_written
from console.archive.shipped import shipped
from console.core.errors import InputError
from console.debrief.port import Opened, Stage
from console.debrief.review import Debrief
from console.present.debrief_recent import RecentPass, recent_passes
from console.present.opener import Opener
from console.present.theme import DARK, LIGHT

if TYPE_CHECKING:
    from PySide6.QtWidgets import QWidget

ENDINGS = (SUFFIX, ".csv", ".parquet")
NOT_READY = "no debrief is ready yet: open a pass first"


class DebriefDesk:
    """The Debrief view's port on real files.

    Parameters
    ----------
    start : callable
        Begins a piece of work; by default in a process of its own.
    """

    def __init__(self, start: Start = ProcessJob) -> None:
        self._start = start
        self._gathering: Job | None = None
        self._writing: Job | None = None
        self._opened = Opened()
        self._debrief: Debrief | None = None

    def recent(self) -> tuple[RecentPass, ...]:
        """Give the user's recordings and the shipped passes, newest first, the user's before."""
        own = recent_passes(_dated(recordings_folder()), is_being_written)
        others = recent_passes(_dated(shipped("replay_data", "passes")))
        return (*own, *sorted(others, key=lambda one: one.name))

    def open(self, path: Path) -> None:
        """Begin to gather a pass's debrief."""
        if self._gathering is not None:
            self._gathering.stop()
        path = path.resolve()
        self._debrief = None
        self._opened = Opened(Stage.WORKING, path)
        self._gathering = self._start(Gather(path, (DARK, LIGHT)))

    def opened(self) -> Opened:
        """Give the debrief as far as it is there."""
        if self._gathering is None:
            return self._opened
        for told in self._gathering.take():
            match told:
                case Gathered():
                    self._debrief = told.debrief
                    self._opened = replace(self._opened, stage=Stage.READY, chapter=told.chapter)
                case Drawn():
                    pictures = {**self._opened.pictures, told.key: told.png}
                    self._opened = replace(self._opened, pictures=pictures)
                case Refused() if self._debrief is None:
                    self._opened = replace(self._opened, stage=Stage.REFUSED, words=told.words)
        if self._gathering.is_over:
            self._gathering.stop()
            self._gathering = None
        return self._opened

    def report_path(self, ending: str) -> Path:
        """Give a name for a report in the data folder, free of a file."""
        path = self._opened.path
        stem = "debrief" if path is None else path.stem
        return free_path(data_folder() / "reports" / f"{stem}{ending}")

    def save(self, path: Path) -> str:
        """Begin to write a report; give what is wrong, empty for nothing."""
        if self._debrief is None:
            return NOT_READY
        if self._writing is not None:
            return "a report is being written: wait until it is told"
        try:
            check_report_ending(path)
        except InputError as error:
            return str(error)
        self._writing = self._start(Write(self._debrief, path))
        return ""

    def said(self) -> str:
        """Give and forget what became of the last report."""
        if self._writing is None:
            return ""
        words = ""
        for told in self._writing.take():
            if isinstance(told, Refused):
                words = f"! {told.words}"
            elif isinstance(told, Wrote):
                words = f"written: {told.path}"
        if self._writing.is_over:
            self._writing.stop()
            self._writing = None
        return words

    def close(self) -> None:
        """Leave all work."""
        for job in (self._gathering, self._writing):
            if job is not None:
                job.stop()
        self._gathering = self._writing = None


def _dated(folder: Path) -> Iterator[tuple[Path, float]]:
    if not folder.is_dir():
        return
    for path in folder.iterdir():
        if path.suffix in ENDINGS and path.is_file():
            yield path, path.stat().st_mtime


def debrief_view(
    opener: Opener, path: Path | None = None, *, start: Start = ProcessJob
) -> QWidget:
    """Make the Debrief view, of a pass or of none yet.

    Parameters
    ----------
    opener : Opener
        Shows moments of a pass in Watch.
    path : Path, optional
        A pass to begin with.
    start : callable
        Begins a piece of work; by default in a process of its own.

    Raises
    ------
    InputError
        There is no such file.
    """
    from console.window.debrief_view import DebriefView

    if path is not None and not path.is_file():
        raise InputError.of(str(path), "", "no such file", "check the name")
    desk = DebriefDesk(start)
    if path is not None:
        desk.open(path)
    return DebriefView(desk, opener)
