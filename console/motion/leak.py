"""Leak checks by pressure decay: the mass forms, and a verdict from a record with its doubt.

Pressures are absolute, temperatures kelvin inside. A closed vestibule's pressure follows its gas
temperature (346 Pa a kelvin at one atmosphere), so every form works on p/T, which is the mass.

A straight line through p T0/T gives the loss. Plain least squares trusts a record too much where
its noise is coloured, so the line goes through 20 block means, with an allowance for what
correlation is left between them; and a record that bends (gas still settling, a lagging sensor)
gets no verdict.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from console.core.units import (
    KELVIN_AT_0_DEGC,
    PA_PER_KPA,
    S_PER_H,
    SPECIFIC_GAS_CONSTANT_AIR_J_PER_KG_K,
)

Array = NDArray[np.float64]

BLOCKS = 20
LAG_BLOCK_S = 60.0
CURVATURE_T = 4.0  # looked for again and again, with 16 degrees of freedom
ONE_LOOK_Z = 1.645
WATCHING_Z = 2.8  # a verdict looked for again and again needs more
_MOST_CORRELATION = 0.9


class LeakVerdict(StrEnum):
    """What a record says of a leak against its limit."""

    WATCHING = "keep watching"
    PASSES = "passes"
    FAILS = "fails"
    NOT_SETTLED = "not settled"


@dataclass(frozen=True, slots=True)
class LeakFit:
    """A leak estimated from a record.

    Attributes
    ----------
    loss_pa_per_h, sigma_pa_per_h : float
        Loss of pressure at constant temperature and its 1-sigma.
    curvature_t : float
        The bend of the record (quadratic or cubic, the larger) in units of its own 1-sigma.
    """

    loss_pa_per_h: float
    sigma_pa_per_h: float
    curvature_t: float

    def verdict(self, limit_pa_per_h: float, z: float = WATCHING_Z) -> LeakVerdict:
        """Judge the loss: inside or outside the limit by z times its 1-sigma, or neither yet.

        A record that bends, or that clearly gains gas, is not settled: no closed volume does.
        """
        doubt = z * self.sigma_pa_per_h
        if self.curvature_t > CURVATURE_T or self.loss_pa_per_h + doubt < 0.0:
            return LeakVerdict.NOT_SETTLED
        if self.loss_pa_per_h + doubt < limit_pa_per_h:
            return LeakVerdict.PASSES
        if self.loss_pa_per_h - doubt > limit_pa_per_h:
            return LeakVerdict.FAILS
        return LeakVerdict.WATCHING


def gas_mass_kg(
    pressure_pa: float,
    volume_m3: float,
    temperature_k: float,
    gas_constant_j_per_kg_k: float = SPECIFIC_GAS_CONSTANT_AIR_J_PER_KG_K,
) -> float:
    """Give the mass of gas in a volume, m = pV/(RT), kg; dry air unless told otherwise."""
    return pressure_pa * volume_m3 / (gas_constant_j_per_kg_k * temperature_k)


def mass_loss_kg_per_s(
    volume_m3: float,
    first: tuple[float, float],
    last: tuple[float, float],
    duration_s: float,
    gas_constant_j_per_kg_k: float = SPECIFIC_GAS_CONSTANT_AIR_J_PER_KG_K,
) -> float:
    """Give the rate of mass lost between two readings, kg/s (negative: gained).

    Parameters
    ----------
    volume_m3 : float
        Closed volume, m^3.
    first, last : tuple of float
        Absolute pressure, Pa, and temperature, K, at the two ends.
    duration_s : float
        Time between them, s.
    gas_constant_j_per_kg_k : float
        8.314462618 in place of it gives mol/s.

    Notes
    -----
    (V/R)(p1/T1 - p2/T2)/dt (the leak check of 40 CFR 1065.644, with the sign turned).
    """
    (p1, t1), (p2, t2) = first, last
    return volume_m3 / gas_constant_j_per_kg_k * (p1 / t1 - p2 / t2) / duration_s


def throughput_pa_m3_per_s(
    volume_m3: float, first: tuple[float, float], last: tuple[float, float], duration_s: float
) -> float:
    """Give the leak as pressure times volume at the first temperature, Pa m^3/s.

    Notes
    -----
    Q = V (p1 - p2 T1/T2)/dt.
    """
    (p1, t1), (p2, t2) = first, last
    return volume_m3 * (p1 - p2 * t1 / t2) / duration_s


def watch_time_s(
    limit_pa_per_h: float, expected_pa_per_h: float, noise_pa: float, step_s: float
) -> float:
    """Give the least time to watch until a leak can be told from its limit, s.

    Parameters
    ----------
    limit_pa_per_h, expected_pa_per_h : float
        The limit and the leak expected, which is below it.
    noise_pa : float
        White 1-sigma of one compensated sample: hypot of pressure noise and p sigma_T/T.
    step_s : float
        Between samples, s.

    Notes
    -----
    T = (12 s^2 dt (3.29/(L - leak))^2)^(1/3): the slope of a line through white noise known to
    1.645 sigma on both sides. Coloured noise takes longer.
    """
    spare_pa_per_s = (limit_pa_per_h - expected_pa_per_h) / S_PER_H
    if spare_pa_per_s <= 0.0:
        return math.inf
    needed = 2.0 * ONE_LOOK_Z / spare_pa_per_s
    return float((12.0 * noise_pa**2 * step_s * needed**2) ** (1.0 / 3.0))


def fit_leak(
    t_s: ArrayLike, pressure_kpa: ArrayLike, temperature_degc: ArrayLike, sensor_lag_s: float = 0.0
) -> LeakFit | None:
    """Estimate the leak of a closed volume from its record.

    Parameters
    ----------
    t_s : array_like, shape (n,)
        Times, rising, s.
    pressure_kpa, temperature_degc : array_like, shape (n,)
        Absolute pressure and gas temperature as measured; all finite.
    sensor_lag_s : float
        Lag of the temperature sensor, s; its reading is set right by T + lag dT/dt over blocks
        of a minute.

    Returns
    -------
    LeakFit or None
        None under two samples in each of the 20 blocks.

    Notes
    -----
    "Mass point" regression, the slope of pV/(RT) over all samples (Dunlap et al., "Pressure Decay
    Testing Methodology for Quantifying Leak Rates of Full-Scale Docking System Seals", AIAA
    2009), on block means; the 1-sigma grows by sqrt((1 + r)/(1 - r)) with r the correlation of
    neighbouring blocks.
    """
    t = np.asarray(t_s, dtype=np.float64)
    kelvin = np.asarray(temperature_degc, dtype=np.float64) + KELVIN_AT_0_DEGC
    pressure = np.asarray(pressure_kpa, dtype=np.float64) * PA_PER_KPA
    if t.size < 2 * BLOCKS or not t[-1] > t[0]:
        return None
    block = np.minimum((BLOCKS * (t - t[0]) / (t[-1] - t[0])).astype(np.intp), BLOCKS - 1)
    if np.bincount(block, minlength=BLOCKS).min() < 2:
        return None
    if sensor_lag_s > 0.0:
        kelvin = _without_lag(t, kelvin, sensor_lag_s)
    compensated = pressure * float(kelvin.mean()) / kelvin
    hours = _means(block, (t - t[0]) / S_PER_H)
    values = _means(block, compensated)
    slope, sigma = _line(hours, values)
    return LeakFit(-slope, sigma, _curvature_t(hours, values))


def _means(block: NDArray[np.intp], values: Array) -> Array:
    sums = np.bincount(block, weights=values, minlength=BLOCKS)
    return np.asarray(sums / np.bincount(block, minlength=BLOCKS))


def _without_lag(t: Array, kelvin: Array, lag_s: float) -> Array:
    """Give the gas temperature a lagging sensor followed, piecewise linear over minutes."""
    count = max(int((t[-1] - t[0]) / LAG_BLOCK_S), 2)
    block = np.minimum((count * (t - t[0]) / (t[-1] - t[0])).astype(np.intp), count - 1)
    size = np.bincount(block, minlength=count)
    filled = size > 0
    at = np.bincount(block, weights=t, minlength=count)[filled] / size[filled]
    shown = np.bincount(block, weights=kelvin, minlength=count)[filled] / size[filled]
    if at.size < 2:
        return kelvin
    true = shown + lag_s * np.gradient(shown, at)
    return kelvin + np.interp(t, at, true - shown)


def _line(x: Array, y: Array) -> tuple[float, float]:
    """Give slope and 1-sigma of a line, with an allowance for correlated residuals."""
    centred = x - x.mean()
    spread = float(centred @ centred)
    slope = float(centred @ y) / spread
    left = y - y.mean() - slope * centred
    power = float(left @ left)
    sigma = math.sqrt(power / (x.size - 2) / spread)
    if power > 0.0:
        r = float(left[1:] @ left[:-1]) / power
        r = min(max(r, 0.0), _MOST_CORRELATION)
        sigma *= math.sqrt((1.0 + r) / (1.0 - r))
    return slope, sigma


def _curvature_t(x: Array, y: Array) -> float:
    """Give the larger of the quadratic and cubic terms of a record, each over its own 1-sigma."""
    u = 2.0 * (x - x.mean()) / (x[-1] - x[0])
    # Legendre polynomials, so that the terms hardly depend on one another.
    basis = np.column_stack([np.ones_like(u), u, 1.5 * u * u - 0.5, 2.5 * u**3 - 1.5 * u])
    gram = basis.T @ basis
    terms = np.linalg.solve(gram, basis.T @ y)
    left = y - basis @ terms
    power = float(left @ left) / (x.size - basis.shape[1])
    if power <= 0.0:
        return 0.0
    size = np.abs(terms) / np.sqrt(power * np.diag(np.linalg.inv(gram)))
    return float(max(size[2], size[3]))
