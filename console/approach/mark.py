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

    Attributes
    ----------
    is_inside : bool
        Two successive valid samples lay at or inside the range, and none such outside since: true
        of a watch that began inside it too, where nothing was passed.
    """

    __slots__ = ("is_armed", "is_inside", "range_m")

    def __init__(self, range_m: float, first_range_m: float) -> None:
        self.range_m = range_m
        self.is_armed = first_range_m > range_m
        self.is_inside = False

    def take(self, farther_m: float, nearer_m: float) -> bool:
        """Look at the two newest valid samples, by their ranges; tell whether they pass it."""
        if farther_m <= self.range_m:
            self.is_inside = True
            if self.is_armed:
                self.is_armed = False
                return True
        elif not self.is_armed and nearer_m > REARM_FACTOR * self.range_m + REARM_M:
            self.is_armed = True
            self.is_inside = False
        return False


def passing_of(range_m: float, first: RelativeSample, before: RelativeSample | None) -> Passing:
    """Give when a range was passed, linear between the first sample inside and the one before."""
    if before is None or before.range_m <= range_m:
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
