"""How the vehicle has lately been kept: running means and scatter of what its controller holds.

Under closed-loop control a straight-line forecast of lateral offset is useless; where the vehicle
has been on average is the better forecast of where it will be at contact, and its own scatter
about that mean tells how good.
"""

from __future__ import annotations

import math
from typing import Final

from console.tracking.filter import RelativeFilter

LATERAL_MEAN_S: Final = 40.0
ANGLE_MEAN_S: Final = 150.0
SCATTER_S: Final = 90.0
STEP_AT_LEAST_S: Final = 0.095
GAP_S: Final = 30.0


class Mean:
    """A running mean over an exponential window and the scatter about it.

    While less than the window has been seen the mean is that of all samples so far.
    """

    __slots__ = ("mean", "square")

    def __init__(self) -> None:
        self.mean = 0.0
        self.square = 0.0
        """Mean square deviation from the mean."""

    def take(self, value: float, weight: float, scatter_weight: float) -> None:
        """Take a value; the weights are the shares the new value has of mean and scatter.

        Notes
        -----
        Welford's update, "Note on a method for calculating corrected sums of squares and
        products", Technometrics 4(3), 1962, with fading weights; from memory.
        """
        deviation = value - self.mean
        self.mean += weight * deviation
        deviation *= value - self.mean
        self.square += scatter_weight * (deviation - self.square)

    @property
    def sigma(self) -> float:
        """1-sigma of the scatter."""
        return math.sqrt(max(self.square, 0.0))


class Habit:
    """Running means of a filter's lateral position and attitude, and mean squares of its rates."""

    __slots__ = (
        "pitch",
        "pitch_rate_square",
        "roll",
        "roll_rate_square",
        "seen_s",
        "t",
        "y",
        "y_rate_square",
        "yaw",
        "yaw_rate_square",
        "z",
        "z_rate_square",
    )

    def __init__(self) -> None:
        self.t = -math.inf
        self.seen_s = 0.0
        """Time over which the vehicle has been watched."""
        self.y, self.z = Mean(), Mean()
        self.roll, self.pitch, self.yaw = Mean(), Mean(), Mean()
        self.y_rate_square = self.z_rate_square = 0.0
        self.roll_rate_square = self.pitch_rate_square = self.yaw_rate_square = 0.0

    def take(self, state: RelativeFilter) -> None:
        """Take a filter's state, at most about ten times a second."""
        dt = state.t - self.t
        if dt < STEP_AT_LEAST_S:
            return
        if dt > GAP_S:
            self.seen_s = 0.0
            dt = STEP_AT_LEAST_S
        self.t = state.t
        self.seen_s += dt
        lateral = dt / min(LATERAL_MEAN_S, self.seen_s)
        angle = dt / min(ANGLE_MEAN_S, self.seen_s)
        scatter = dt / min(SCATTER_S, self.seen_s)
        self.y.take(state.y.p, lateral, scatter)
        self.z.take(state.z.p, lateral, scatter)
        self.roll.take(state.roll.p, angle, scatter)
        self.pitch.take(state.pitch.p, angle, scatter)
        self.yaw.take(state.yaw.p, angle, scatter)
        self.y_rate_square += scatter * (state.y.v**2 - self.y_rate_square)
        self.z_rate_square += scatter * (state.z.v**2 - self.z_rate_square)
        self.roll_rate_square += scatter * (state.roll.v**2 - self.roll_rate_square)
        self.pitch_rate_square += scatter * (state.pitch.v**2 - self.pitch_rate_square)
        self.yaw_rate_square += scatter * (state.yaw.v**2 - self.yaw_rate_square)
