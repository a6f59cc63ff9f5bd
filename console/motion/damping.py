"""Damping of the relative motion after contact: decrement, damping ratio, settling, and fits.

Two kinds of record are fitted. A *signed* one swings about an offset,
y = e^(-t/tau) (A cos wt + B sin wt) + c. A *size* is never negative, such as the length of a
velocity; its fit stands in ``console.motion.decay``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from console.motion.decay import LEAST_SAMPLES, fit_decay

Array = NDArray[np.float64]

LEAST_SNR = 5.0
LEAST_DECAYS = 1.0
_FREQUENCIES = 96
_DECAY_GUESSES = (0.125, 0.3, 0.7)
_PEAK_GAIN = 0.5  # an oscillation must explain this share of what a plain decay leaves over


def logarithmic_decrement(first: float, later: float, cycles: int = 1) -> float:
    """Give the logarithmic decrement from two peaks some cycles apart.

    Raises
    ------
    ValueError
        A peak is not positive, or there is no cycle between them.

    Notes
    -----
    delta = (1/n) ln(x_1/x_(n+1)) (den Hartog, *Mechanical Vibrations*, section 2.6; from memory).
    Poor where the damping ratio is above about 0.5, and wrong where the record has an offset.
    """
    if first <= 0.0 or later <= 0.0 or cycles < 1:
        raise ValueError("a decrement needs two peaks above 0 and at least one cycle between them")
    return math.log(first / later) / cycles


def damping_ratio(decrement: float) -> float:
    """Give the damping ratio of a decrement: zeta = delta / sqrt(4 pi^2 + delta^2).

    Notes
    -----
    den Hartog, section 2.6; from memory.
    """
    return decrement / math.sqrt(4.0 * math.pi**2 + decrement * decrement)


def decrement_of_ratio(ratio: float) -> float:
    """Give the decrement of a damping ratio under 1: delta = 2 pi zeta / sqrt(1 - zeta^2).

    Notes
    -----
    den Hartog, section 2.6; from memory.
    """
    return 2.0 * math.pi * ratio / math.sqrt(1.0 - ratio * ratio)


def natural_frequency_rad_per_s(damped_period_s: float, ratio: float) -> float:
    """Give the undamped frequency: w_n = w_d / sqrt(1 - zeta^2), w_d = 2 pi / T.

    Notes
    -----
    den Hartog, section 2.6; from memory.
    """
    return 2.0 * math.pi / damped_period_s / math.sqrt(1.0 - ratio * ratio)


def settling_s(share: float, ratio: float, frequency_rad_per_s: float) -> float:
    """Give the time in which the envelope falls to a share of its start, s.

    Notes
    -----
    t = -ln p / (zeta w_n): 2.9957, 3.9120, 4.6052 over zeta w_n for 5, 2 and 1 % (Ogata,
    *Modern Control Engineering*, section 5-3; from memory, where 3.9120 is rounded to 4).
    """
    return -math.log(share) / (ratio * frequency_rad_per_s)


@dataclass(frozen=True, slots=True)
class DampingFit:
    """A fitted decay; times in s from the first sample, values in the record's own unit.

    Attributes
    ----------
    decay_s, decay_sigma_s : float
        Time constant of the envelope and its 1-sigma.
    period_s : float or None
        Of the oscillation; None where a plain decay fits as well.
    amplitude : float
        Envelope at the first sample, without the offset.
    offset : float
        What remains in the end (0 for a size).
    noise : float
        1-sigma of what the fit leaves over.
    """

    decay_s: float
    decay_sigma_s: float
    period_s: float | None
    amplitude: float
    offset: float
    noise: float

    def envelope(self, t_s: float) -> float:
        """Give the envelope a time after the first sample, without the offset."""
        return self.amplitude * math.exp(-t_s / self.decay_s)

    def settles_s(self, level: float) -> float:
        """Give when the envelope falls to a level, s from the first sample; 0 if it is below."""
        if level <= 0.0:
            return math.inf
        return max(self.decay_s * math.log(self.amplitude / level), 0.0)


def fit_signed(t_s: ArrayLike, values: ArrayLike) -> DampingFit | None:
    """Fit a damped oscillation about an offset.

    Parameters
    ----------
    t_s, values : array_like, shape (n,)
        Times in s, rising, not necessarily even, and the record; all finite.

    Returns
    -------
    DampingFit or None
        None where nothing can be said: too few samples, a signal under 5 times the noise, or
        less than one time constant seen.

    Notes
    -----
    Variable projection (Golub, Pereyra, SIAM J. Numer. Anal. 10(2), 1973; from memory): only
    ln tau and ln w are searched, the linear terms follow by least squares at every step.
    """
    t = np.asarray(t_s, dtype=np.float64)
    y = np.asarray(values, dtype=np.float64)
    if t.size < LEAST_SAMPLES:
        return None
    solved = _search(t - t[0], y)
    if solved is None:
        return None
    tau, w, linear, noise, sigma = solved
    amplitude = math.hypot(linear[0], linear[1]) if w else abs(float(linear[0]))
    return _checked(
        DampingFit(
            tau, sigma, 2.0 * math.pi / w if w else None, amplitude, float(linear[-1]), noise
        ),
        float(t[-1] - t[0]),
        amplitude / noise if noise > 0.0 else math.inf,
    )


def fit_size(t_s: ArrayLike, sizes: ArrayLike) -> DampingFit | None:
    """Fit the decaying size of a motion all of whose components share one decay and period.

    Parameters
    ----------
    t_s, sizes : array_like, shape (n,)
        Times in s, rising, and the sizes, >= 0; all finite.

    Returns
    -------
    DampingFit or None
        Time constant, period and upper envelope of the motion itself (the size swings at half
        its period); None as for ``fit_signed``. ``console.motion.decay`` gives its bounds too.
    """
    found = fit_decay(t_s, sizes)
    if found is None or found.rate_per_s <= 0.0:
        return None
    decay_s = 1.0 / found.rate_per_s
    return _checked(
        DampingFit(
            decay_s,
            found.rate_sigma_per_s * decay_s * decay_s,
            found.period_s,
            found.amplitude,
            0.0,
            found.noise,
        ),
        found.seen_s,
        found.snr,
    )


def _checked(fit: DampingFit, seen_s: float, snr: float) -> DampingFit | None:
    usable = (
        math.isfinite(fit.decay_s)
        and math.isfinite(fit.decay_sigma_s)
        and snr >= LEAST_SNR
        and seen_s >= LEAST_DECAYS * fit.decay_s
    )
    return fit if usable else None


def _basis(t: Array, tau: float, w: float | None) -> Array:
    fall = np.exp(-t / tau)
    swing = [fall] if w is None else [fall * np.cos(w * t), fall * np.sin(w * t)]
    return np.column_stack([*swing, np.ones_like(t)])


def _left_over(t: Array, y: Array, tau: float, w: float | None) -> Array:
    basis = _basis(t, tau, w)
    linear = np.linalg.lstsq(basis, y, rcond=None)[0]
    return np.asarray(y - basis @ linear)


def _search(t: Array, y: Array) -> tuple[float, float | None, Array, float, float] | None:
    """Give decay, frequency, linear terms, noise and sigma of the decay; None: no fit at all."""
    span = float(t[-1])
    if span <= 0.0 or not np.any(y != y[0]):
        return None
    taus = [share * span for share in _DECAY_GUESSES]
    plain = min(taus, key=lambda tau: _power(_left_over(t, y, tau, None)))
    best = _refine(t, y, plain, None)
    step = float(np.median(np.diff(t)))
    grid = np.geomspace(2.0 * math.pi / span, 0.95 * math.pi / step, _FREQUENCIES)
    guesses = [(_power(_left_over(t, y, tau, w)), tau, w) for tau in taus for w in grid.tolist()]
    _, tau, w = min(guesses)
    swinging = _refine(t, y, tau, w)
    if swinging is not None and (best is None or swinging[3] < _PEAK_GAIN * best[3]):
        return swinging
    return best


def _power(left: Array) -> float:
    return float(left @ left)


def _refine(
    t: Array, y: Array, tau: float, w: float | None
) -> tuple[float, float | None, Array, float, float] | None:
    from scipy.optimize import least_squares

    start = [math.log(tau)] if w is None else [math.log(tau), math.log(w)]

    def left_over(logs: Array) -> Array:
        frequency = None if w is None else math.exp(logs[1])
        return _left_over(t, y, math.exp(min(max(logs[0], -20.0), 20.0)), frequency)

    found = least_squares(left_over, start, method="lm", max_nfev=200)
    free = t.size - len(start) - (2 if w is None else 3)
    if free <= 0 or not np.all(np.isfinite(found.x)):
        return None
    noise = math.sqrt(2.0 * float(found.cost) / free)
    jacobian: Array = np.asarray(found.jac, dtype=np.float64)
    curvature = jacobian.T @ jacobian
    if not np.linalg.det(curvature) > 0.0:
        return None
    log_sigma = noise * math.sqrt(float(np.linalg.inv(curvature)[0, 0]))
    fitted_tau = math.exp(float(found.x[0]))
    fitted_w = None if w is None else math.exp(float(found.x[1]))
    linear = np.linalg.lstsq(_basis(t, fitted_tau, fitted_w), y, rcond=None)[0]
    return fitted_tau, fitted_w, np.asarray(linear), noise, fitted_tau * log_sigma
