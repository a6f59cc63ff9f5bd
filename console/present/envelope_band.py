"""The envelope as curves over range, for the lanes' bands and the port plane's circles.

The limits file holds each limit by itself; here the tightest of a level and side counts. A
corridor angle becomes a lateral offset at its range: offset = range · tan(angle).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from console.core.units import RAD_PER_DEG
from console.envelope.limits import Allow, Level, Limit, LimitsFile
from console.envelope.quantity import Quantity
from console.present.plot_scene import Series, series

_NEAR_M = 1e-6
RIGHT_ANGLE_DEG = 90.0


def bound_at(limit: Limit, range_m: float) -> float | None:
    """Give a limit at a range in the unit it is drawn in (a corridor angle as an offset, m)."""
    bound = limit.curve.at(range_m)
    if bound is None or limit.quantity is not Quantity.CORRIDOR_ANGLE:
        return bound
    return offset_of_angle_m(bound, range_m)


def offset_of_angle_m(angle_deg: float, range_m: float) -> float | None:
    """Give the lateral offset of a corridor angle; None at 90 deg and beyond."""
    if not 0.0 <= angle_deg < RIGHT_ANGLE_DEG or range_m < 0.0:
        return None
    return range_m * math.tan(angle_deg * RAD_PER_DEG)


def sampled_ranges(limits: Sequence[Limit], outer_m: float, count: int = 160) -> Series:
    """Give ranges from ``outer_m`` down to 0 at which curves are drawn.

    Even on the square-root axis, with every point of the limits' curves, and a close neighbour
    outside each curve's ends so that its end is drawn as an end.
    """
    even = outer_m * (np.arange(count + 1) / count) ** 2
    own: list[float] = []
    for limit in limits:
        ranges = limit.curve.ranges_m
        own += [*ranges, ranges[0] - _NEAR_M, ranges[-1] + _NEAR_M]
    held = [r for r in own if 0.0 <= r <= outer_m]
    return np.unique(np.concatenate([even, series(held)]))[::-1]


@dataclass(frozen=True, slots=True)
class Edges:
    """Allowed region over range; NaN where that side is open.

    Attributes
    ----------
    ranges_m, low, high : ndarray, shape (n,)
        Ranges descending; the region's lower and upper side there.
    """

    ranges_m: Series
    low: Series
    high: Series

    @property
    def is_open(self) -> bool:
        """Tell whether nothing is limited anywhere."""
        return bool(np.isnan(self.low).all() and np.isnan(self.high).all())


def edges(
    file: LimitsFile | None, quantities: Sequence[Quantity], level: Level, outer_m: float
) -> Edges:
    """Give the tightest limits of a level on some quantities together."""
    limits = select(file, quantities, level)
    ranges = sampled_ranges(limits, outer_m)
    low = np.full(ranges.shape, -np.inf)
    high = np.full(ranges.shape, np.inf)
    for limit in limits:
        line = limit_line(limit, ranges)
        if limit.allow is Allow.BELOW:
            high = np.fmin(high, line)
        else:
            low = np.fmax(low, line)
    low[np.isinf(low)] = np.nan
    high[np.isinf(high)] = np.nan
    return Edges(ranges, low, high)


def select(
    file: LimitsFile | None, quantities: Sequence[Quantity], level: Level
) -> tuple[Limit, ...]:
    """Give a file's limits of a level on some quantities."""
    if file is None:
        return ()
    return tuple(n for n in file.limits if n.level is level and n.quantity in quantities)


def limit_line(limit: Limit, ranges_m: Series) -> Series:
    """Give one limit at ranges, NaN where it is not applied."""
    bounds = (bound_at(limit, float(r)) for r in ranges_m)
    return series([math.nan if b is None else b for b in bounds])
