"""A condition over time as stretches that are good or not, and where a moment falls in them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from console.surroundings.coverage import Coverage
from console.surroundings.glare import Glare
from console.surroundings.interval import Interval, union, without
from console.surroundings.light import Span
from console.surroundings.shadow import Light


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


@dataclass(frozen=True, slots=True)
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

    @property
    def good(self) -> tuple[Interval, ...]:
        """Where it is known and not bad."""
        return without((self.extent,), self.bad)

    def fall(self, t_s: float) -> Fall | None:
        """Tell where a moment falls; None where the condition is unknown then."""
        if not self.extent.holds(t_s):
            return None
        is_good = not any(one.holds(t_s) for one in self.bad)
        same, other = (self.good, self.bad) if is_good else (self.bad, self.good)
        stretch = next(one for one in same if one.holds(t_s))
        return Fall(
            is_good,
            stretch,
            next((one for one in other if one.t_end == stretch.t_start), None),
            next((one for one in other if one.t_start == stretch.t_end), None),
        )


def daylight(spans: Sequence[Span]) -> Condition | None:
    """Give where it is day; twilight and night are bad."""
    if not spans:
        return None
    dark = union(Interval(s.t_start, s.t_end) for s in spans if s.state is not Light.DAY)
    return Condition(_extent(spans), dark)


def clear_view(spans: Sequence[Span], glares: Iterable[Glare]) -> Condition | None:
    """Give where the camera is not dazzled."""
    if not spans:
        return None
    return Condition(_extent(spans), union(Interval(g.t_start, g.t_end) for g in glares))


def linked(coverage: Coverage | None) -> Condition | None:
    """Give where the plan has a link."""
    if coverage is None or coverage.extent is None:
        return None
    return Condition(coverage.extent, coverage.gaps)


def _extent(spans: Sequence[Span]) -> Interval:
    return Interval(spans[0].t_start, spans[-1].t_end)


def clear_of_all(conditions: Sequence[Condition], from_s: float) -> tuple[Interval, ...]:
    """Give the times from one on at which every condition is known and good."""
    if not conditions:
        return ()
    start = max(from_s, *(c.extent.t_start for c in conditions))
    end = min(c.extent.t_end for c in conditions)
    if not start < end:
        return ()
    return without((Interval(start, end),), (bad for c in conditions for bad in c.bad))
