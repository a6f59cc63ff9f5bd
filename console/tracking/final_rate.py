"""The final rate the vehicle is really heading for, learned from how its speed falls with range.

Outside the knee the final rate is the greatest unknown of all countdowns: a tenth of it is twenty
seconds. But the closing law is a straight line of speed over range, so the line through what has
been flown so far, carried on to the knee, tells the final rate long before it is reached. It
starts from the plan with an ample doubt and remembers what it learned through a hold. A vehicle
that slows to a hold outside the knee flies a line that leads to rest far from contact: it tells
nothing of the rate at contact, so what is learned is kept above a share of the plan.
"""

from __future__ import annotations

import math
from typing import Final

from console.tracking.plan import KNEE_BAND_M, ClosingPlan

PRIOR_RATE_MPS: Final = 0.015
"""1-sigma of the final rate about the plan before anything is known."""
PRIOR_SLOPE_PER_S: Final = 0.003
MISFIT_MPS: Final = 0.003
"""The controller's rate dead band: the speed rides anywhere within it."""
MEMORY_M: Final = 120.0
"""Range over which what was flown is forgotten: the line need only be straight that far."""
STEADY_M: Final = 1.0
GATE_SIGMAS: Final = 4.0
OFF_LINE_S: Final = 20.0
"""Steady closing off the line for so long begins a new line."""
SLOWEST_MPS: Final = 0.02
LEAST_SHARE: Final = 1.0 / 3.0
"""Of the planned rate at the knee; a line that leads below it is one to a hold."""


class FinalRate:
    """A weighted line of closing rate over range outside the knee, with the plan as its prior.

    Parameters
    ----------
    plan : ClosingPlan
        Knee, planned rate there, and the straight piece of the plan outside it.
    """

    __slots__ = (
        "_off_line_s",
        "_plan",
        "_range_m",
        "_sw",
        "_swu",
        "_swuu",
        "_swuv",
        "_swv",
        "mean_mps",
        "sigma_mps",
        "slope_per_s",
    )

    def __init__(self, plan: ClosingPlan) -> None:
        self._plan = plan
        self._restart()

    def _restart(self) -> None:
        self._sw = self._swu = self._swuu = self._swv = self._swuv = 0.0
        self._range_m = math.inf
        self._off_line_s = 0.0
        self.mean_mps = self._plan.knee_rate_mps
        self.sigma_mps = PRIOR_RATE_MPS
        self.slope_per_s = self._plan.outer_slope_per_s

    def take(
        self, range_m: float, speed_mps: float, white: float, gain_factor: float, dt_s: float
    ) -> None:
        """Take the closing rate at a range.

        Parameters
        ----------
        range_m : float
            Estimated range.
        speed_mps : float
            Measured closing rate (not the filter's: that is smoothed along the plan).
        white, gain_factor : float
            Its white variance, and what the slow noise raises it by in an average.
        dt_s : float
            Time since the sample before.

        Notes
        -----
        Bayesian linear regression with two parameters (Gelman et al., *Bayesian Data Analysis*,
        section 14.8; from memory), older samples forgotten exponentially over range.
        """
        u = range_m - self._plan.knee_m
        variance = white * gain_factor
        outside = u < KNEE_BAND_M + STEADY_M or range_m > self._plan.straight_to_m
        if outside or speed_mps < SLOWEST_MPS:
            return
        expected = self.mean_mps + self.slope_per_s * u
        slope_share = PRIOR_SLOPE_PER_S * u
        spread = self.sigma_mps**2 + slope_share * slope_share / (1.0 + self._sw * variance)
        if (speed_mps - expected) ** 2 > GATE_SIGMAS**2 * (white + spread):
            self._off_line_s += dt_s
            if self._off_line_s > OFF_LINE_S:
                self._restart()
            return
        self._off_line_s = max(self._off_line_s - dt_s, 0.0)
        gone = min(abs(self._range_m - range_m), MEMORY_M) if self._sw else 0.0
        keep = math.exp(-gone / MEMORY_M)
        self._range_m = range_m
        w = 1.0 / variance
        self._sw = keep * self._sw + w
        self._swu = keep * self._swu + w * u
        self._swuu = keep * self._swuu + w * u * u
        self._swv = keep * self._swv + w * speed_mps
        self._swuv = keep * self._swuv + w * u * speed_mps
        self._solve()

    def _solve(self) -> None:
        p_rate, p_slope = PRIOR_RATE_MPS**-2, PRIOR_SLOPE_PER_S**-2
        a, b, c = self._sw + p_rate, self._swu, self._swuu + p_slope
        rate = self._swv + p_rate * self._plan.knee_rate_mps
        slope = self._swuv + p_slope * self._plan.outer_slope_per_s
        determinant = a * c - b * b
        least = LEAST_SHARE * self._plan.knee_rate_mps
        self.mean_mps = max((c * rate - b * slope) / determinant, least)
        self.slope_per_s = (a * slope - b * rate) / determinant
        variance = c / determinant
        misfit = MISFIT_MPS * MISFIT_MPS
        self.sigma_mps = math.sqrt(min(variance + misfit, PRIOR_RATE_MPS**2))
