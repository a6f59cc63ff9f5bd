"""The estimator of one set of samples: six decoupled axes in the port frame.

Range is driven by the closing law (a known deceleration outside the knee) and opened for a while
when its rate channel says that a manoeuvre is under way; the other axes are plain. The filter
knows nothing of limits, phases or other filters. Its covariance is that of the noise alone:
fixed biases cannot be seen by it and are added where a figure is given out.
"""

from __future__ import annotations

import math
from statistics import median
from typing import Final

from console.core.records import RelativeSample
from console.tracking.along import RESTART_S, Along, steps_to
from console.tracking.axis import Axis, coast
from console.tracking.noise import GATE_FACTOR, NoiseModel
from console.tracking.plan import ClosingPlan

LATERAL_Q: Final = 3e-7  # m^2/s^3
ANGLE_Q: Final = 1e-4  # deg^2/s^3: thruster pulses of some 0.03 deg/s about every 10 s
LATE_AT_MOST_S: Final = 1.0
FIRST_SAMPLES: Final = 5
UNKNOWN_LATERAL_RATE_MPS: Final = 0.05
UNKNOWN_ANGLE_RATE_DPS: Final = 0.3
START_SIGMAS: Final = 2.0


def wrap_deg(angle_deg: float) -> float:
    """Give the same angle in [-180, 180) deg."""
    return (angle_deg + 180.0) % 360.0 - 180.0


class RelativeFilter:
    """State of the vehicle from one source's samples, or from several sources' together.

    Parameters
    ----------
    plan : ClosingPlan
        The law range is expected to follow.

    Notes
    -----
    Sequence of a sample: predict (in steps of at most 1 s), range, range rate, then each other
    axis alike. A step of more than 60 s starts afresh. Start: median of the first five samples,
    moved to the newest by their own rates, because the first may be an outlier.
    """

    __slots__ = ("along", "first", "pitch", "plan", "roll", "started", "t", "y", "yaw", "z")

    def __init__(self, plan: ClosingPlan) -> None:
        self.plan = plan
        self.started = False
        self.t = -math.inf
        blank = Axis(0.0, 0.0, 1.0, 1.0)
        self.along = Along(plan, blank)
        self.y = self.z = self.roll = self.pitch = self.yaw = blank
        self.first: list[RelativeSample] = []
        """Samples it waits to start from."""

    def copy(self) -> RelativeFilter:
        """Give an independent filter of the same state."""
        twin = RelativeFilter.__new__(RelativeFilter)  # nothing blank is wanted
        twin.plan, twin.started, twin.t = self.plan, self.started, self.t
        twin.along = self.along.copy()
        twin.y, twin.z = self.y.copy(), self.z.copy()
        twin.roll, twin.pitch, twin.yaw = self.roll.copy(), self.pitch.copy(), self.yaw.copy()
        twin.first = list(self.first)
        return twin

    def predict(self, t: float) -> None:
        """Carry the state to a later time, with honest growth of its covariance."""
        if self.t < t:
            for dt in steps_to(self.t, t):
                self.along.step(dt)
                coast((self.y, self.z), dt, LATERAL_Q)
                coast((self.roll, self.pitch, self.yaw), dt, ANGLE_Q)
            self.t = t

    def take(
        self,
        sample: RelativeSample,
        noise: NoiseModel,
        use_range: bool = True,
        use_rate: bool = True,
        leads: bool = True,
    ) -> bool:
        """Take one valid sample; give False where its time does not allow it.

        Parameters
        ----------
        sample : RelativeSample
            A sample at most 1 s older than the state is moved to the state's time by the
            state's own rates; an older one is not taken.
        noise : NoiseModel
            Of the sample's source.
        use_range, use_rate : bool
            False for a channel that is known to be bad (frozen, or contradicted by the other).
        leads : bool
            True where this source's range rate is the best at hand: manoeuvres are read from it,
            or from its range where the rate is bad.
        """
        late = 0.0
        if self.started:
            dt = sample.t - self.t
            if dt > RESTART_S:
                self.started = False
                self.first.clear()
            elif dt >= 0.0:
                self.predict(sample.t)
            elif dt >= -LATE_AT_MOST_S:
                late = -dt
            else:
                return False
        if not self.started:
            return self._begin(sample, noise)
        along = self.along
        if use_range:
            trend = leads and not use_rate
            along.take_range(sample.range_m + along.axis.v * late, noise, trend)
        if use_rate:
            along.take_rate(sample.range_rate_mps, noise, leads)
        self._take_lateral(sample, noise, late)
        self._take_angles(sample, noise, late)
        return True

    def _take_lateral(self, sample: RelativeSample, noise: NoiseModel, late: float) -> None:
        range_m, gain = self.along.axis.p, noise.gain_factor
        variance = noise.lateral.variance(range_m)
        gate, believe = variance * GATE_FACTOR, variance * gain
        y, z = self.y, self.z
        y.take_position(sample.y_m + y.v * late - y.p, gate, believe)
        z.take_position(sample.z_m + z.v * late - z.p, gate, believe)
        variance = noise.lateral_rate.variance(range_m)
        gate, believe = variance * GATE_FACTOR, variance * gain
        if sample.y_rate_mps is not None:
            y.take_rate(sample.y_rate_mps - y.v, gate, believe)
        if sample.z_rate_mps is not None:
            z.take_rate(sample.z_rate_mps - z.v, gate, believe)

    def _take_angles(self, sample: RelativeSample, noise: NoiseModel, late: float) -> None:
        range_m, gain = self.along.axis.p, noise.gain_factor
        variance = noise.angle.variance(range_m)
        gate, believe = variance * GATE_FACTOR, variance * gain
        rate_variance = noise.angle_rate.variance(range_m)
        rate_gate, rate_believe = rate_variance * GATE_FACTOR, rate_variance * gain
        for axis, angle, rate in (
            (self.roll, sample.roll_deg, sample.roll_rate_dps),
            (self.pitch, sample.pitch_deg, sample.pitch_rate_dps),
            (self.yaw, sample.yaw_deg, sample.yaw_rate_dps),
        ):
            residual = angle + axis.v * late - axis.p
            if not -180.0 <= residual < 180.0:
                residual = wrap_deg(residual)
            axis.take_position(residual, gate, believe)
            if rate is not None:
                axis.take_rate(rate - axis.v, rate_gate, rate_believe)

    def _begin(self, sample: RelativeSample, noise: NoiseModel) -> bool:
        first = self.first
        if first:
            step = sample.t - first[-1].t
            if step <= 0.0:
                return False
            if step > RESTART_S:
                first.clear()
        first.append(sample)
        if len(first) == FIRST_SAMPLES:
            self._start_from(first, noise)
            first.clear()
        return True

    def _start_from(self, first: list[RelativeSample], noise: NoiseModel) -> None:
        self.t = t = first[-1].t
        p = median([s.range_m + s.range_rate_mps * (t - s.t) for s in first])
        v = median([s.range_rate_mps for s in first])
        wide = START_SIGMAS * START_SIGMAS
        a, c = wide * noise.range.variance(p), wide * noise.range_rate.variance(p)
        self.along = Along(self.plan, Axis(p, v, a, c))
        a, c = wide * noise.lateral.variance(p), wide * noise.lateral_rate.variance(p)
        unknown = UNKNOWN_LATERAL_RATE_MPS**2
        rates = [s.y_rate_mps for s in first]
        self.y = _start_axis([s.y_m for s in first], rates, a, c, unknown)
        rates = [s.z_rate_mps for s in first]
        self.z = _start_axis([s.z_m for s in first], rates, a, c, unknown)
        a, c = wide * noise.angle.variance(p), wide * noise.angle_rate.variance(p)
        unknown = UNKNOWN_ANGLE_RATE_DPS**2
        for name in ("roll", "pitch", "yaw"):
            angles = [getattr(s, f"{name}_deg") for s in first]
            near = [angles[-1] + wrap_deg(angle - angles[-1]) for angle in angles]
            rates = [getattr(s, f"{name}_rate_dps") for s in first]
            setattr(self, name, _start_axis(near, rates, a, c, unknown))
        self.started = True


def _start_axis(
    positions: list[float], rates: list[float | None], a: float, c: float, unknown: float
) -> Axis:
    """Start an axis at the medians; without rates at rest with an ample rate variance."""
    known = [rate for rate in rates if rate is not None]
    if not known:
        return Axis(median(positions), 0.0, a, unknown)
    return Axis(median(positions), median(known), a, c)
