"""The decaying size of a motion: fitted decay, envelope, and when it falls to a level.

A size is never negative, such as the length of a velocity. Where every component of the motion
has the same decay and period, its square is ::

    g(t) = e^(-2 rate t) (M + A cos wt + B sin wt),    w = twice the motion's own frequency

and white noise n on the size makes of the square (size + n)^2 a mean g + s^2 and a variance
4 g s^2 + 2 s^4, s the noise's 1-sigma. So squares are fitted, each weighted by its own variance:
the cusps where a swinging size touches zero, and the folding of noise there, need no special
care (moments of a squared normal value: the non-central chi-square of one degree of freedom,
Johnson, Kotz, *Continuous Univariate Distributions* 2, chapter 28; from memory). Five numbers are
fitted by Gauss-Newton steps with Levenberg's damping (Levenberg, Quarterly of Applied Mathematics
2, 1944; Marquardt, SIAM Journal 11(2), 1963; from memory); the decay is sought as a rate, which
passes through zero smoothly where motion does not die at all.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy import fft
from numpy.typing import ArrayLike, NDArray

from console.core.normal import Z_95

Array = NDArray[np.float64]

LEAST_SAMPLES = 12
_BLOCKS = 8
_PEAKS = 2
_STEPS = 25
_MOST_FOLDS = 20.0
"""The envelope may change by e to this power over a record; beyond it nothing is fitted."""
_LEAST_GAIN = 6.0
"""What an oscillation must add to the log-likelihood for its three more numbers."""
_AS_WELL = 1.2
"""Noise that has grown by no more than this: the fit of a shorter record still holds."""
_LEAST_VARIANCE = 1e-8
"""Of the noise, as a share of the largest square: exact records would divide by zero."""


@dataclass(frozen=True, slots=True)
class Crossing:
    """When an envelope falls to a level, s from the first sample, with 95 % bounds.

    ``high_s`` None: the late bound is open. ``best_s`` None: on the best estimate it never falls.
    """

    best_s: float | None
    low_s: float | None
    high_s: float | None


@dataclass(frozen=True, slots=True)
class SizeDecay:
    """A fitted size; times in s from the first sample.

    Attributes
    ----------
    rate_per_s, rate_sigma_per_s : float
        Decay rate of the motion's envelope and its 1-sigma; negative where motion grows.
    amplitude : float
        Upper envelope at the first sample, in the record's unit.
    log_amplitude_sigma, covariance_per_s : float
        1-sigma of its logarithm, and the covariance of that with the rate.
    period_s : float or None
        Of the motion (the size swings twice as fast); None where a plain decay fits as well.
    noise : float
        1-sigma of the size's white noise.
    seen_s : float
        Length of the record.
    """

    rate_per_s: float
    rate_sigma_per_s: float
    amplitude: float
    log_amplitude_sigma: float
    covariance_per_s: float
    period_s: float | None
    noise: float
    seen_s: float

    @property
    def snr(self) -> float:
        """Envelope at the start over the noise."""
        return self.amplitude / self.noise if self.noise > 0.0 else math.inf

    @property
    def decays_seen(self) -> float:
        """How many decay times the record spans; 0 where motion does not die."""
        return max(self.rate_per_s * self.seen_s, 0.0)

    def envelope(self, t_s: float) -> float:
        """Give the envelope a time after the first sample."""
        return self.amplitude * math.exp(-self.rate_per_s * t_s)

    def decay_s(self) -> Crossing:
        """Give the time constant with its 95 % bounds."""
        doubt = Z_95 * self.rate_sigma_per_s
        slowest, fastest = self.rate_per_s - doubt, self.rate_per_s + doubt
        return Crossing(_inverse(self.rate_per_s), _inverse(fastest), _inverse(slowest))

    def falls_to(self, level: float) -> Crossing:
        """Give when the envelope falls to a level, > 0; before 0 if it began below.

        Notes
        -----
        The times at which ln(envelope) and ln(level) differ by no more than 1.96 of their common
        1-sigma (Fieller, "Some problems in interval estimation", J. R. Stat. Soc. B 16, 1954;
        from memory): a quadratic, open to the late side where the rate may be zero.
        """
        excess = math.log(self.amplitude / level)
        zz = Z_95 * Z_95
        square = self.rate_per_s**2 - zz * self.rate_sigma_per_s**2
        half = excess * self.rate_per_s - zz * self.covariance_per_s
        rest = excess * excess - zz * self.log_amplitude_sigma**2
        best = excess / self.rate_per_s if self.rate_per_s > 0.0 else None
        root = math.sqrt(max(half * half - square * rest, 0.0))
        if self.rate_per_s > 0.0 and square > 0.0:
            return Crossing(best, (half - root) / square, (half + root) / square)
        if self.rate_per_s + Z_95 * self.rate_sigma_per_s <= 0.0:
            return Crossing(None, None, None)
        # of the two roots only the early one is a bound: the set is open to the late side
        low = rest / (half + root) if half + root > 0.0 else None
        return Crossing(best, low, None)


@dataclass(slots=True)
class _Point:
    """Where a search stands: decay rate, frequency (None: plain decay), linear terms, noise."""

    rate: float
    w: float | None
    linear: Array
    variance: float

    def columns(self, t: Array) -> Array:
        """Give the three terms (one for a plain decay) at times, shape (n, 3) or (n, 1)."""
        fall = np.exp(-2.0 * self.rate * t)
        if self.w is None:
            return fall[:, None]
        return np.column_stack([fall, fall * np.cos(self.w * t), fall * np.sin(self.w * t)])

    def jacobian(self, t: Array, columns: Array, g: Array) -> Array:
        """Give the derivatives by rate, frequency and linear terms, shape (n, 5) or (n, 2)."""
        if self.w is None:
            return np.column_stack([-2.0 * t * g, columns])
        turn = t * (self.linear[2] * columns[:, 1] - self.linear[1] * columns[:, 2])
        return np.column_stack([-2.0 * t * g, turn, columns])

    def moved(self, step: Array) -> _Point:
        """Give the point a step away."""
        if self.w is None:
            return _Point(self.rate + float(step[0]), None, self.linear + step[1:], self.variance)
        w = self.w + float(step[1])
        return _Point(self.rate + float(step[0]), w, self.linear + step[2:], self.variance)


@dataclass(frozen=True, slots=True)
class _Found:
    """The end of a search, with the covariance of its numbers and its log-likelihood."""

    point: _Point
    covariance: Array
    likelihood: float


def fit_decay(
    t_s: ArrayLike, sizes: ArrayLike, before: SizeDecay | None = None
) -> SizeDecay | None:
    """Fit the decaying size of a motion all of whose components share one decay and period.

    Parameters
    ----------
    t_s, sizes : array_like, shape (n,)
        Times in s, rising, not necessarily even, and the sizes; all finite. Of a negative one, as
        a sender with signed rates gives it, the magnitude counts.
    before : SizeDecay, optional
        The fit of the same record when it was shorter: the search begins at its rate and
        frequency, and looks no further where that fits as well as before.

    Returns
    -------
    SizeDecay or None
        Whatever the record shows, however badly: whether it can be believed is the caller's to
        say, from ``snr`` and ``decays_seen``. None where there is nothing to fit: under 12
        samples, no span, every size the same, or no peak above zero; and where no finite figures
        come out.

    Notes
    -----
    About 3 ms for 100 to 800 samples, 1 ms with a fit to begin at.
    """
    t = np.asarray(t_s, dtype=np.float64)
    size = np.abs(np.asarray(sizes, dtype=np.float64))
    if t.size < LEAST_SAMPLES or not t[-1] > t[0] or not np.any(size != size[0]):
        return None
    try:
        return _fit(t - t[0], size, before)
    except np.linalg.LinAlgError:
        return None


def _fit(t: Array, size: Array, before: SizeDecay | None) -> SizeDecay | None:
    scale = float(size.max())
    squares = (size / scale) ** 2
    if before is not None and before.period_s is not None:
        w = 4.0 * math.pi / before.period_s
        # the record may have grown by far more than that rate may be carried over
        most = _MOST_FOLDS / float(t[-1])
        again = _climb(t, squares, min(max(before.rate_per_s, -most), most), w)
        result = None if again is None else _result(again, scale, float(t[-1]))
        if result is not None and result.noise <= _AS_WELL * before.noise:
            return result
    rate = _rough_rate(t, squares)
    plain = _climb(t, squares, rate, None)
    swinging = [_climb(t, squares, rate, w) for w in _frequencies(t, squares, rate)]
    found = max((f for f in swinging if f is not None), key=lambda f: f.likelihood, default=None)
    if found is None or (plain is not None and found.likelihood < plain.likelihood + _LEAST_GAIN):
        found = plain
    return None if found is None else _result(found, scale, float(t[-1]))


def _rough_rate(t: Array, squares: Array) -> float:
    """Give a decay rate to start from: a line through the logarithms of block means."""
    span = float(t[-1])
    block = np.minimum((_BLOCKS * t / span).astype(np.intp), _BLOCKS - 1)
    count = np.bincount(block, minlength=_BLOCKS)
    filled = count > 0
    mean = np.bincount(block, weights=squares, minlength=_BLOCKS)[filled] / count[filled]
    at = np.bincount(block, weights=t, minlength=_BLOCKS)[filled] / count[filled]
    mean = np.maximum(mean, 1e-12 * float(mean.max()))
    log = np.log(mean)
    # weighted by the mean square: what has died down to noise says nothing of the decay
    x = at - float(mean @ at) / float(mean.sum())
    spread = float(mean @ (x * x))
    slope = float(mean @ (x * (log - float(mean @ log) / float(mean.sum())))) / spread
    return min(max(-0.5 * slope, -1.0 / span), 8.0 / span)


def _frequencies(t: Array, squares: Array, rate: float) -> list[float]:
    """Give the frequencies of the highest peaks of the spectrum about the plain decay, rad/s."""
    fall = np.exp(-2.0 * rate * t)
    left = squares - fall * float(squares @ fall) / float(fall @ fall)
    step = float(np.median(np.diff(t)))
    count = min(round(float(t[-1]) / step) + 1, 4 * t.size)
    even = np.interp(np.arange(count) * (float(t[-1]) / (count - 1)), t, left)
    padded = 1 << math.ceil(math.log2(4 * count))
    power = np.abs(fft.rfft(even, padded)) ** 2
    w = 2.0 * math.pi * np.arange(power.size) * (count - 1) / (padded * float(t[-1]))
    power[w < 2.0 * math.pi / float(t[-1])] = 0.0
    near = 2 * padded // count + 1
    peaks: list[float] = []
    for _ in range(_PEAKS):
        at = int(np.argmax(power))
        if power[at] <= 0.0:
            break
        peaks.append(float(w[at]))
        power[max(at - near, 0) : at + near + 1] = 0.0
    return peaks


def _climb(t: Array, squares: Array, rate: float, w: float | None) -> _Found | None:
    """Improve a starting rate and frequency until they change no more."""
    point = _begin(t, squares, rate, w)
    damping = 1e-3
    numbers = 2 if w is None else 5
    curvature: Array | None = None
    for _ in range(_STEPS):
        columns = point.columns(t)
        g = columns @ point.linear
        weight = 1.0 / (4.0 * np.maximum(g, 0.0) + 2.0 * point.variance)
        left = squares - point.variance - g
        jacobian = point.jacobian(t, columns, g)
        weighted = jacobian.T * weight
        curvature, pull = weighted @ jacobian, weighted @ left
        if not np.all(np.isfinite(curvature)):
            return None
        cost = float((left * left) @ weight)
        nearer, damping = _better(t, squares, point, weight, curvature, pull, cost, damping)
        if nearer is None:
            break
        point, before = nearer, point
        point.variance = _variance(t, squares, point, before, numbers)
        if _is_still(point, before):
            break
    if curvature is None:
        return None
    covariance = np.asarray(point.variance * np.linalg.pinv(curvature), np.float64)
    return _Found(point, covariance, _likelihood(t, squares, point))


def _begin(t: Array, squares: Array, rate: float, w: float | None) -> _Point:
    point = _Point(rate, w, np.zeros(1 if w is None else 3), 0.0)
    columns = point.columns(t)
    weight = 1.0 / (4.0 * squares + 0.02 * float(squares.mean()))
    root = np.sqrt(weight)
    point.linear = np.asarray(
        np.linalg.lstsq(columns * root[:, None], squares * root, rcond=None)[0], np.float64
    )
    g = columns @ point.linear
    left = squares - g
    excess = (left * left) / (4.0 * np.maximum(g, 0.0) + 1e-3)
    point.variance = max(float(excess.mean()), _LEAST_VARIANCE)
    return point


def _better(
    t: Array,
    squares: Array,
    point: _Point,
    weight: Array,
    curvature: Array,
    pull: Array,
    cost: float,
    damping: float,
) -> tuple[_Point | None, float]:
    """Take the longest damped step that does not make the fit worse; None where there is none."""
    diagonal = np.diag(np.diag(curvature))
    for _ in range(6):
        try:
            step: Array = np.asarray(np.linalg.solve(curvature + damping * diagonal, pull))
        except np.linalg.LinAlgError:
            damping *= 10.0
            continue
        trial = point.moved(step)
        if abs(trial.rate) * float(t[-1]) < _MOST_FOLDS and (trial.w is None or trial.w > 0.0):
            left = squares - point.variance - trial.columns(t) @ trial.linear
            if float((left * left) @ weight) <= cost * (1.0 + 1e-12):
                return trial, max(damping * 0.1, 1e-9)
        damping *= 10.0
    return None, damping


def _variance(t: Array, squares: Array, point: _Point, before: _Point, numbers: int) -> float:
    """Give the noise's variance from what a fit leaves over."""
    g = point.columns(t) @ point.linear
    left = squares - before.variance - g
    excess = (left * left) / (4.0 * np.maximum(g, 0.0) + 2.0 * before.variance)
    return max(float(excess.sum()) / (t.size - numbers), _LEAST_VARIANCE)


def _is_still(point: _Point, before: _Point) -> bool:
    moved = abs(point.rate - before.rate) <= 1e-5 * abs(point.rate)
    return moved and abs(point.variance - before.variance) <= 1e-4 * point.variance


def _likelihood(t: Array, squares: Array, point: _Point) -> float:
    g = np.maximum(point.columns(t) @ point.linear, 0.0)
    variance = 4.0 * g * point.variance + 2.0 * point.variance**2
    left = squares - point.variance - g
    return -0.5 * float(np.log(variance).sum() + ((left * left) / variance).sum())


def _result(found: _Found, scale: float, seen_s: float) -> SizeDecay | None:
    """Turn a search's end into an envelope: its logarithm is that of the largest size, halved."""
    point, linear = found.point, found.point.linear
    swing = 0.0 if point.w is None else math.hypot(linear[1], linear[2])
    peak = float(linear[0]) + swing
    if not peak > 0.0:
        return None
    by = np.zeros(found.covariance.shape[0])
    by[1 if point.w is None else 2] = 0.5 / peak
    if swing > 0.0:
        by[3:] = 0.5 / peak * linear[1:] / swing
    toward = found.covariance @ by
    rate_variance, log_variance = float(found.covariance[0, 0]), float(by @ toward)
    fit = SizeDecay(
        rate_per_s=point.rate,
        rate_sigma_per_s=math.sqrt(max(rate_variance, 0.0)),
        amplitude=scale * math.sqrt(peak),
        log_amplitude_sigma=math.sqrt(max(log_variance, 0.0)),
        covariance_per_s=float(toward[0]),
        period_s=None if point.w is None else 4.0 * math.pi / point.w,
        noise=scale * math.sqrt(point.variance),
        seen_s=seen_s,
    )
    figures = (
        fit.rate_per_s, fit.rate_sigma_per_s, fit.amplitude, fit.log_amplitude_sigma,
        fit.covariance_per_s, fit.noise,
    )  # fmt: skip
    return fit if all(map(math.isfinite, figures)) and fit.amplitude > 0.0 else None


def _inverse(rate_per_s: float) -> float | None:
    return 1.0 / rate_per_s if rate_per_s > 0.0 else None
