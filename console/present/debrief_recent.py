"""The passes a debrief can be chosen from, as lines of a list."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

MOST = 500
"""Lines of the list; older passes are opened by name."""


@dataclass(frozen=True, slots=True)
class RecentPass:
    """One pass at hand.

    Attributes
    ----------
    name, place : str
        The file's name, and the folder it lies in.
    """

    path: Path
    name: str
    place: str

    @property
    def spoken(self) -> str:
        """The line in words; where the file lies is not shown, so that no name is cut."""
        return f"{self.name}, in {self.place}"


def recent_passes(dated: Iterable[tuple[Path, float]]) -> tuple[RecentPass, ...]:
    """Give passes as lines, the newest first.

    Parameters
    ----------
    dated : iterable of (Path, float)
        Each with the time it was last changed.
    """
    newest = sorted(dated, key=lambda pair: (-pair[1], pair[0].name))[:MOST]
    return tuple(RecentPass(path, path.name, path.parent.name) for path, _ in newest)
