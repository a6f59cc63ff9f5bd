"""How well a decay time can be known at all: the Cramer-Rao bound for the size of a motion.

For a signal s(t; theta) in white normal noise of 1-sigma sigma the information is ::

    I_ij = 1/sigma^2  sum over samples  (ds/dtheta_i) (ds/dtheta_j)

and no unbiased estimate of theta_i has a variance below (I^-1)_ii (Kay, *Fundamentals of
Statistical Signal Processing: Estimation Theory*, 1993, chapter 3; from memory). The size of a
motion along one axis is e^(-rate t) A |cos(wt - phase)|, four numbers; that of any other is
e^(-rate t) sqrt(M + A cos 2wt + B sin 2wt), five. That noise is folded where a size touches zero
only takes information away, so the bound holds there too.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Motion:
    """A decaying swing: cosine and sine amplitudes of each axis, shape (axes, 2)."""

    decay_s: float
    w: float
    swing: Array

    def size(self, t: Array) -> Array:
        """Give the size without noise, shape (n,)."""
        moved = np.outer(np.cos(self.w * t), self.swing[:, 0])
        moved = moved + np.outer(np.sin(self.w * t), self.swing[:, 1])
        return np.asarray(np.linalg.norm(np.exp(-t / self.decay_s)[:, None] * moved, axis=1))

    def _derivatives(self, t: Array) -> Array:
        """Give the size's derivatives, that by the rate first, shape (n, 4) or (n, 5)."""
        fall = np.exp(-t / self.decay_s)
        cos, sin = np.cos(self.w * t), np.sin(self.w * t)
        if len(self.swing) == 1:  # signed: the size is its absolute value
            a, b = self.swing[0]
            value, turned = fall * (a * cos + b * sin), fall * (b * cos - a * sin)
            return np.column_stack([-t * value, t * turned, fall * cos, fall * sin])
        gram = self.swing.T @ self.swing
        square = gram[0, 0] * cos**2 + gram[1, 1] * sin**2 + 2.0 * gram[0, 1] * cos * sin
        turned = (gram[1, 1] - gram[0, 0]) * cos * sin + gram[0, 1] * (cos**2 - sin**2)
        root = np.sqrt(square)
        by_square = 0.5 * fall / root
        columns = [-t * fall * root, t * fall * turned / root]
        columns += [by_square, by_square * (cos**2 - sin**2), by_square * 2.0 * cos * sin]
        return np.column_stack(columns)

    def least_share(self, t: Array, sigma: float, *, knows_all_else: bool = False) -> float:
        """Give the least 1-sigma of an unbiased decay time, as a share of it.

        Parameters
        ----------
        t : ndarray, shape (n,)
            When the size is sampled, s.
        sigma : float
            Noise of a sample.
        knows_all_else : bool
            Amplitude, period and phase are known beforehand, and the decay alone is sought.
        """
        by = self._derivatives(t)
        if knows_all_else:
            by = by[:, :1]
        scale = np.sqrt((by * by).sum(axis=0))
        inverse = np.linalg.inv((by / scale).T @ (by / scale))
        return float(self.decay_s * sigma / scale[0] * math.sqrt(inverse[0, 0]))


def least_quantile(sigmas: list[float], share: float = 0.95) -> float:
    """Give the size that a share of errors stays below, normal ones of many 1-sigmas together."""
    low, high = 0.0, 10.0 * max(sigmas)
    for _ in range(60):
        middle = 0.5 * (low + high)
        inside = np.mean([math.erf(middle / (sigma * math.sqrt(2.0))) for sigma in sigmas])
        low, high = (middle, high) if inside < share else (low, middle)
    return high
