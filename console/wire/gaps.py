"""Numbers missing from a counter, as a bounded list of intervals."""

from __future__ import annotations

from bisect import bisect_right

INTERVALS_KEPT = 1024


class Gaps:
    """Which numbers of a run are still missing.

    Intervals are closed, disjoint and ascending. Beyond the bound the oldest is forgotten; a
    number in it can then no longer be told from one already seen.
    """

    def __init__(self) -> None:
        self._first: list[int] = []
        self._last: list[int] = []

    def __contains__(self, number: int) -> bool:
        """Tell whether a number is missing."""
        place = bisect_right(self._first, number) - 1
        return place >= 0 and number <= self._last[place]

    def add(self, first: int, last: int) -> None:
        """Add an interval above all others."""
        self._first.append(first)
        self._last.append(last)
        self._bound()

    def take(self, number: int) -> bool:
        """Take a number out; False where it was not missing."""
        place = bisect_right(self._first, number) - 1
        if place < 0 or number > self._last[place]:
            return False
        first, last = self._first[place], self._last[place]
        parts = [(first, number - 1), (number + 1, last)]
        kept = [(low, high) for low, high in parts if low <= high]
        self._first[place : place + 1] = [low for low, _ in kept]
        self._last[place : place + 1] = [high for _, high in kept]
        self._bound()
        return True

    def _bound(self) -> None:
        if len(self._first) > INTERVALS_KEPT:
            del self._first[0], self._last[0]
