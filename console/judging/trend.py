"""How soon a limit would be reached if its margin went on as in the last seconds.

Margins are averaged over half seconds, so that the cost does not grow with the sample rate, and a
straight line is put through the averages of the last five seconds. It is an extrapolation and
says nothing about why the margin shrinks, so it is given only where the line is clearly falling
and meets the limit within a minute.
"""

from __future__ import annotations

import math
from collections import deque

BIN_S = 0.5
WINDOW_S = 5.0
HORIZON_S = 60.0
"""Twelve times the window: what five seconds can be stretched to."""
LEAST_BINS = 5
SIGNIFICANCE = 3.0
"""Standard errors the slope must differ from zero by."""


class Trend:
    """The recent margin of one limit.

    Parameters
    ----------
    least_change : float
        A change over the window that means nothing, unit of the quantity: half the deadband,
        which is chosen as twice the noise.
    """

    __slots__ = ("_bins", "_is_fitted", "_least_change", "_line")

    def __init__(self, least_change: float) -> None:
        self._least_change = least_change
        self._bins: deque[tuple[float, float]] = deque(maxlen=int(WINDOW_S / BIN_S))
        self._line: tuple[float, float, float] | None = None
        self._is_fitted = True

    def add(self, t: float, margin: float) -> None:
        """Take the mean margin of the last half second and its mean time; times never fall."""
        self._bins.append((t, margin))
        self._is_fitted = False  # the line is worked out when somebody asks

    def clear(self) -> None:
        """Forget everything: after a gap the old margins say nothing."""
        self._bins.clear()
        self._line = None
        self._is_fitted = True

    def seconds_left(self, t: float) -> float | None:
        """Give the seconds from ``t`` until the margin is used up.

        Returns
        -------
        float or None
            0 if the line is past the limit already; None where the margin does not clearly
            shrink, or would last longer than a minute.
        """
        if not self._is_fitted:
            self._line = self._fitted()
            self._is_fitted = True
        if self._line is None:
            return None
        t_mean, margin_mean, slope = self._line
        if t - t_mean > WINDOW_S:
            return None
        left = -(margin_mean / slope) - (t - t_mean)
        return max(left, 0.0) if left <= HORIZON_S else None

    def _fitted(self) -> tuple[float, float, float] | None:
        """Give mean time, mean margin and slope of the falling line, or None.

        Notes
        -----
        Ordinary least squares; the slope's standard error is sqrt(SSR / (n-2) / Sxx) (Draper and
        Smith, "Applied Regression Analysis", 1.4; from memory).
        """
        newest_t = self._bins[-1][0]
        recent = [(t, margin) for t, margin in self._bins if newest_t - t <= WINDOW_S]
        n = len(recent)
        if n < LEAST_BINS:
            return None
        sum_t = sum_m = 0.0
        for t, margin in recent:
            sum_t += t
            sum_m += margin
        t_mean, m_mean = sum_t / n, sum_m / n
        s_tt = s_tm = 0.0
        for t, margin in recent:
            dt = t - t_mean
            s_tt += dt * dt
            s_tm += dt * (margin - m_mean)
        if s_tt <= 0.0 or s_tm >= 0.0:
            return None
        slope = s_tm / s_tt
        residual = 0.0
        for t, margin in recent:
            left = margin - m_mean - slope * (t - t_mean)
            residual += left * left
        error = math.sqrt(residual / (n - 2) / s_tt)
        if -slope <= SIGNIFICANCE * error or -slope * WINDOW_S < self._least_change:
            return None
        return t_mean, m_mean, slope
