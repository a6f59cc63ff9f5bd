"""Reading a filter's state out: at any time, as an estimate, and once for several answers."""

from __future__ import annotations

import math

import numpy as np

from console.core.ids import SourceId
from console.motion.drift import DriftOutcome
from console.tracking.along import Along, steps_to
from console.tracking.contact_set import Array
from console.tracking.contact_time import AlongNow
from console.tracking.filter import RelativeFilter, wrap_deg
from console.tracking.noise import SCALE_ERROR, NoiseModel
from console.tracking.outlook import Countdown, Estimate, Motion
from console.tracking.plan import Course
from console.tracking.track import RATE_BIAS_SHARE


class Cache:
    """What answers for one time share; forgotten at the next sample."""

    __slots__ = (
        "countdowns",
        "courses",
        "drift",
        "estimate",
        "motion",
        "now",
        "settled",
        "sources",
        "state",
        "t",
        "voices",
    )

    def __init__(self) -> None:
        self.clear()

    def clear(self) -> None:
        """Forget everything."""
        self.t: float | None = None
        self.state: RelativeFilter | None = None
        self.now: AlongNow | None = None
        self.voices: list[AlongNow] | None = None
        self.countdowns: dict[float, Countdown] = {}
        self.courses: tuple[Course, ...] | None = None
        """Along the closing law from outside the knee; empty inside it."""
        self.motion: Motion | None = None
        self.drift: DriftOutcome | None = None
        self.settled: AlongNow | None = None
        self.estimate: Estimate | None = None
        self.sources: dict[SourceId, tuple[float, Estimate]] = {}


def carried(state: RelativeFilter, t: float) -> RelativeFilter:
    """Give a filter's state at a time: itself where it stands there or later, else a copy."""
    if t <= state.t:
        return state
    later = state.copy()
    later.predict(t)
    return later


def start_of(now: AlongNow, state: RelativeFilter) -> Array:
    """Give position and velocity in the port frame, shape (6,), m and m/s."""
    return np.array([now.p, state.y.p, state.z.p, now.v, state.y.v, state.z.v])


def along_at(along: Along, at: float, t: float) -> Along:
    """Give a range axis that stands at time ``at`` at a later one (itself where that is not)."""
    if t <= at:
        return along
    along = along.copy()
    for dt in steps_to(at, t):
        along.step(dt)
    return along


def estimate_of(state: RelativeFilter, noise: NoiseModel) -> Estimate:
    """Turn a filter's state into an estimate, fixed errors of its best source included."""
    x = state.along.axis
    y, z = state.y, state.z
    roll, pitch, yaw = state.roll, state.pitch, state.yaw
    scale_m = SCALE_ERROR * x.p
    sqrt = math.sqrt
    return Estimate(
        range_m=x.p,
        range_sigma_m=root_sum(sqrt(x.a), noise.range_doubt_m, scale_m),
        closing_rate_mps=-x.v,
        closing_sigma_mps=root_sum(sqrt(x.c), noise.range_rate_bias_mps * RATE_BIAS_SHARE),
        y_m=y.p,
        z_m=z.p,
        lateral_sigma_m=root_sum(sqrt(max(y.a, z.a)), noise.lateral_bias_m),
        y_rate_mps=y.v,
        z_rate_mps=z.v,
        lateral_rate_sigma_mps=root_sum(sqrt(max(y.c, z.c)), noise.lateral_rate_bias_mps),
        roll_deg=wrap_deg(roll.p),
        pitch_deg=wrap_deg(pitch.p),
        yaw_deg=wrap_deg(yaw.p),
        angle_sigma_deg=sqrt(max(roll.a, pitch.a, yaw.a)),
        roll_rate_dps=roll.v,
        pitch_rate_dps=pitch.v,
        yaw_rate_dps=yaw.v,
        angle_rate_sigma_dps=sqrt(max(roll.c, pitch.c, yaw.c)),
    )


def root_sum(first: float, second: float, third: float = 0.0) -> float:
    """Give the root of the sum of squares."""
    return math.sqrt(first * first + second * second + third * third)
