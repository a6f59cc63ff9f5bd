"""When a smooth function of time changes its sign: a scan over a fixed grid, then bisection.

The grid stands at whole multiples of the step of absolute time, so that the times found do not
depend on where a search begins. Between two points of equal sign a dip to the other side is found
by following the least value; so even a grazing eclipse shorter than the step is not missed.
"""

from __future__ import annotations

import math
from collections.abc import Callable

STEP_S = 60.0
TOLERANCE_S = 1e-3
_GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0

Function = Callable[[float], float]


def crossings(
    f: Function, t_start: float, t_end: float, step_s: float = STEP_S
) -> tuple[float, ...]:
    """Give the times within a span at which a function changes its sign.

    Parameters
    ----------
    f : callable
        Of UTC seconds; smooth, with features longer than about three steps. Called up to two
        steps outside the span.
    t_start, t_end : float
        UTC seconds.
    step_s : float
        Of the scan.

    Returns
    -------
    tuple of float
        In order, each to about a millisecond.
    """
    first = math.floor(t_start / step_s) - 1
    last = math.ceil(t_end / step_s) + 1
    times = [i * step_s for i in range(first, last + 1)]
    values = [f(t) for t in times]
    found: list[float] = []
    for i in range(1, len(times) - 1):
        if _may_dip(values[i - 1], values[i], values[i + 1]):
            found += _dip(f, times[i - 1], times[i + 1])
    for i in range(1, len(times)):
        if (values[i - 1] < 0.0) != (values[i] < 0.0):
            found.append(bisected(f, times[i - 1], times[i]))
    return tuple(t for t in sorted(found) if t_start <= t <= t_end)


def bisected(f: Function, low: float, high: float) -> float:
    """Narrow down a change of sign between two times."""
    is_negative = f(low) < 0.0
    while high - low > TOLERANCE_S:
        middle = (low + high) / 2.0
        if (f(middle) < 0.0) == is_negative:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def _may_dip(before: float, here: float, after: float) -> bool:
    """Tell whether three points of one sign may reach the other between them.

    The least of a parabola through them lies at most an eighth of the larger difference beyond
    the middle one; half is looked at.
    """
    if not (before < 0.0) == (here < 0.0) == (after < 0.0):
        return False
    size, one, other = abs(here), abs(before), abs(after)
    # strictly on one side, so that two equal points in a row are looked at once
    return size < one and size <= other and size < 0.5 * max(one - size, other - size)


def _dip(f: Function, low: float, high: float) -> list[float]:
    """Follow a function toward zero by golden sections; give both changes of sign, or none."""
    sign = -1.0 if f(low) < 0.0 else 1.0
    left, right = low, high
    inner = right - _GOLDEN * (right - left)
    outer = left + _GOLDEN * (right - left)
    at_inner, at_outer = sign * f(inner), sign * f(outer)
    while right - left > TOLERANCE_S:
        least_t = inner if at_inner < at_outer else outer
        if min(at_inner, at_outer) < 0.0:
            return [bisected(f, low, least_t), bisected(f, least_t, high)]
        if at_inner < at_outer:
            right, outer, at_outer = outer, inner, at_inner
            inner = right - _GOLDEN * (right - left)
            at_inner = sign * f(inner)
        else:
            left, inner, at_inner = inner, outer, at_outer
            outer = left + _GOLDEN * (right - left)
            at_outer = sign * f(outer)
    return []
