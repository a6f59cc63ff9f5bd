"""Where the Sun is, to a hundredth of a degree, from the time alone."""

from __future__ import annotations

import math

from console.core.units import RAD_PER_DEG, S_PER_DAY
from console.surroundings.vector import Vector

AU_KM = 149_597_870.7
"""IAU 2012 resolution B2, exact."""
J2000_UNIX_S = 946_728_000.0
"""2000-01-01T12:00:00Z, Julian date 2451545.0, in seconds since 1970."""
DAYS_PER_CENTURY = 36525.0


def centuries_since_j2000(t_s: float) -> float:
    """Give Julian centuries since J2000.0 of UTC seconds since 1970.

    UTC stands for UT1: they differ by less than 0.9 s, in which the Sun moves 4e-5 deg.
    """
    return (t_s - J2000_UNIX_S) / S_PER_DAY / DAYS_PER_CENTURY


def sun_vector_au(t_s: float) -> Vector:
    """Give the vector from the Earth's centre to the Sun.

    Parameters
    ----------
    t_s : float
        UTC seconds since 1970.

    Returns
    -------
    tuple of float
        x, y, z in astronomical units, in the mean equator and equinox **of date** (MOD). Used
        as if it were of J2000 it would be wrong by precession: 0.37 deg at 2026.9. Beside a
        position in TEME, which SGP4 gives, it may be used as it stands: that moves the times of
        sunset and sunrise by 0.15 s.

    Notes
    -----
    Valid 1950 to 2050, 0.01 deg (0.0114 deg at most over 1990-2050 against ERFA's ``epv00``).

    With T in centuries since J2000, angles in degrees::

        L   = 280.460 + 36000.77 T               mean longitude
        M   = 357.5277233 + 35999.05034 T        mean anomaly
        lam = L + 1.914666471 sin M + 0.019994643 sin 2M
        R   = 1.000140612 - 0.016708617 cos M - 0.000139589 cos 2M
        eps = 23.439291 - 0.0130042 T
        r   = R (cos lam, cos eps sin lam, sin eps sin lam)

    Source: Vallado, *Fundamentals of Astrodynamics and Applications*, Algorithm 29, with the
    constants that give the digits of its Example 5-1.
    """
    century = centuries_since_j2000(t_s)
    longitude = (280.460 + 36000.77 * century) % 360.0
    anomaly = ((357.5277233 + 35999.05034 * century) % 360.0) * RAD_PER_DEG
    ecliptic = RAD_PER_DEG * (
        longitude + 1.914666471 * math.sin(anomaly) + 0.019994643 * math.sin(2.0 * anomaly)
    )
    distance_au = (
        1.000140612 - 0.016708617 * math.cos(anomaly) - 0.000139589 * math.cos(2.0 * anomaly)
    )
    obliquity = (23.439291 - 0.0130042 * century) * RAD_PER_DEG
    sine = math.sin(ecliptic)
    return (
        distance_au * math.cos(ecliptic),
        distance_au * math.cos(obliquity) * sine,
        distance_au * math.sin(obliquity) * sine,
    )


def sun_vector_km(t_s: float) -> Vector:
    """Give :func:`sun_vector_au` in kilometres."""
    x, y, z = sun_vector_au(t_s)
    return x * AU_KM, y * AU_KM, z * AU_KM
