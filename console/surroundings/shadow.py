"""The Earth's shadow: how much of the Sun's disc is seen from a place in space.

All functions take the spacecraft and the Sun from the Earth's centre, km, in one frame, whichever
it is. The Earth is a sphere without air. Its flattening moves sunset and sunrise in a low orbit
by up to 13 s and the air by up to 15 s, so a time of light is good to about 20 s
(:data:`DOUBT_S`); the model's own arithmetic is good to a tenth of a second.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from console.core.units import EARTH_RADIUS_M
from console.motion.orbit import M_PER_KM
from console.surroundings.vector import Vector, angle_rad, dot, length, minus

EARTH_RADIUS_KM = EARTH_RADIUS_M / M_PER_KM
SUN_RADIUS_KM = 695_700.0
"""Nominal solar radius, IAU 2015 resolution B3."""
DOUBT_S = 20.0
"""Doubt in a time of sunset or sunrise: the Earth's shape and air are not modelled."""


class Light(StrEnum):
    """What the Sun gives: all of it, a part of its disc, or nothing."""

    DAY = "day"
    TWILIGHT = "twilight"
    NIGHT = "night"


@dataclass(frozen=True, slots=True)
class Discs:
    """The two discs as seen from the spacecraft.

    Attributes
    ----------
    sun_rad, earth_rad : float
        Their apparent radii.
    apart_rad : float
        Angle between their centres.
    """

    sun_rad: float
    earth_rad: float
    apart_rad: float

    @property
    def over_penumbra_rad(self) -> float:
        """Angle until the discs touch; negative once the Earth covers a part of the Sun."""
        return self.apart_rad - (self.sun_rad + self.earth_rad)

    @property
    def over_limb_rad(self) -> float:
        """Angle of the Sun's centre over the Earth's limb: zero at sunset and sunrise."""
        return self.apart_rad - self.earth_rad

    @property
    def over_umbra_rad(self) -> float:
        """Angle until the Earth covers the whole Sun; negative inside the full shadow."""
        return self.apart_rad - (self.earth_rad - self.sun_rad)

    @property
    def light(self) -> Light:
        """Day, twilight or night."""
        if self.over_penumbra_rad >= 0.0:
            return Light.DAY
        return Light.NIGHT if self.over_umbra_rad <= 0.0 else Light.TWILIGHT

    @property
    def fraction(self) -> float:
        """Share of the Sun's disc that is seen, 0 to 1.

        Notes
        -----
        With a, b the radii of Sun and Earth and c their distance, the covered area is that of
        two circular segments::

            x = (c^2 + a^2 - b^2) / (2 c)      y = sqrt(a^2 - x^2)
            A = a^2 acos(x / a) + b^2 acos((c - x) / b) - c y

        and the share seen is 1 - A / (pi a^2). Farther out than the tip of the full shadow the
        Earth leaves a ring: 1 - (b / a)^2.

        Source: Montenbruck and Gill, *Satellite Orbits*, section 3.4.2, eqs. 3.85 to 3.94.
        """
        a, b, c = self.sun_rad, self.earth_rad, self.apart_rad
        if c >= a + b:
            return 1.0
        if c <= b - a:
            return 0.0
        if c <= a - b:
            return 1.0 - (b / a) ** 2
        x = (c * c + a * a - b * b) / (2.0 * c)
        y = math.sqrt(max(a * a - x * x, 0.0))
        covered = a * a * _acos(x / a) + b * b * _acos((c - x) / b) - c * y
        return min(max(1.0 - covered / (math.pi * a * a), 0.0), 1.0)


def _acos(cosine: float) -> float:
    """Give the arc cosine, of rounding beyond 1 too."""
    return math.acos(min(max(cosine, -1.0), 1.0))


def discs(position_km: Vector, sun_km: Vector) -> Discs:
    """Give the discs of Sun and Earth seen from a place outside the Earth.

    Raises
    ------
    ValueError
        The place lies inside the Earth.
    """
    from_centre_km = length(position_km)
    if not from_centre_km > EARTH_RADIUS_KM:
        raise ValueError(
            f"{from_centre_km:.0f} km from the Earth's centre: "
            f"must be above {EARTH_RADIUS_KM:g} km"
        )
    to_sun = minus(sun_km, position_km)
    to_earth = (-position_km[0], -position_km[1], -position_km[2])
    return Discs(
        math.asin(SUN_RADIUS_KM / length(to_sun)),
        math.asin(EARTH_RADIUS_KM / from_centre_km),
        angle_rad(to_earth, to_sun),
    )


def is_in_cylinder(position_km: Vector, sun_km: Vector) -> bool:
    """Tell whether a place lies in the shadow of a Sun infinitely far away.

    Source: Vallado, section 5.3 (from memory): the Sun behind the Earth, and the distance from
    the line through both centres below the Earth's radius.
    """
    to_sun = length(sun_km)
    along_km = dot(position_km, sun_km) / to_sun
    across2 = dot(position_km, position_km) - along_km * along_km
    return along_km < 0.0 and across2 < EARTH_RADIUS_KM * EARTH_RADIUS_KM


def cone_light(position_km: Vector, sun_km: Vector) -> Light:
    """Tell the light by the cones of penumbra and umbra: a check on the discs.

    Notes
    -----
    With z the angle from the anti-Sun direction, h = r cos z, v = r sin z, and the cones' half
    angles tan p = (Rs + Re) / d, tan u = (Rs - Re) / d: penumbra where
    v <= tan p (Re / sin p + h), umbra where v <= tan u (Re / sin u - h).

    Source: Vallado, Algorithm 34 (from memory).
    """
    if dot(position_km, sun_km) >= 0.0:
        return Light.DAY
    distance_km = length(sun_km)
    penumbra = math.atan((SUN_RADIUS_KM + EARTH_RADIUS_KM) / distance_km)
    umbra = math.atan((SUN_RADIUS_KM - EARTH_RADIUS_KM) / distance_km)
    from_axis = angle_rad((-sun_km[0], -sun_km[1], -sun_km[2]), position_km)
    along_km = length(position_km) * math.cos(from_axis)
    across_km = length(position_km) * math.sin(from_axis)
    if across_km > math.tan(penumbra) * (EARTH_RADIUS_KM / math.sin(penumbra) + along_km):
        return Light.DAY
    if across_km <= math.tan(umbra) * (EARTH_RADIUS_KM / math.sin(umbra) - along_km):
        return Light.NIGHT
    return Light.TWILIGHT
