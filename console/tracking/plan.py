"""The planned closing law: a straight line of speed over range down to a knee, then the last rate.

Outside the knee the present speed s at range x runs linearly over range to the planned rate at
the knee; inside, the speed keeps its ratio to the plan. The same law drives the filter's
feed-forward and every countdown, so the two cannot disagree.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from console.envelope.limits import GlideSlope

KNEE_BAND_M = 0.5
"""The knee counts as reached this much outside it (the speed line is too short to be told)."""
STEEPEST_PER_S = 0.01
FLAT_PER_S = 1e-6
SLOWEST_MPS = 0.005
"""A planned rate below this (a plan that ends at rest) is taken as this, so that times end."""


@dataclass(frozen=True, slots=True)
class ClosingPlan:
    """What the glide slope says of the end of the approach.

    Attributes
    ----------
    knee_m : float
        Outer end of the innermost segment.
    knee_rate_mps, final_rate_mps : float
        Planned closing rate there and at contact; equal on the usual flat segment.
    straight_to_m, outer_slope_per_s : float
        Outer end and slope of the plan's straight piece just outside the knee.
    """

    knee_m: float
    knee_rate_mps: float
    final_rate_mps: float
    straight_to_m: float = math.inf
    outer_slope_per_s: float = 0.0

    @classmethod
    def of(cls, slope: GlideSlope) -> ClosingPlan:
        """Take knee and rates from a glide slope."""
        final = slope.final_rate_mps
        knee = slope.curve.at(slope.knee_m)
        at_knee = max(final if knee is None else knee, SLOWEST_MPS)
        ranges, values = slope.curve.ranges_m, slope.curve.values
        straight_to, outer = math.inf, 0.0
        if len(ranges) > 2:
            outer = (values[2] - values[1]) / (ranges[2] - ranges[1])
            straight_to = ranges[2] if len(ranges) > 3 else math.inf
        return cls(slope.knee_m, at_knee, max(final, SLOWEST_MPS), straight_to, outer)

    def inner_rate(self, range_m: float) -> float:
        """Give the planned rate on the innermost segment, held constant beyond contact."""
        if self.knee_rate_mps == self.final_rate_mps or self.knee_m <= 0.0:
            return self.final_rate_mps
        share = min(max(range_m / self.knee_m, 0.0), 1.0)
        return self.final_rate_mps + (self.knee_rate_mps - self.final_rate_mps) * share

    def deceleration(self, range_m: float, speed_mps: float) -> float:
        """Give the deceleration the law expects now, m/s^2, never negative.

        Notes
        -----
        Along s = s_knee + k (x - x_knee) through the present point, ds/dt = -k s; k is 0 at and
        inside the knee band (Hablani, Tapper, Dana-Bashian,
        "Guidance and Relative Navigation for Autonomous Rendezvous in a Circular Orbit",
        Journal of Guidance, Control, and Dynamics 25(3), 2002; from memory).
        """
        outside = range_m - self.knee_m
        if outside <= KNEE_BAND_M:
            return 0.0
        k = (speed_mps - self.knee_rate_mps) / outside
        if k <= 0.0:
            return 0.0
        return min(k, STEEPEST_PER_S) * speed_mps

    def time_s(
        self, range_m: float, speed_mps: float, target_m: float, knee_rate_mps: float
    ) -> float:
        """Give the time along the law from a range to a nearer one.

        Parameters
        ----------
        range_m, target_m : float
            Present range and the range to be reached, m, ``target_m <= range_m``.
        speed_mps : float
            Present closing rate, > 0.
        knee_rate_mps : float
            Rate assumed at the knee, > 0 (the planned one, or a variation of it).

        Returns
        -------
        float
            Seconds.

        Notes
        -----
        Outside the knee T = ln(s / s_t) / k with s_t the speed at the target or the knee
        (the glide-slope transfer time, same source as :meth:`deceleration`).
        """
        return Course(self, range_m, speed_mps, knee_rate_mps).time_s(target_m)

    def inner_time_s(self, range_m: float, target_m: float) -> float:
        """Give the planned time from a range to a nearer one on the innermost segment.

        Notes
        -----
        ln(s / s_t) / gradient on its sloped part (source as in :meth:`deceleration`).
        """
        way = range_m - target_m
        if self.knee_rate_mps == self.final_rate_mps:
            return way / self.final_rate_mps
        start, end = self.inner_rate(range_m), self.inner_rate(target_m)
        if abs(start - end) < FLAT_PER_S * abs(way) or start == end:
            return way / start
        # The segment is only sloped between 0 and the knee; the rest is at its end's rate.
        near, far = max(target_m, 0.0), min(range_m, self.knee_m)
        gradient = (start - end) / (far - near)
        sloped = math.log(start / end) / gradient
        return sloped + (near - target_m) / end + (range_m - far) / start

    def shape(self, range_m: float, target_m: float) -> float:
        """Give the ratio of the time along the law to way over present speed, inside the knee.

        Exactly 1 on a flat innermost segment (times as in :meth:`inner_time_s`).
        """
        if self.knee_rate_mps == self.final_rate_mps or range_m <= target_m:
            return 1.0
        way = range_m - target_m
        return self.inner_time_s(range_m, target_m) * self.inner_rate(range_m) / way

    def rate_at(
        self, range_m: float, from_range_m: float, from_speed_mps: float, knee_rate_mps: float
    ) -> float:
        """Give the closing rate the law has at a nearer range, starting from a present state.

        Notes
        -----
        The straight line s = s_knee + k (x - x_knee) itself (source as in :meth:`deceleration`).
        """
        return Course(self, from_range_m, from_speed_mps, knee_rate_mps).rate_at(range_m)


class Course:
    """The law from one present state on, with what all times and rates along it share.

    Parameters
    ----------
    plan : ClosingPlan
        The law.
    range_m, speed_mps, knee_rate_mps : float
        As for :meth:`ClosingPlan.time_s`.
    """

    __slots__ = ("_is_inside", "_k", "_knee_m", "_plan", "_start", "_to_knee_s")

    def __init__(
        self, plan: ClosingPlan, range_m: float, speed_mps: float, knee_rate_mps: float
    ) -> None:
        self._plan = plan
        self._start = range_m, speed_mps, knee_rate_mps
        self._knee_m = knee_m = plan.knee_m
        outside = range_m - knee_m
        self._is_inside = outside <= KNEE_BAND_M
        self._k = self._to_knee_s = 0.0
        if not self._is_inside:
            self._k = (speed_mps - knee_rate_mps) / outside
            self._to_knee_s = self._outer_s(knee_m)

    def time_s(self, target_m: float) -> float:
        """Give the time to a nearer range, s.

        Notes
        -----
        T = ln(s / s_t) / k outside the knee, as in :meth:`ClosingPlan.time_s`.
        """
        plan = self._plan
        if self._is_inside:
            range_m, speed_mps, _ = self._start
            return plan.inner_time_s(range_m, target_m) * plan.inner_rate(range_m) / speed_mps
        knee_m = self._knee_m
        if target_m >= knee_m:
            return self._outer_s(target_m)
        scale = plan.knee_rate_mps / self._start[2]
        return self._to_knee_s + plan.inner_time_s(knee_m, target_m) * scale

    def _outer_s(self, end_m: float) -> float:
        range_m, speed_mps, knee_rate_mps = self._start
        k = self._k
        if abs(k) < FLAT_PER_S:
            return (range_m - end_m) / speed_mps
        return math.log(speed_mps / (knee_rate_mps + k * (end_m - self._knee_m))) / k

    def follow(self, targets_m: list[float]) -> list[tuple[float, float]]:
        """Give :meth:`time_s` and :meth:`rate_at` for several nearer ranges."""
        k = self._k
        if self._is_inside or abs(k) < FLAT_PER_S:
            return [(self.time_s(target_m), self.rate_at(target_m)) for target_m in targets_m]
        knee_m, (_, speed_mps, knee_rate_mps), log = self._knee_m, self._start, math.log
        out: list[tuple[float, float]] = []
        for target_m in targets_m:
            if target_m >= knee_m:
                rate_mps = knee_rate_mps + k * (target_m - knee_m)
                out.append((log(speed_mps / rate_mps) / k, rate_mps))
            else:
                out.append((self.time_s(target_m), self.rate_at(target_m)))
        return out

    def rate_at(self, range_m: float) -> float:
        """Give the closing rate at a nearer range, m/s."""
        plan, (from_m, speed_mps, knee_rate_mps) = self._plan, self._start
        if self._is_inside:
            return speed_mps * plan.inner_rate(range_m) / plan.inner_rate(from_m)
        if range_m >= self._knee_m:
            return knee_rate_mps + self._k * (range_m - self._knee_m)
        return plan.inner_rate(range_m) * knee_rate_mps / plan.knee_rate_mps
