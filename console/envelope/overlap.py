"""Two curves over range compared where both are applied, exactly.

Curves are straight between their points, so whatever is linear in both is greatest and least at a
point of one of them or at an end of what they share: those ranges are enough to look at.
"""

from __future__ import annotations

from console.envelope.limits import Curve


def shared_span_m(a: Curve, b: Curve) -> tuple[float, float] | None:
    """Give least and greatest range both curves are applied at; None where there is none."""
    low = max(a.ranges_m[0], b.ranges_m[0])
    high = min(a.ranges_m[-1], b.ranges_m[-1])
    return (low, high) if low <= high else None


def shared_ranges_m(a: Curve, b: Curve) -> tuple[float, ...]:
    """Give the points of both curves inside what they share, and its ends, in order."""
    span = shared_span_m(a, b)
    if span is None:
        return ()
    low, high = span
    points = {range_m for range_m in (*a.ranges_m, *b.ranges_m) if low <= range_m <= high}
    return tuple(sorted(points | {low, high}))


def differences(a: Curve, b: Curve) -> tuple[tuple[float, float], ...]:
    """Give range and ``a - b`` at each of :func:`shared_ranges_m`."""
    found = []
    for range_m in shared_ranges_m(a, b):
        first, second = a.at(range_m), b.at(range_m)
        if first is not None and second is not None:
            found.append((range_m, first - second))
    return tuple(found)
