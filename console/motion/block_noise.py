"""How the noise of block means of a leak check's record goes together.

Three kinds of noise are told apart. White noise of pressure, which a lag filter smears over its
time constant; white noise of temperature; and an excess that is correlated over some time, whose
size and correlation time the record itself must show. Each gives a covariance of the block means
of a record cut into equal blocks.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

BLOCKS = 20
_APART = np.abs(np.subtract.outer(np.arange(BLOCKS), np.arange(BLOCKS)))
_TOO_SHORT = 60.0
"""Blocks this many correlation times long are as good as independent."""


@dataclass(frozen=True, slots=True)
class SampleNoise:
    """White noise of a record's samples, both as pressure at constant temperature, Pa.

    Attributes
    ----------
    rate_hz : float
        Samples a second.
    lag_s : float
        Time constant of the filter that pressure went through; 0 for none.
    """

    pressure_pa: float
    temperature_pa: float
    rate_hz: float
    lag_s: float

    def of_blocks(self, span_s: float) -> Array:
        """Give the covariance of block means of a record of a length, Pa^2, shape (20, 20)."""
        each = self.rate_hz * span_s / BLOCKS
        temperature = np.eye(BLOCKS) * (self.temperature_pa**2 / each)
        if self.lag_s <= 0.0:
            return np.asarray(temperature + np.eye(BLOCKS) * (self.pressure_pa**2 / each))
        # white noise through a first-order lag: correlated as e^(-t/lag), of variance S/(2 lag)
        # (Gardiner, Handbook of Stochastic Methods, section 3.8.4; from memory)
        variance = self.pressure_pa**2 / (2.0 * self.lag_s * self.rate_hz)
        share, shape = correlated(span_s / BLOCKS / self.lag_s)
        return np.asarray(temperature + variance * share * shape)


def correlated(block_lengths: float) -> tuple[float, Array]:
    """Give variance and correlations of block means of noise correlated as e^(-t/time).

    Parameters
    ----------
    block_lengths : float
        Length of a block in correlation times, > 0.

    Returns
    -------
    share, shape : float, ndarray of shape (20, 20)
        Variance of a block mean as a share of that of a single value, and the correlations.

    Notes
    -----
    Integrals of e^(-|s - t|) over two blocks: the variance function of exponentially correlated
    noise (Vanmarcke, *Random Fields: Analysis and Synthesis*, 1983, section 5.1; from memory).
    """
    share = 2.0 * (block_lengths - 1.0 + math.exp(-block_lengths)) / block_lengths**2
    if block_lengths < 1e-3:
        share = 1.0  # the expression above loses all digits
    shape = np.eye(BLOCKS)
    if block_lengths < _TOO_SHORT:
        between = (2.0 * math.sinh(block_lengths / 2.0) / block_lengths) ** 2 / share
        shape = np.where(_APART == 0, 1.0, between * np.exp(-block_lengths * _APART))
    return share, np.asarray(shape)


def roughness(values: Array) -> float:
    """Give the 1-sigma of white noise on slowly changing values: from successive differences.

    Notes
    -----
    von Neumann et al., "The mean square successive difference", Ann. Math. Stat. 12, 1941.
    """
    steps = np.diff(values)
    return math.sqrt(float(steps @ steps) / (2.0 * steps.size))
