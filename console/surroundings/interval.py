"""Half-open stretches of time and their unions."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from operator import attrgetter


@dataclass(frozen=True, slots=True, order=True)
class Interval:
    """From ``t_start`` up to, but without, ``t_end``; UTC seconds since 1970."""

    t_start: float
    t_end: float

    @property
    def length_s(self) -> float:
        """How long it is."""
        return self.t_end - self.t_start

    def holds(self, t_s: float) -> bool:
        """Tell whether a time lies within."""
        return self.t_start <= t_s < self.t_end


def union(intervals: Iterable[Interval]) -> tuple[Interval, ...]:
    """Join what overlaps or touches; in order of time."""
    joined: list[Interval] = []
    for one in sorted(intervals):
        if joined and one.t_start <= joined[-1].t_end:
            last = joined[-1]
            joined[-1] = Interval(last.t_start, max(last.t_end, one.t_end))
        else:
            joined.append(one)
    return tuple(joined)


def held(intervals: Sequence[Interval], t_s: float) -> Interval | None:
    """Give the one that holds a time (``intervals`` in order and apart), None where none does."""
    at = bisect_right(intervals, t_s, key=attrgetter("t_start"))
    return intervals[at - 1] if at and intervals[at - 1].holds(t_s) else None


def overlapping(intervals: Sequence[Interval], t_start: float, t_end: float) -> Sequence[Interval]:
    """Give those (in order and apart) that reach into a stretch of time."""
    first = bisect_right(intervals, t_start, key=attrgetter("t_end"))
    last = bisect_left(intervals, t_end, key=attrgetter("t_start"))
    return intervals[first:last]


def without(intervals: Sequence[Interval], taken: Iterable[Interval]) -> tuple[Interval, ...]:
    """Take stretches out of others (``intervals`` in order and apart, as of :func:`union`)."""
    holes = union(taken)
    left: list[Interval] = []
    at = 0
    for one in intervals:
        while at < len(holes) and holes[at].t_end <= one.t_start:
            at += 1
        start, next_hole = one.t_start, at
        while next_hole < len(holes) and holes[next_hole].t_start < one.t_end:
            hole = holes[next_hole]
            if start < hole.t_start:
                left.append(Interval(start, hole.t_start))
            start = hole.t_end
            next_hole += 1
        if start < one.t_end or next_hole == at:
            left.append(Interval(start, one.t_end))
    return tuple(left)
