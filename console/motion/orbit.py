"""The target's circular orbit: mean motion and period.

Only a circular orbit is known here; the relative motion of ``cw`` is linearised about it.
"""

from __future__ import annotations

import math

from console.core.units import EARTH_MU_M3_PER_S2, EARTH_RADIUS_M

M_PER_KM = 1000.0


def mean_motion_of_altitude(
    altitude_km: float,
    earth_radius_m: float = EARTH_RADIUS_M,
    mu_m3_per_s2: float = EARTH_MU_M3_PER_S2,
) -> float:
    """Give the angular rate of a circular orbit at an altitude over the equatorial radius.

    Parameters
    ----------
    altitude_km : float
        Height of the orbit over ``earth_radius_m``, km.
    earth_radius_m, mu_m3_per_s2 : float
        Radius and gravitational parameter; the defaults are those of WGS 84.

    Returns
    -------
    float
        Mean motion n, rad/s.

    Raises
    ------
    ValueError
        The orbit would lie at or below the Earth's centre.
    """
    return mean_motion(earth_radius_m + altitude_km * M_PER_KM, mu_m3_per_s2)


def mean_motion(semi_major_axis_m: float, mu_m3_per_s2: float = EARTH_MU_M3_PER_S2) -> float:
    """Give the mean motion of an orbit, rad/s.

    Raises
    ------
    ValueError
        The semi-major axis is not positive.

    Notes
    -----
    n = sqrt(mu / a^3), Kepler's third law (Vallado, *Fundamentals of Astrodynamics and
    Applications*, section 1.2; from memory).
    """
    if not semi_major_axis_m > 0.0:
        raise ValueError(f"semi-major axis {semi_major_axis_m} m: must be > 0 m")
    return math.sqrt(mu_m3_per_s2 / semi_major_axis_m**3)


def period_s(mean_motion_rad_per_s: float) -> float:
    """Give the time of one revolution, 2 pi / n, s (source as in :func:`mean_motion`)."""
    return 2.0 * math.pi / mean_motion_rad_per_s
