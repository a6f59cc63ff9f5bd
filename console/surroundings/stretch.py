"""What is good or bad for contact over time: daylight, a clear view, a link."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from console.surroundings.condition import Condition
from console.surroundings.coverage import Coverage
from console.surroundings.glare import Glare
from console.surroundings.interval import Interval, overlapping, union, without
from console.surroundings.light import Span
from console.surroundings.shadow import Light


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
    return None if coverage is None else coverage.condition


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
    within = [bad for c in conditions for bad in overlapping(c.bad, start, end)]
    return without((Interval(start, end),), within)
