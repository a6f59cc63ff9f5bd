"""The Sun against the docking axis: when a camera that looks along it is dazzled.

The vehicle's camera looks at the port, against the port's outward axis. In the local orbital
frame (LVLH: x forward, y against the orbit normal, z to the Earth) the Sun stands at::

    s = (-cos beta sin psi, -sin beta, -cos beta cos psi)

with beta its elevation over the orbit plane and psi the outpost's angle past orbit noon. So a
camera behind the outpost meets the Sun just after sunrise, one ahead of it just before sunset, one
below it about orbit noon; one above it looks at the Earth, which floods it while sunlit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from console.core.units import DEG_PER_RAD, RAD_PER_DEG
from console.envelope.setup import Camera, PortAxis
from console.surroundings.crossing import crossings
from console.surroundings.light import Sky, Span, UnknownStateError
from console.surroundings.orbit import OrbitState
from console.surroundings.shadow import Light
from console.surroundings.vector import Vector, cross, dot, length, unit

CAMERA_LOOKS: dict[PortAxis, Vector] = {
    PortAxis.V_PLUS: (-1.0, 0.0, 0.0),
    PortAxis.V_MINUS: (1.0, 0.0, 0.0),
    PortAxis.R_PLUS: (0.0, 0.0, -1.0),
    PortAxis.R_MINUS: (0.0, 0.0, 1.0),
}
"""Where the camera of a vehicle at each port looks, LVLH."""


@dataclass(frozen=True, slots=True)
class SunAngles:
    """Where the Sun stands as seen from the outpost.

    Attributes
    ----------
    beta_deg : float
        Elevation over the orbit plane, positive on the side of the orbit normal.
    psi_deg : float
        The outpost's angle past orbit noon, -180 to 180: -90 about sunrise, +90 about sunset.
    """

    beta_deg: float
    psi_deg: float

    @property
    def lvlh(self) -> Vector:
        """Direction to the Sun in LVLH."""
        beta, psi = self.beta_deg * RAD_PER_DEG, self.psi_deg * RAD_PER_DEG
        return (
            -math.cos(beta) * math.sin(psi),
            -math.sin(beta),
            -math.cos(beta) * math.cos(psi),
        )

    def from_camera_deg(self, axis: PortAxis) -> float:
        """Give the angle between the Sun and the axis of a camera that looks at the port."""
        cosine = dot(self.lvlh, CAMERA_LOOKS[axis])
        return math.acos(min(max(cosine, -1.0), 1.0)) * DEG_PER_RAD

    @property
    def is_earth_below_lit(self) -> bool:
        """Whether the ground straight below the outpost is sunlit."""
        return -self.lvlh[2] > 0.0


def sun_angles(state: OrbitState, sun_km: Vector) -> SunAngles:
    """Give the Sun's place against the orbit at a state, position and Sun in one frame."""
    normal = unit(cross(state.position_km, state.velocity_kmps))
    outward = unit(state.position_km)
    forward = cross(normal, outward)
    sun = unit(sun_km)
    beta = math.atan2(dot(sun, normal), length(cross(sun, normal)))
    psi = math.atan2(-dot(sun, forward), dot(sun, outward))
    return SunAngles(beta * DEG_PER_RAD, psi * DEG_PER_RAD)


class GlareKind(StrEnum):
    """What dazzles the camera."""

    SUN = "Sun near the camera's axis"
    EARTH = "sunlit Earth behind the port"


@dataclass(frozen=True, slots=True)
class Glare:
    """A stretch in which the camera is dazzled, UTC seconds, half-open."""

    t_start: float
    t_end: float
    kind: GlareKind


def glare_of(
    sky: Sky, spans: tuple[Span, ...], axis: PortAxis, camera: Camera
) -> tuple[Glare, ...]:
    """Give the stretches of glare within known light.

    Parameters
    ----------
    sky : Sky
        Of the orbit.
    spans : tuple of Span
        Light over the stretch looked at; by night nothing dazzles.
    axis : PortAxis
        Where the port looks.
    camera : Camera
        Within half its field of view and the baffle's margin the Sun dazzles.
    """
    if not spans:
        return ()
    t_start, t_end = spans[0].t_start, spans[-1].t_end
    is_earth = axis is PortAxis.R_MINUS
    kind = GlareKind.EARTH if is_earth else GlareKind.SUN
    limit_deg = camera.half_field_deg + camera.baffle_deg

    def clear_deg(t_s: float) -> float:
        """Give how far from glare it is: negative within."""
        angles = sun_angles(*sky.at(t_s))
        if is_earth:
            return angles.lvlh[2]
        return angles.from_camera_deg(axis) - limit_deg

    try:
        edges = [t_start, *crossings(clear_deg, t_start, t_end), t_end]
        return tuple(
            Glare(max(start, span.t_start), min(end, span.t_end), kind)
            for start, end in pairwise(edges)
            if start < end and clear_deg((start + end) / 2.0) < 0.0
            for span in _lit(spans)
            if max(start, span.t_start) < min(end, span.t_end)
        )
    except UnknownStateError:
        return ()


def _lit(spans: tuple[Span, ...]) -> list[Span]:
    """Give the stretches that are not night, joined."""
    lit: list[Span] = []
    for span in spans:
        if span.state is Light.NIGHT:
            continue
        if lit and lit[-1].t_end == span.t_start:
            lit[-1] = Span(lit[-1].t_start, span.t_end, Light.DAY, ())
        else:
            lit.append(span)
    return lit
