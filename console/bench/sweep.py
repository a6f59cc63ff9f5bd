"""One limit varied in one way over the same passes: nuisance against miss, and the delay.

The points that no other beats are marked. Which of them is right is the engineer's to say:
nothing is chosen here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from console.bench.compare import Comparer, Share
from console.bench.labels import Label
from console.bench.rejudge import Judged, Rejudge
from console.core.errors import UsageError
from console.envelope.limits import Curve, Limit, LimitsFile


class Knob(StrEnum):
    """What of a limit is varied."""

    SCALE = "scale"
    """The curve's values are multiplied."""
    OFFSET = "offset"
    """The curve's values are shifted, in the quantity's unit."""
    ON_DELAY = "on_delay"
    DEADBAND = "deadband"


@dataclass(frozen=True, slots=True)
class SweepPoint:
    """A limit as varied, and what it said of the passes.

    Attributes
    ----------
    value : float
        Of the knob: a factor, a shift, seconds, or the dead band.
    nuisance : Share
        Of the passes marked good, with Wilson bounds.
    missed : Share
        Of the passes marked bad or known fault.
    delay_s : float or None
        Median from a known fault to the raising.
    is_unbeaten : bool
        No other point is as good in all three and better in one.
    """

    value: float
    limit: Limit
    nuisance: Share
    missed: Share
    delay_s: float | None
    is_unbeaten: bool = False


def neutral_value(limit: Limit, knob: Knob) -> float:
    """Give the value at which a knob leaves the limit as it is."""
    return {
        Knob.SCALE: 1.0,
        Knob.OFFSET: 0.0,
        Knob.ON_DELAY: limit.on_delay_s,
        Knob.DEADBAND: limit.deadband,
    }[knob]


def varied(limit: Limit, knob: Knob, value: float) -> Limit:
    """Give the limit with one thing changed.

    Raises
    ------
    UsageError
        No limits file could hold it: a scale not above 0, a negative delay or dead band.
    """
    if not math.isfinite(value) or (value < 0.0 and knob is not Knob.OFFSET):
        raise UsageError(f"{knob.value} must not be negative, found {value:g}")
    if knob is Knob.ON_DELAY:
        return replace(limit, on_delay_s=value)
    if knob is Knob.DEADBAND:
        return replace(limit, deadband=value)
    curve = limit.curve
    if knob is Knob.OFFSET:
        return replace(limit, curve=Curve(curve.ranges_m, tuple(v + value for v in curve.values)))
    if value == 0.0:
        raise UsageError("scale must be above 0")
    return replace(limit, curve=Curve(curve.ranges_m, tuple(v * value for v in curve.values)))


def sweep(
    rejudge: Rejudge,
    limits: LimitsFile,
    labels: Sequence[Label | None],
    limit_id: str,
    knob: Knob,
    values: Sequence[float],
) -> tuple[SweepPoint, ...]:
    """Vary one limit over the passes; it alone is counted.

    Parameters
    ----------
    rejudge : Rejudge
        Over the passes.
    limits : LimitsFile
        Holds the limit.
    labels : sequence of Label or None
        What is known of each pass, in the order of the set.
    limit_id : str
        Which limit.
    knob, values : Knob, sequence of float
        What is varied, and through which values.

    Raises
    ------
    UsageError
        There is no such limit, or a value no limits file could hold.
    """
    limit = next((one for one in limits.limits if one.id == limit_id), None)
    if limit is None:
        raise UsageError(f"no limit {limit_id!r}")

    def alone(one: Limit) -> Judged:
        return Judged(replace(limits, limits=(one,)), (rejudge.run(one),))

    comparer = Comparer(
        alone(limit), rejudge.passes.passes, labels, level=limit.level, only=limit.id
    )
    points = []
    for value in values:
        one = varied(limit, knob, value)
        after = comparer.against(alone(one)).after
        points.append(SweepPoint(value, one, after.nuisance, after.missed, after.median_delay_s))
    return tuple(
        replace(point, is_unbeaten=not any(_beats(other, point) for other in points))
        for point in points
    )


def _beats(one: SweepPoint, other: SweepPoint) -> bool:
    mine, theirs = _costs(one), _costs(other)
    return mine != theirs and all(a <= b for a, b in zip(mine, theirs, strict=True))


def _costs(point: SweepPoint) -> tuple[int, int, float]:
    """Give what is better the less it is; a fault that is never told is told infinitely late."""
    delay_s = math.inf if point.delay_s is None else point.delay_s
    return point.nuisance.count, point.missed.count, delay_s
