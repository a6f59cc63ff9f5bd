"""What one view asks of the others: open this pass, debrief it, say a line."""

from __future__ import annotations

from pathlib import Path
from typing import Protocol


class Opener(Protocol):
    """The door from a view to the rest of the window; the application implements it."""

    def open_pass(self, path: Path, t: float | None = None) -> None:
        """Show a recorded pass in Watch.

        Parameters
        ----------
        path : Path
            A recording or a table.
        t : float, optional
            Where to stand, UTC seconds; by default at the beginning.
        """
        ...

    def open_debrief(self, path: Path) -> None:
        """Show a recorded pass in Debrief."""
        ...

    def say(self, text: str) -> None:
        """Show one line in the window's status."""
        ...
