"""A leak's rate from the record of a closed volume, its verdict, and the time still needed.

Theory of operation
-------------------
A straight line through p T0/T, the pressure at constant temperature, gives the loss: pressure
alone follows the gas temperature. Three things make a plain line lie, and each is met:

*A lagging temperature sensor* shows the gas as it was. Instead of sharpening its reading, which
multiplies its noise, the pressure is sent through the same lag: both then show the same past, and
a straight line through a lag has the same slope. What the sensor still showed of the time before
the record dies as e^(-t/lag), which is fitted along.

*Correlated noise* makes a line look surer than it is. The line goes through 20 block means; the
white noise of the samples is known from their successive differences; what the blocks scatter
beyond it is taken as noise correlated over a time. How much and how long is not known: each of
a grid of noises gives a line of its own, and what is said of the leak is their mean, weighted by
how likely each noise makes the record. So a verdict waits until every likely noise allows it.

*A bend* (gas still settling, a lag not told of) is no noise at all: a record whose quadratic or
cubic term stands out gets no verdict.

*A single wrong reading* is no noise either and is left out. Whatever else does not come out as
finite figures is no fit: it never decides.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from console.core.normal import Z_95
from console.core.units import KELVIN_AT_0_DEGC, PA_PER_KPA, S_PER_H
from console.motion.block_noise import BLOCKS, SampleNoise, correlated, roughness
from console.motion.leak_blocks import Cut, cut_record

Array = NDArray[np.float64]

CURVATURE_T = 4.0  # looked for again and again
WATCHING_Z = 2.8  # a verdict looked for again and again needs more
FORESEEN_Z = 3.0
"""A verdict is foreseen when the doubt over all likely noises fits so often into what is spare:
a little more than ``WATCHING_Z``, since that doubt has longer tails than a normal one."""
USUAL_SHARE, USUAL_SPREAD = 0.5, 0.25
"""A leak not yet known is foreseen at half the limit, give or take a quarter of it."""
LONGEST_S = 86_400.0
"""Time still needed is not foreseen beyond a day."""
_LEAST_PA = 1e-3
_LEAST_WEIGHT = 1e-5
"""A line less likely than this is left out."""
_LEAST_LAG_S = 1e-3
_STRAIGHT = 2
"""Terms of a straight line; a lag's term comes after them."""
_TOLD_APART = 1e-6
"""A remainder of this share loses all but four of the sixteen digits in its square."""
_LENGTHS = (1e3, 3.0, 1.0, 0.3, 0.1)  # block lengths in correlation times of the excess
_SIZES = (0.0, 0.1, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0, 300.0, 1e3, 1e4, 1e5)
_SHAPES = np.stack([correlated(length)[1] for length in _LENGTHS])
_STEP = 1.03


class LeakVerdict(StrEnum):
    """What a record says of a leak against its limit."""

    WATCHING = "keep watching"
    PASSES = "passes"
    FAILS = "fails"
    NOT_SETTLED = "not settled"


@dataclass(frozen=True, slots=True)
class Line:
    """The loss under one noise, its 1-sigma, and how likely that noise is (all sum to 1)."""

    loss_pa_per_h: float
    sigma_pa_per_h: float
    weight: float


@dataclass(frozen=True, slots=True)
class LeakFit:
    """A leak estimated from a record.

    Attributes
    ----------
    loss_pa_per_h, sigma_pa_per_h : float
        Loss of pressure at constant temperature and its 1-sigma, over all likely noises.
    curvature_t : float
        The bend of the record (quadratic or cubic, the larger) in units of its own 1-sigma.
    span_s : float
        Length of the record.
    temperature_k : float
        Its mean temperature, at which the loss is counted.
    noise : SampleNoise or None
        White noise of its samples, for foreseeing; None: nothing is foreseen.
    lines : tuple of Line
        The likely noises' lines; none: the loss is normally distributed.
    """

    loss_pa_per_h: float
    sigma_pa_per_h: float
    curvature_t: float
    span_s: float = 0.0
    temperature_k: float = 293.15
    noise: SampleNoise | None = None
    lines: tuple[Line, ...] = ()

    @property
    def low_pa_per_h(self) -> float:
        """Lower 95 % bound of the loss."""
        return self.loss_pa_per_h - Z_95 * self.sigma_pa_per_h

    @property
    def high_pa_per_h(self) -> float:
        """Upper 95 % bound of the loss."""
        return self.loss_pa_per_h + Z_95 * self.sigma_pa_per_h

    def chance_above(self, loss_pa_per_h: float) -> float:
        """Give the chance that the loss is larger than a value."""
        lines = self.lines or (Line(self.loss_pa_per_h, self.sigma_pa_per_h, 1.0),)
        return sum(
            line.weight * _above(loss_pa_per_h - line.loss_pa_per_h, line.sigma_pa_per_h)
            for line in lines
        )

    def verdict(self, limit_pa_per_h: float, z: float = WATCHING_Z) -> LeakVerdict:
        """Judge the loss: surely inside the limit, surely outside, or neither yet.

        Sure is what a normal distribution leaves beyond z times its 1-sigma on one side. A record
        that bends, or that surely gains gas, is not settled: no closed volume does. Figures that
        are not finite, or have no doubt at all, decide nothing.
        """
        least = _above(z, 1.0)
        if not self._is_known():
            return LeakVerdict.WATCHING
        if self.curvature_t > CURVATURE_T or self.gains(z):
            return LeakVerdict.NOT_SETTLED
        above = self.chance_above(limit_pa_per_h)
        if above < least:
            return LeakVerdict.PASSES
        if 1.0 - above < least:
            return LeakVerdict.FAILS
        return LeakVerdict.WATCHING

    def _is_known(self) -> bool:
        figures = (self.loss_pa_per_h, self.sigma_pa_per_h, self.curvature_t)
        return all(map(math.isfinite, figures)) and self.sigma_pa_per_h > 0.0

    def gains(self, z: float = WATCHING_Z) -> bool:
        """Whether gas surely comes in, as no leak into vacuum does."""
        return self.chance_above(0.0) < _above(z, 1.0)

    def straddles(self, limit_pa_per_h: float) -> bool:
        """Whether the limit lies between the 95 % bounds."""
        return self.low_pa_per_h <= limit_pa_per_h <= self.high_pa_per_h

    def needs_s(self, limit_pa_per_h: float) -> float | None:
        """Give the time a verdict still needs if the noise stays as it is, s.

        Returns
        -------
        float or None
            None where it is more than a day, or nothing can be foreseen.

        Notes
        -----
        The 1-sigma of the slope is carried forward by the record's own white noise, with what
        made it larger so far; the leak is the fitted one, drawn toward half the limit (half as
        much again, where the fitted one is beyond it) as far as it is unsure (a normal prior:
        Gelman et al., *Bayesian Data Analysis*, section 2.5; from memory).
        """
        if self.noise is None or self.span_s <= 0.0 or limit_pa_per_h <= 0.0:
            return None
        prior = (USUAL_SPREAD * limit_pa_per_h) ** 2
        trust = prior / (prior + self.sigma_pa_per_h**2)
        is_beyond = self.loss_pa_per_h > limit_pa_per_h
        usual = (2.0 - USUAL_SHARE if is_beyond else USUAL_SHARE) * limit_pa_per_h
        spare = abs(limit_pa_per_h - usual - trust * (self.loss_pa_per_h - usual))
        swollen = self.sigma_pa_per_h / _slope_sigma(self.noise, self.span_s)
        span_s = self.span_s
        while FORESEEN_Z * swollen * _slope_sigma(self.noise, span_s) >= spare:
            span_s *= _STEP
            if span_s - self.span_s > LONGEST_S:
                return None
        return span_s - self.span_s


def fit_leak(
    t_s: ArrayLike, pressure_kpa: ArrayLike, temperature_degc: ArrayLike, sensor_lag_s: float = 0.0
) -> LeakFit | None:
    """Estimate the leak of a closed volume from its record.

    Parameters
    ----------
    t_s : array_like, shape (n,)
        Times, rising, s.
    pressure_kpa, temperature_degc : array_like, shape (n,)
        Absolute pressure and gas temperature as measured; what is wrong beyond doubt is left out
        (:func:`console.motion.leak_blocks.cut_record`).
    sensor_lag_s : float
        Lag of the temperature sensor, s; under a millisecond it counts as none.

    Returns
    -------
    LeakFit or None
        None under two samples in each of the 20 blocks, or where no finite figures come out.

    Notes
    -----
    "Mass point" regression, the slope of pV/(RT) over all samples (Dunlap et al., "Pressure Decay
    Testing Methodology for Quantifying Leak Rates of Full-Scale Docking System Seals", AIAA
    2009), on block means by generalised least squares; the noise by restricted maximum likelihood
    (Patterson, Thompson, Biometrika 58(3), 1971; from memory). About 1 ms.
    """
    with np.errstate(all="ignore"):  # what overflows shows as a figure that is not finite
        cut = cut_record(
            np.asarray(t_s, dtype=np.float64),
            np.asarray(pressure_kpa, dtype=np.float64) * PA_PER_KPA,
            np.asarray(temperature_degc, dtype=np.float64) + KELVIN_AT_0_DEGC,
        )
        if cut is None:
            return None
        try:
            return _fit(cut, sensor_lag_s if sensor_lag_s >= _LEAST_LAG_S else 0.0)
        except (np.linalg.LinAlgError, OverflowError):
            return None


def _fit(cut: Cut, lag_s: float) -> LeakFit | None:
    t, pressure, kelvin, block = cut
    span_s = float(t[-1])
    count = np.bincount(block, minlength=BLOCKS)
    mean_k = float(kelvin.mean())
    noise = SampleNoise(
        max(roughness(pressure), _LEAST_PA),
        max(roughness(kelvin) * float(pressure.mean()) / mean_k, _LEAST_PA),
        t.size / span_s,
        lag_s,
    )
    if lag_s > 0.0:
        pressure = _lagged(t, pressure, lag_s)
    values = np.bincount(block, weights=pressure * mean_k / kelvin, minlength=BLOCKS) / count
    return _through(values - float(values.mean()), noise, span_s, mean_k)


def _lagged(t: Array, values: Array, lag_s: float) -> Array:
    """Send values through a first-order lag; it begins at the mean of the first few."""
    shown = float(values[:10].mean())
    out = [shown]
    gains = (1.0 - np.exp(-np.diff(t) / lag_s)).tolist()
    for gain, value in zip(gains, values[1:].tolist(), strict=True):
        shown += gain * (value - shown)
        out.append(shown)
    return np.asarray(out)


def _design(span_s: float, lag_s: float) -> Array:
    """Give the columns of the line: 1, hours, and what a lag keeps of the time before."""
    width_s = span_s / BLOCKS
    starts = np.arange(BLOCKS) * width_s
    columns = [np.ones(BLOCKS), (starts + 0.5 * width_s) / S_PER_H]
    if lag_s > 0.0:
        share = (1.0 - math.exp(-width_s / lag_s)) * lag_s / width_s
        columns.append(np.exp(-starts / lag_s) * share)
    return np.column_stack(columns)


def _slope_sigma(noise: SampleNoise, span_s: float) -> float:
    """Give the 1-sigma of a record's slope under white noise alone, Pa/h."""
    design = _design(span_s, noise.lag_s)
    information = design.T @ np.linalg.solve(noise.of_blocks(span_s), design)
    return math.sqrt(float(np.linalg.inv(information)[1, 1]))


def _bends() -> Array:
    """Give the quadratic and the cubic term (Legendre's, which hardly depend on each other)."""
    u = (2.0 * np.arange(BLOCKS) + 1.0) / BLOCKS - 1.0
    return np.column_stack([1.5 * u * u - 0.5, 2.5 * u**3 - 1.5 * u])


def _is_bend(design: Array) -> bool:
    """Tell whether the lag's term cannot be told from a line and the bends, by its remainder.

    Of a record far shorter than the lag, which so would hide its bend. The line itself keeps the
    term: without it the loss would look sure, while a lag so long still hides it.
    """
    remainder = np.linalg.qr(np.column_stack([design[:, :_STRAIGHT], _bends(), design[:, -1]]))[1]
    return abs(float(remainder[-1, -1])) < _TOLD_APART * float(np.linalg.norm(design[:, -1]))


def _through(values: Array, noise: SampleNoise, span_s: float, mean_k: float) -> LeakFit | None:
    """Fit the line under every noise of the grid and weigh them by their likelihood."""
    white = noise.of_blocks(span_s)
    unit = float(np.trace(white)) / BLOCKS
    excess = unit * np.asarray(_SIZES)[None, :, None, None] * _SHAPES[:, None]
    factors = np.linalg.cholesky((white + excess).reshape(-1, BLOCKS, BLOCKS))
    design = _design(span_s, noise.lag_s)
    terms = design.shape[1]
    table = np.column_stack([design, _bends(), values])
    whitened = np.linalg.solve(factors, np.broadcast_to(table, (len(factors), *table.shape)))
    size = np.log(np.diagonal(factors, axis1=1, axis2=2)).sum(axis=1)
    fitted, spread, likelihood = _lines(whitened[:, :, :terms], whitened[:, :, -1], size)
    bent_columns = whitened[:, :, :-1]
    if terms > _STRAIGHT and _is_bend(design):
        bent_columns = np.delete(bent_columns, _STRAIGHT, axis=2)
        terms = _STRAIGHT
    bent, bent_spread, bent_likelihood = _lines(bent_columns, whitened[:, :, -1], size)
    at = int(np.argmax(bent_likelihood))
    bends = slice(terms, terms + 2)
    curvature = float(
        np.max(np.abs(bent[at, bends]) / np.sqrt(np.diagonal(bent_spread[at])[bends]))
    )
    lines = _likely(-fitted[:, 1], np.sqrt(spread[:, 1, 1]), likelihood)
    if not (lines and math.isfinite(curvature)):
        return None
    loss = sum(line.weight * line.loss_pa_per_h for line in lines)
    variance = sum(
        line.weight * (line.sigma_pa_per_h**2 + (line.loss_pa_per_h - loss) ** 2) for line in lines
    )
    return LeakFit(loss, math.sqrt(variance), curvature, span_s, mean_k, noise, lines)


def _likely(losses: Array, sigmas: Array, likelihood: Array) -> tuple[Line, ...]:
    """Give the likely noises' lines; none where a figure of any is not finite."""
    if not all(bool(np.all(np.isfinite(figures))) for figures in (losses, sigmas, likelihood)):
        return ()
    weights = np.exp(likelihood - likelihood.max())
    weights[weights < _LEAST_WEIGHT * float(weights.sum())] = 0.0
    weights /= weights.sum()
    return tuple(
        Line(*figures)
        for figures in zip(losses.tolist(), sigmas.tolist(), weights.tolist(), strict=True)
        if figures[2] > 0.0
    )


def _above(distance: float, sigma: float) -> float:
    """Give the chance of a normal value to lie more than a distance above its mean."""
    if sigma <= 0.0:
        return 0.0 if distance > 0.0 else 1.0
    return 0.5 * math.erfc(distance / (sigma * math.sqrt(2.0)))


def _lines(design: Array, values: Array, size: Array) -> tuple[Array, Array, Array]:
    """Give terms, covariances and restricted log-likelihoods of whitened fits, one a noise."""
    information = np.einsum("kij,kil->kjl", design, design)
    spread = np.linalg.inv(information)
    terms = np.einsum("kjl,kl->kj", spread, np.einsum("kij,ki->kj", design, values))
    left = values - np.einsum("kij,kj->ki", design, terms)
    power = np.einsum("ki,ki->k", left, left)
    likelihood = -0.5 * power - size - 0.5 * np.linalg.slogdet(information)[1]
    return terms, np.asarray(spread), np.asarray(likelihood)
