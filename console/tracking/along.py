"""Range and range rate: the axis that follows the closing law and shows manoeuvres.

Used whole in every filter, and alone, on range measurements only, as the independent witness: a
wrong range rate is the most dangerous fault there is (time to contact goes wrong by its share of
the speed), and the witness cannot be led astray by it.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from statistics import median
from typing import Final

from console.core.records import RelativeSample
from console.tracking.axis import Axis
from console.tracking.contact_time import LAG_ERROR_S
from console.tracking.noise import GATE_FACTOR, NoiseModel
from console.tracking.plan import ClosingPlan

RANGE_Q: Final = 1.0e-7  # m^2/s^3
RANGE_Q_FAST: Final = 2e-4  # m^2/s^3 for each (m/s)^2 above the slow speed
SLOW_MPS: Final = 0.1
MANOEUVRE_Q: Final = 1e-3  # m^2/s^3 while a manoeuvre shows
MANOEUVRE_TREND: Final = 2.5
SETTLED_TREND: Final = 0.5
"""A manoeuvre that has shown is over when the trend is back under this."""
TREND_S: Final = 0.9
TREND_CLIP: Final = 5.0
TREND_SHARE: Final = 0.25
"""No single sample of a slow source has more weight: a manoeuvre takes three to show."""
LAG_S: Final = 15.0
BEND_SHARE: Final = 0.25
"""Of the rate's 1-sigma."""
PUSH_S: Final = 2.0
RESTART_S: Final = 60.0
STEP_AT_MOST_S: Final = 1.0
COAST_AT_MOST_S: Final = 3600.0
"""Of a longer time only an hour is stepped through: nothing is known by then, and a clock that
leaps by years would stop the watch for hours."""
WITNESS_BASE_S: Final = 5.0
WITNESS_ENDS: Final = 5
WITNESS_SAMPLES_AT_MOST: Final = 256


def steps_to(at: float, t: float) -> Sequence[float]:
    """Give the time steps that carry a state from one time to a later one.

    Each is of a second at most; of a time longer than :data:`COAST_AT_MOST_S` the last part alone.
    """
    rest = t - at
    if rest <= STEP_AT_MOST_S:  # nearly always: nothing else is worked out
        return (rest,)
    steps = []
    at = max(at, t - COAST_AT_MOST_S)
    while (rest := t - at) > STEP_AT_MOST_S:
        steps.append(STEP_AT_MOST_S)
        at += STEP_AT_MOST_S
    return (*steps, rest)


class Along:
    """Range axis with its feed-forward and its manoeuvre boost.

    Parameters
    ----------
    plan : ClosingPlan
        The law range is expected to follow.
    axis : Axis
        Its start.
    """

    __slots__ = ("axis", "is_told", "lag_mps2", "manoeuvring", "plan", "push", "trend")

    def __init__(self, plan: ClosingPlan, axis: Axis) -> None:
        self.plan = plan
        self.axis = axis
        self.trend = 0.0
        """Smoothed normalised innovation of the channel that shows manoeuvres."""
        self.manoeuvring = False
        self.is_told = False
        """Whether another source shows a manoeuvre: a slow or noisy one sees it late, and lags."""
        self.lag_mps2 = 0.0
        """Expected deceleration, low-passed over 15 s: the size of the model's own error."""
        self.push = 0.0
        """1 while the vehicle is being pushed toward the port, then fading over some seconds."""

    def copy(self) -> Along:
        """Give an independent one of the same state."""
        twin = Along(self.plan, self.axis.copy())
        twin.manoeuvring, twin.is_told = self.manoeuvring, self.is_told
        twin.trend, twin.lag_mps2, twin.push = self.trend, self.lag_mps2, self.push
        return twin

    @property
    def bends(self) -> bool:
        """Tell whether the state may be pulled off by more than a share of its own doubt.

        By a manoeuvre, or by what the expected deceleration may be wrong by: a vehicle that heads
        for another final rate than planned slows otherwise than its filter is told.
        """
        model = LAG_ERROR_S * self.lag_mps2
        if self.manoeuvring or self.is_told:
            return True
        return model * model > BEND_SHARE * BEND_SHARE * self.axis.c

    def step(self, dt: float) -> None:
        """Carry range and rate forward by at most a second along the closing law.

        Notes
        -----
        Process noise is raised while a manoeuvre shows (adjustable level of process noise:
        Bar-Shalom, Li, Kirubarajan, "Estimation with Applications to Tracking and Navigation",
        2001, section 11.2.2; from memory).
        """
        x = self.axis
        speed = -x.v
        q, brake = RANGE_Q, 0.0
        if speed > 0.0:
            brake = self.plan.deceleration(x.p, speed)
        excess = abs(speed) - SLOW_MPS
        if excess > 0.0:
            q += RANGE_Q_FAST * excess * excess
        if self.manoeuvring or self.is_told:
            q += MANOEUVRE_Q
        x.predict(dt, q, brake)
        self.lag_mps2 += (brake - self.lag_mps2) * dt / (dt + LAG_S)
        self.push *= PUSH_S / (dt + PUSH_S)

    def take_range(self, range_m: float, noise: NoiseModel, trend: bool = False) -> bool:
        """Update by a range moved to the state's time; True where it was believed."""
        x = self.axis
        variance = noise.range.variance(x.p)
        residual = range_m - x.p
        if trend:
            self.note_trend(residual, x.a + variance * GATE_FACTOR, noise.interval_s)
        return x.take_position(residual, variance * GATE_FACTOR, variance * noise.gain_factor)

    def take_rate(self, rate_mps: float, noise: NoiseModel, trend: bool = True) -> bool:
        """Update by a range rate; True where it was believed."""
        x = self.axis
        variance = noise.range_rate.variance(x.p)
        residual = rate_mps - x.v
        if trend:
            self.note_trend(residual, x.c + variance * GATE_FACTOR, noise.interval_s)
        return x.take_rate(residual, variance * GATE_FACTOR, variance * noise.gain_factor)

    def note_trend(self, residual: float, variance: float, interval_s: float) -> None:
        """Follow normalised innovations, rejected ones too: a lasting sign is a manoeuvre.

        Notes
        -----
        A fading mean of innovation over its sigma (Bar-Shalom, Li, Kirubarajan 2001, section
        11.2.2, from memory, where its square is followed; the sign tells braking from a push).
        """
        normal = residual / math.sqrt(variance)
        if abs(normal) > TREND_CLIP:
            normal = math.copysign(TREND_CLIP, normal)
        weight = interval_s / (interval_s + TREND_S)
        trend = self.trend
        trend += (normal - trend) * min(weight, TREND_SHARE)
        self.trend = trend
        self.manoeuvring = abs(trend) > (SETTLED_TREND if self.manoeuvring else MANOEUVRE_TREND)
        if self.manoeuvring and trend < 0.0:
            self.push = 1.0


class RangeWitness:
    """A source's range channel filtered alone, blind to its range rate."""

    __slots__ = ("_first", "along", "plan", "t")

    def __init__(self, plan: ClosingPlan) -> None:
        self.plan = plan
        self.along: Along | None = None
        self.t = -math.inf
        self._first: deque[RelativeSample] = deque(maxlen=WITNESS_SAMPLES_AT_MOST)

    def take(self, sample: RelativeSample, noise: NoiseModel) -> None:
        """Take one valid sample; one not newer than the last is dropped.

        Starts from the medians of the first and last five samples of the first 5 s, because a
        rate taken from a shorter piece of range is hundreds of mm/s off at long range.
        """
        dt = sample.t - self.t
        if self.along is None or dt > RESTART_S:
            self._begin(sample, noise)
            return
        if dt <= 0.0:
            return
        self.predict(sample.t)
        self.along.take_range(sample.range_m, noise, trend=True)

    def predict(self, t: float) -> None:
        """Carry the state to a later time."""
        along = self.along
        if along is not None and self.t < t:
            for dt in steps_to(self.t, t):
                along.step(dt)
            self.t = t

    def _begin(self, sample: RelativeSample, noise: NoiseModel) -> None:
        first = self._first
        self.along = None
        if first:
            step = sample.t - first[-1].t
            if step <= 0.0:
                return
            if step > RESTART_S:
                first.clear()
        # At most some fifty a second are kept: enough, and the memory stays bounded.
        if not first or sample.t - first[-1].t >= WITNESS_BASE_S / WITNESS_SAMPLES_AT_MOST:
            first.append(sample)
        if sample.t - first[0].t < WITNESS_BASE_S or len(first) < WITNESS_ENDS:
            return
        early, newest = list(first)[:WITNESS_ENDS], list(first)[-WITNESS_ENDS:]
        base = median(s.t for s in newest) - median(s.t for s in early)
        p = median(s.range_m for s in newest)
        v = (p - median(s.range_m for s in early)) / base if base > 0.0 else 0.0
        self.t = median(s.t for s in newest)
        variance = noise.range.variance(p) * 2.0
        self.along = Along(self.plan, Axis(p, v, variance, 4.0 * variance / max(base, 1.0) ** 2))
        self.predict(sample.t)
        first.clear()
