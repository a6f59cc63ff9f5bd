"""The passes a debrief can be chosen from, as lines of a list."""

from __future__ import annotations

from collections.abc import Callable, Iterable
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
    is_under_way : bool
        It is being written now.
    """

    path: Path
    name: str
    place: str
    is_under_way: bool = False

    @property
    def line(self) -> str:
        """The line as it is shown."""
        return f"{self.name} (still being written)" if self.is_under_way else self.name

    @property
    def spoken(self) -> str:
        """The line in words; where the file lies is not shown, so that no name is cut."""
        return f"{self.line}, in {self.place}"


def recent_passes(
    dated: Iterable[tuple[Path, float]], is_under_way: Callable[[Path], bool] = lambda _: False
) -> tuple[RecentPass, ...]:
    """Give passes as lines, the newest first.

    Parameters
    ----------
    dated : iterable of (Path, float)
        Each with the time it was last changed.
    is_under_way : callable, optional
        Tells whether a recording is being written now.
    """
    newest = sorted(dated, key=lambda pair: (-pair[1], pair[0].name))[:MOST]
    return tuple(
        RecentPass(path, path.name, path.parent.name, is_under_way(path)) for path, _ in newest
    )
