"""Range marks, the hands-off point and contact: what two successive valid samples show.

Single samples would let an outlier pass a mark or declare contact, so each rule wants two
successive valid samples of the source in use. The sample before the first of the two gives the
time by linear interpolation.
"""

from __future__ import annotations

from dataclasses import dataclass

from console.core.records import RelativeSample
from console.tracking.source import Source

REARM_FACTOR = 1.01
REARM_M = 0.5


@dataclass(frozen=True, slots=True)
class Passing:
    """A range was passed: when, and the closing rate then (both interpolated)."""

    range_m: float
    t: float
    closing_rate_mps: float


class RangeMark:
    """One range that is watched for being passed inward.

    It is armed at the start if the first valid sample lies above it, and again after two
    successive valid samples above ``1.01 range + 0.5 m``.
    """

    __slots__ = ("is_armed", "range_m")

    def __init__(self, range_m: float, first_range_m: float) -> None:
        self.range_m = range_m
        self.is_armed = first_range_m > range_m

    def take(self, source: Source) -> Passing | None:
        """Look at a source's newest valid samples; give the passing if they show one."""
        first = source.before
        if first is None:
            return None
        if self.is_armed:
            if source.newest.range_m <= self.range_m and first.range_m <= self.range_m:
                self.is_armed = False
                return _interpolate(self.range_m, first, source.before_that)
        else:
            above_m = REARM_FACTOR * self.range_m + REARM_M
            if source.newest.range_m > above_m and first.range_m > above_m:
                self.is_armed = True
        return None


def _interpolate(range_m: float, first: RelativeSample, before: RelativeSample | None) -> Passing:
    if before is None or before.range_m <= range_m or first.t <= before.t:
        return Passing(range_m, first.t, -first.range_rate_mps)
    share = (before.range_m - range_m) / (before.range_m - first.range_m)
    t = before.t + share * (first.t - before.t)
    rate = before.range_rate_mps + share * (first.range_rate_mps - before.range_rate_mps)
    return Passing(range_m, t, -rate)


def contact_sample(source: Source) -> RelativeSample | None:
    """Give the contact sample if a source's two newest valid samples have range <= 0."""
    first = source.before
    if first is not None and first.range_m <= 0.0 and source.newest.range_m <= 0.0:
        return first
    return None
