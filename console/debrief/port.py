"""What the Debrief view asks of whoever gathers, draws and writes for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import Protocol

from console.debrief.page import Chapter, Figure
from console.present.debrief_recent import RecentPass

PictureKey = tuple[Figure, str]
"""A figure, and the name of the theme it is drawn in."""


class Stage(StrEnum):
    """How far a debrief is."""

    NOTHING = "nothing opened"
    WORKING = "gathering"
    READY = "ready"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Opened:
    """A debrief as far as it is there.

    Attributes
    ----------
    path : Path or None
        Of the pass that was asked for.
    words : str
        Why it was refused; empty otherwise.
    chapter : Chapter or None
        Once it is ready.
    pictures : mapping
        PNG bytes by figure and theme; they come one after the other.
    """

    stage: Stage = Stage.NOTHING
    path: Path | None = None
    words: str = ""
    chapter: Chapter | None = None
    pictures: Mapping[PictureKey, bytes] = field(default_factory=dict)


class DebriefPort(Protocol):
    """Gathers a pass's debrief without making the window wait."""

    def recent(self) -> tuple[RecentPass, ...]:
        """Give the passes at hand, newest first."""
        ...

    def open(self, path: Path) -> None:
        """Begin to gather a pass's debrief; what was asked before is left."""
        ...

    def opened(self) -> Opened:
        """Give the debrief as far as it is there."""
        ...

    def report_path(self, ending: str) -> Path:
        """Give a name for a report of what is opened, free of a file."""
        ...

    def save(self, path: Path) -> str:
        """Begin to write a report; give what is wrong with its name, empty for nothing."""
        ...

    def said(self) -> str:
        """Give and forget what became of the last report; empty while there is no news."""
        ...

    def close(self) -> None:
        """Leave all work, and free everything."""
        ...
