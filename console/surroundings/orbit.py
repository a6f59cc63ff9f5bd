"""Where the outpost is: one small interface, and the plain circular orbit behind it.

An orbit read from a message is ``surroundings.element_set``. Positions are geocentric, in the
mean equator of date or in TEME, which differ by less than light and glare can tell (0.15 s of a
sunset).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

from console.core.units import EARTH_MU_M3_PER_S2, EARTH_RADIUS_M, RAD_PER_DEG, S_PER_DAY
from console.envelope.setup import Orbit
from console.motion.orbit import M_PER_KM, mean_motion
from console.surroundings.vector import Vector

J2 = 1.08262668e-3
"""Second zonal harmonic of the Earth, EGM-96."""
CIRCULAR_MAX_AGE_DAYS = 3.0
"""A wrong kilometre of altitude moves a circular orbit by 1.2 deg, 18 s, in a day."""


@dataclass(frozen=True, slots=True)
class OrbitState:
    """Position, km, and velocity, km/s, from the Earth's centre; mean equator of date."""

    position_km: Vector
    velocity_kmps: Vector


class OrbitSource(Protocol):
    """Anything that can say where the outpost is."""

    @property
    def name(self) -> str:
        """What it is called in a note."""
        ...

    @property
    def epoch_s(self) -> float:
        """For which time it was made, UTC seconds since 1970."""
        ...

    @property
    def max_age_days(self) -> float:
        """How far from its epoch, before or after, it may be believed."""
        ...

    def state(self, t_s: float) -> OrbitState | None:
        """Give the state at a time; None where there is none."""
        ...


@dataclass(frozen=True, slots=True)
class CircularOrbit:
    """A circular orbit by altitude, inclination, node and place in the orbit at an epoch.

    Attributes
    ----------
    altitude_km : float
        Over the equatorial radius.
    inclination_deg, raan_deg : float
        Of the orbit plane; right ascension of the ascending node from the mean equinox of date.
    arglat_deg : float
        Argument of latitude at the epoch: angle from the ascending node along the orbit.
    epoch_s : float
        UTC seconds since 1970.

    Notes
    -----
    The angle moves with n = sqrt(mu / a^3) and the secular rates of J2; for eccentricity zero::

        node       -3/2 J2 (Re/a)^2 n cos i
        arglat  n + 3/2 J2 (Re/a)^2 n (4 cos^2 i - 1)

    (Vallado, section 9.6, eqs. 9-38, 9-40 and 9-41, mean anomaly and perigee added; from
    memory). They are worth 5 deg of node and 4 deg of arglat a day in a low orbit.
    """

    altitude_km: float
    inclination_deg: float
    raan_deg: float
    arglat_deg: float
    epoch_s: float

    @property
    def name(self) -> str:
        """What it is called in a note."""
        return "the circular orbit"

    @property
    def max_age_days(self) -> float:
        """How far from its epoch it may be believed."""
        return CIRCULAR_MAX_AGE_DAYS

    def state(self, t_s: float) -> OrbitState:
        """Give the state at a time."""
        radius_m = EARTH_RADIUS_M + self.altitude_km * M_PER_KM
        n = mean_motion(radius_m)
        inclination = self.inclination_deg * RAD_PER_DEG
        cos_i, sin_i = math.cos(inclination), math.sin(inclination)
        bulge = 1.5 * J2 * (EARTH_RADIUS_M / radius_m) ** 2 * n
        since_s = t_s - self.epoch_s
        node = self.raan_deg * RAD_PER_DEG - bulge * cos_i * since_s
        arglat_rate = n + bulge * (4.0 * cos_i * cos_i - 1.0)
        arglat = self.arglat_deg * RAD_PER_DEG + arglat_rate * since_s
        cos_n, sin_n = math.cos(node), math.sin(node)
        outward = (math.cos(arglat), math.sin(arglat))
        forward = (-outward[1], outward[0])

        def placed(in_plane: tuple[float, float], size: float) -> Vector:
            x, y = in_plane
            return (
                size * (cos_n * x - sin_n * cos_i * y),
                size * (sin_n * x + cos_n * cos_i * y),
                size * sin_i * y,
            )

        speed_kmps = math.sqrt(EARTH_MU_M3_PER_S2 / radius_m) / M_PER_KM
        return OrbitState(placed(outward, radius_m / M_PER_KM), placed(forward, speed_kmps))


def circular_orbit(orbit: Orbit) -> CircularOrbit | None:
    """Give the circular orbit of a setup, None where it does not say how it lies in space.

    An altitude alone tells how long a revolution is, but not where the Sun stands: light is then
    unknown, never day.
    """
    if (
        orbit.inclination_deg is None
        or orbit.raan_deg is None
        or orbit.arglat_deg is None
        or orbit.epoch_s is None
    ):
        return None
    return CircularOrbit(
        orbit.altitude_km, orbit.inclination_deg, orbit.raan_deg, orbit.arglat_deg, orbit.epoch_s
    )


def age_days(orbit: OrbitSource, t_s: float) -> float:
    """Give how far a time lies from an orbit's epoch, in days, either way."""
    return abs(t_s - orbit.epoch_s) / S_PER_DAY
