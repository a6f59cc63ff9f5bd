"""Leak checks by pressure decay: the mass forms, and how long a check takes at least.

Pressures are absolute, temperatures kelvin inside. A closed vestibule's pressure follows its gas
temperature (346 Pa a kelvin at one atmosphere), so every form works on p/T, which is the mass.
What a whole record says stands in ``console.motion.leak_fit``.
"""

from __future__ import annotations

import math

from console.core.normal import Z_95_ONE_SIDED
from console.core.units import S_PER_DAY, S_PER_H, SPECIFIC_GAS_CONSTANT_AIR_J_PER_KG_K


def gas_mass_kg(
    pressure_pa: float,
    volume_m3: float,
    temperature_k: float,
    gas_constant_j_per_kg_k: float = SPECIFIC_GAS_CONSTANT_AIR_J_PER_KG_K,
) -> float:
    """Give the mass of gas in a volume, m = pV/(RT), kg; dry air unless told otherwise.

    Notes
    -----
    The ideal gas (the mass form of 40 CFR 1065.644's leak check).
    """
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
    Q = V (p1 - p2 T1/T2)/dt: throughput is V dp/dt at one temperature (O'Hanlon, *A User's Guide
    to Vacuum Technology*, section 2.3; from memory), the second pressure taken back to T1.
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
    1.645 sigma on both sides, its variance 12 s^2 dt/T^3 (Draper and Smith, *Applied Regression
    Analysis*, section 1.4; from memory). Coloured noise takes longer.
    """
    spare_pa_per_s = (limit_pa_per_h - expected_pa_per_h) / S_PER_H
    if spare_pa_per_s <= 0.0:
        return math.inf
    needed = 2.0 * Z_95_ONE_SIDED / spare_pa_per_s
    return float((12.0 * noise_pa**2 * step_s * needed**2) ** (1.0 / 3.0))


def loss_kg_per_day(volume_m3: float, loss_pa_per_h: float, temperature_k: float) -> float:
    """Give a loss of pressure at constant temperature as mass of dry air, kg/day."""
    return gas_mass_kg(loss_pa_per_h, volume_m3, temperature_k) * (S_PER_DAY / S_PER_H)


def loss_pa_m3_per_s(volume_m3: float, loss_pa_per_h: float) -> float:
    """Give a loss of pressure at constant temperature as a throughput at it, Pa m^3/s."""
    return volume_m3 * loss_pa_per_h / S_PER_H
