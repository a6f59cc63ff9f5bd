"""The leaning check: innovations that keep one sign, as a small bias makes them.

The share of positive against negative innovations is followed instead of their size, so that
neither outliers nor wrongly declared noise matter. What it finds is small by nature: an advisory.
"""

from __future__ import annotations

from typing import Final

MEMORY_S: Final = 30.0
"""Window of the running mean of signs."""
SETTLED: Final = 3.0
"""Windows that must have been seen before it says anything."""
LIMIT: Final = 0.66
"""Mean sign beyond which a channel leans: set by campaigns of healthy passes."""


class LeaningCheck:
    """Follows the mean sign of one channel's innovations."""

    __slots__ = ("lean", "seen_s")

    def __init__(self) -> None:
        self.lean = 0.0
        """Mean sign, -1 to 1."""
        self.seen_s = 0.0

    def take(self, innovation: float, interval_s: float) -> None:
        """Take an innovation (before the filter's update).

        Notes
        -----
        The sign test (Dixon, Mood, "The statistical sign test", JASA 41, 1946; from memory) with
        a fading window in place of a fixed sample.
        """
        weight = interval_s / (interval_s + MEMORY_S)
        if innovation > 0.0:
            self.lean += weight * (1.0 - self.lean)
        elif innovation < 0.0:
            self.lean -= weight * (1.0 + self.lean)
        self.seen_s += interval_s

    def restart(self, interval_s: float) -> None:
        """Forget the signs so far, but not for how long the channel has been watched."""
        self.lean = 0.0
        self.seen_s += interval_s

    @property
    def leans(self) -> bool:
        """Tell whether innovations have kept one sign for long enough."""
        return abs(self.lean) > LIMIT and self.seen_s > SETTLED * MEMORY_S
