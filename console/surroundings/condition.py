"""A condition over time as stretches that are good or not, and where a moment falls in them."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from operator import attrgetter

from console.surroundings.interval import Interval, held, without


@dataclass(frozen=True, slots=True)
class Fall:
    """Where a moment falls.

    Attributes
    ----------
    is_good : bool
    stretch : Interval
        The stretch of the same answer around it.
    before, after : Interval or None
        The neighbouring stretches of the other answer; None where nothing is known.
    """

    is_good: bool
    stretch: Interval
    before: Interval | None
    after: Interval | None


@dataclass(frozen=True)
class Condition:
    """Where a condition is known, and where within that it is bad.

    Attributes
    ----------
    extent : Interval
    bad : tuple of Interval
        In order and apart, within the extent.
    """

    extent: Interval
    bad: tuple[Interval, ...]

    @cached_property
    def good(self) -> tuple[Interval, ...]:
        """Where it is known and not bad."""
        return without((self.extent,), self.bad)

    def fall(self, t_s: float) -> Fall | None:
        """Tell where a moment falls; None where the condition is unknown then."""
        if not self.extent.holds(t_s):
            return None
        stretch = held(self.bad, t_s)
        is_good = stretch is None
        other = self.bad if is_good else self.good
        stretch = stretch or held(self.good, t_s)
        if stretch is None:
            return None
        after = bisect_left(other, stretch.t_end, key=attrgetter("t_start"))
        before = bisect_left(other, stretch.t_start, key=attrgetter("t_end"))
        return Fall(
            is_good,
            stretch,
            _if(other[before : before + 1], "t_end", stretch.t_start),
            _if(other[after : after + 1], "t_start", stretch.t_end),
        )


def _if(found: Sequence[Interval], end: str, t_s: float) -> Interval | None:
    return next((one for one in found if getattr(one, end) == t_s), None)
