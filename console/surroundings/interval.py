"""Half-open stretches of time and their unions."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass


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


def without(intervals: Sequence[Interval], taken: Iterable[Interval]) -> tuple[Interval, ...]:
    """Take stretches out of others (``intervals`` in order and apart, as of :func:`union`)."""
    left = list(intervals)
    for hole in taken:
        cut: list[Interval] = []
        for one in left:
            if hole.t_end <= one.t_start or one.t_end <= hole.t_start:
                cut.append(one)
                continue
            if one.t_start < hole.t_start:
                cut.append(Interval(one.t_start, hole.t_start))
            if hole.t_end < one.t_end:
                cut.append(Interval(hole.t_end, one.t_end))
        left = cut
    return tuple(left)
