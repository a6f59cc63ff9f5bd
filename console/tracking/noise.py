"""What is known of one source's errors: white noise, slow noise, bias, and how often it speaks.

A source's declared noise is a floor. Where its samples scatter more than declared, the scatter is
measured from the steps between successive samples and the declared figures, biases included, are
raised by the same factor; a source that is worse than its papers is then trusted less instead of
raising false alarms. A source better than declared is not trusted more.
"""

from __future__ import annotations

import math

from console.envelope.setup import LinearSigma, SourceNoise

GATE_FACTOR = 1.25
"""Gate variance over white variance: the slow part (half the white sigma) added."""
SLOW_NOISE_S = 1.5
"""Gain inflation times the sample interval: 2 * 0.5^2 * 3 s, the slow part's share."""
DEFAULT_INTERVAL_S = 0.1
INTERVAL_MEMORY = 0.05
SCATTER_MEMORY = 0.01
SCATTER_CLIP = 4.0
SCATTER_EXPECTED = 0.92
"""Mean of min(x^2, 4) for a standard normal x, so that healthy noise gives a factor of 1."""
SCATTER_FLOOR = 0.25
SCATTER_MARGIN = 0.2
"""A measured factor counts only by what it exceeds 1.2 (it is itself uncertain)."""
LONGEST_STEP_S = 1.0
STEP_SHARE = 0.6
SCALE_ERROR = 0.001
"""1-sigma of the scale error of range and lateral position, a share."""


class Channel:
    """White noise of one channel of a source, and how far its real scatter exceeds it."""

    __slots__ = ("_at_zero", "_per_m", "_square", "factor")

    def __init__(self, declared: LinearSigma) -> None:
        self._at_zero = declared.at_zero
        self._per_m = declared.per_m
        self._square = 1.0
        self.factor = 1.0

    @property
    def square(self) -> float:
        """Mean square of the scatter, as a multiple of what is declared."""
        return self._square

    def variance(self, range_m: float) -> float:
        """Give the white variance at a range, raised where the scatter asks for it."""
        sigma = (self._at_zero + self._per_m * abs(range_m)) * self.factor
        return sigma * sigma

    def note_step(self, difference: float, range_m: float) -> None:
        """Take one step between successive samples, motion removed.

        Parameters
        ----------
        difference : float
            Newer minus older measurement minus the motion between them.
        range_m : float
            Where: a step has twice the white variance that :meth:`variance` gives there.

        Notes
        -----
        Variance from successive differences (von Neumann et al., "The mean square successive
        difference", Annals of Mathematical Statistics 12, 1941; from memory), clipped against
        outliers and followed by stochastic approximation (Robbins, Monro, the same 22, 1951;
        from memory).
        """
        square, factor = self._square, self.factor
        sigma = (self._at_zero + self._per_m * abs(range_m)) * factor
        ratio = difference * difference / (2.0 * (sigma * sigma)) * factor * factor / square
        if ratio > SCATTER_CLIP:
            ratio = SCATTER_CLIP
        square *= 1.0 + SCATTER_MEMORY * (ratio - SCATTER_EXPECTED)
        if square < SCATTER_FLOOR:
            square = SCATTER_FLOOR
        self._square = square
        if square > 1.0:
            self.factor = max(1.0, math.sqrt(square) - SCATTER_MARGIN)


class NoiseModel:
    """All channels of one source.

    Parameters
    ----------
    declared : SourceNoise
        What the setup says of it.
    """

    __slots__ = (
        "_interval_known",
        "angle",
        "angle_rate",
        "declared",
        "gain_factor",
        "interval_s",
        "lateral",
        "lateral_rate",
        "range",
        "range_rate",
        "step_m",
    )

    def __init__(self, declared: SourceNoise) -> None:
        self.declared = declared
        self.range = Channel(declared.range_m)
        self.range_rate = Channel(declared.range_rate_mps)
        self.lateral = Channel(declared.lateral_m)
        self.lateral_rate = Channel(declared.lateral_rate_mps)
        self.angle = Channel(declared.angle_deg)
        self.angle_rate = Channel(declared.angle_rate_dps)
        self.interval_s = DEFAULT_INTERVAL_S
        self._interval_known = False
        self.gain_factor = self._gain_factor()
        """Gain variance over white variance."""
        self.step_m = 0.0
        """Sum of the steps range has made against its own rate, not cleared up since."""

    def note_interval(self, dt_s: float) -> None:
        """Take the time between two successive samples (a gap does not count)."""
        if not self._interval_known:
            self.interval_s = dt_s
            self._interval_known = True
        elif dt_s < LONGEST_STEP_S or dt_s < 2.0 * self.interval_s:
            self.interval_s += INTERVAL_MEMORY * (dt_s - self.interval_s)
        else:
            self.interval_s += INTERVAL_MEMORY * self.interval_s
        self.gain_factor = self._gain_factor()

    def _gain_factor(self) -> float:
        """Give gain variance over white variance.

        Notes
        -----
        For noise with autocorrelation rho_k the mean of many samples has the variance that
        white noise of sigma^2 (1 + 2 sum rho_k) would leave. A slow part of half the white
        sigma and 3 s gives 1 + 1.5 s / interval: 16 at 10 samples a second (Bartlett's
        formula; Priestley, *Spectral Analysis and Time Series*, 1981, section 5.3.2; from
        memory).
        """
        return 1.0 + SLOW_NOISE_S / self.interval_s

    @property
    def range_bias_m(self) -> float:
        """1-sigma of the source's fixed range error, m."""
        return self.declared.range_bias_m * self.range.factor

    @property
    def range_doubt_m(self) -> float:
        """The same with what range has stepped by.

        Nothing tells a lone source's range before a step from that after it, so the bounds cover
        both (1.96 times 0.6 of the step).
        """
        return math.hypot(self.range_bias_m, STEP_SHARE * self.step_m)

    @property
    def range_rate_bias_mps(self) -> float:
        """1-sigma of the source's fixed range-rate error, m/s."""
        return self.declared.range_rate_bias_mps * self.range_rate.factor

    @property
    def lateral_bias_m(self) -> float:
        """1-sigma of the source's fixed lateral error on one axis, m."""
        return self.declared.lateral_bias_m * self.lateral.factor

    @property
    def lateral_rate_bias_mps(self) -> float:
        """1-sigma of the source's fixed lateral-rate error on one axis, m/s."""
        return self.declared.lateral_rate_bias_mps * self.lateral_rate.factor
