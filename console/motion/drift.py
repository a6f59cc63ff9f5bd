"""Free drift: where the vehicle goes over two orbits if every thruster fell silent now.

The transition of Hill's equations (``cw.transition_matrix``, where its source stands) to some
hundreds of times ahead is worked out once; a state is then carried to all of them by one product
of matrix and vector. J2, drag and the plume are left out, so drift beyond some 15 min is
indicative.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from console.motion.port_axes import NO_OFFSET, Offset, offset_in_port, port_transition

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

ORBITS = 2.0
FINE_S, FINE_STEP_S = 60.0, 1.0
MIDDLE_S, MIDDLE_STEP_S = 2700.0, 10.0
COARSE_STEP_S = 20.0


def drift_times_s(period_s: float, orbits: float = ORBITS) -> Array:
    """Give the times ahead at which drift is looked at, s, from 0 on.

    Every second in the first minute, every 10 s to 45 min, every 20 s to the end: a coarse grid
    near the port overstates the least distance.
    """
    end = orbits * period_s
    fine = np.arange(0.0, min(FINE_S, end), FINE_STEP_S)
    middle = np.arange(FINE_S, min(MIDDLE_S, end), MIDDLE_STEP_S)
    coarse = np.arange(MIDDLE_S, end + COARSE_STEP_S, COARSE_STEP_S)
    return np.concatenate([fine, middle, coarse])


@dataclass(frozen=True, slots=True)
class DriftOutcome:
    """What free drift from a state comes to; times are seconds ahead, None: never on the way.

    Attributes
    ----------
    nearest_m, nearest_in_s : float
        Least distance to the port's centre and when.
    passes_port_in_s : float or None
        When the contact plane is first passed, on the axis or beside it; 0 if behind it now.
    inside_keep_out : bool
        Whether the vehicle is inside the sphere now.
    leaves_keep_out_in_s : float or None
        When the sphere is left next, by a vehicle that is inside now.
    enters_keep_out_in_s : float or None
        When the sphere is entered next from outside; for a vehicle that is inside now, after it
        has left.
    leaves_corridor_in_s : float or None
        When the corridor is first left before contact; 0 if the vehicle is outside it now.
    """

    nearest_m: float
    nearest_in_s: float
    passes_port_in_s: float | None
    inside_keep_out: bool
    leaves_keep_out_in_s: float | None
    enters_keep_out_in_s: float | None
    leaves_corridor_in_s: float | None


class FreeDrift:
    """Look ahead over free drift from any state in the port frame.

    Parameters
    ----------
    axis : str
        Where the port looks: ``V+``, ``V-``, ``R+``, ``R-``.
    mean_motion_rad_per_s : float
        Of the target's orbit.
    offset_vhr_m : tuple of float
        Port's place from the centre of mass along V, H, R, m.
    keep_out_m : float
        Radius of the keep-out sphere about the centre of mass, m.
    corridor_deg : float
        Half-angle of the corridor about the docking axis, deg, under 90.
    corridor_root_m : float
        The corridor's radius at the contact plane, m: a cone that ended in a point would call
        every touch a leaving.
    times_s : ndarray, shape (n,), or None
        Times to look at, rising from 0; None: ``drift_times_s`` over two orbits.
    """

    def __init__(
        self,
        axis: str,
        mean_motion_rad_per_s: float,
        offset_vhr_m: Offset = NO_OFFSET,
        keep_out_m: float = 200.0,
        corridor_deg: float = 10.0,
        corridor_root_m: float = 0.1,
        times_s: Array | None = None,
    ) -> None:
        period = 2.0 * math.pi / mean_motion_rad_per_s
        self.times_s = drift_times_s(period) if times_s is None else times_s
        matrices, constants = port_transition(
            axis, offset_vhr_m, mean_motion_rad_per_s, self.times_s
        )
        # Columns are x of all times, then y, then z, so that each is contiguous afterwards; a row
        # for each component of the state, long rows being what a product is quickest with.
        stacked = np.concatenate([matrices[:, i, :] for i in range(3)])
        self._matrix = np.ascontiguousarray(stacked.T)
        self._constant = np.concatenate([constants[:, i] for i in range(3)])
        self._offset = offset_in_port(axis, offset_vhr_m)
        self._has_offset = bool(np.any(self._offset != 0.0))
        self._keep_out_m2 = keep_out_m * keep_out_m
        self._slope = math.tan(math.radians(corridor_deg))
        self._root_m = corridor_root_m

    def positions(self, state: Array) -> Array:
        """Give the positions ahead, m, port frame, shape (3, n).

        Parameters
        ----------
        state : ndarray, shape (6,)
            Position and velocity in the port frame, m and m/s.
        """
        ahead: Array = state @ self._matrix
        ahead += self._constant
        return ahead.reshape(3, -1)

    def ahead(self, state: Array) -> DriftOutcome:
        """Give what free drift from a state comes to.

        Parameters
        ----------
        state : ndarray, shape (6,)
            Position and velocity in the port frame, m and m/s; all finite.
        """
        ahead = self.positions(state)
        x, y, z = ahead
        squares = ahead * ahead
        lateral2 = squares[1] + squares[2]
        distance2 = squares[0] + lateral2
        nearest_m, nearest_in_s = self._nearest(distance2)
        behind = _first(x < 0.0)
        contact_s = None if behind is None else self._crossing_s(behind, lambda i: float(x[i]))
        centre2 = self._centre_distance2(x, y, z) if self._has_offset else distance2
        return DriftOutcome(
            nearest_m,
            nearest_in_s,
            contact_s,
            *self._sphere(centre2),
            self._corridor(x, lateral2, behind, contact_s),
        )

    def _centre_distance2(self, x: Array, y: Array, z: Array) -> Array:
        ox, oy, oz = self._offset
        return np.asarray((x + ox) ** 2 + (y + oy) ** 2 + (z + oz) ** 2)

    def _nearest(self, distance2: Array) -> tuple[float, float]:
        """Find the least distance; a parabola through the three nearest points refines it.

        Notes
        -----
        Newton's divided differences, inverse parabolic interpolation (Press et al., *Numerical
        Recipes*, section 10.2; from memory).
        """
        i = int(distance2.argmin())
        t = self.times_s
        if 0 < i < distance2.size - 1:
            t0, t1, t2 = float(t[i - 1]), float(t[i]), float(t[i + 1])
            d0, d1, d2 = float(distance2[i - 1]), float(distance2[i]), float(distance2[i + 1])
            before, after = (d1 - d0) / (t1 - t0), (d2 - d1) / (t2 - t1)
            bend = (after - before) / (t2 - t0)
            if bend > 0.0:
                at = 0.5 * (t0 + t1) - before / (2.0 * bend)
                least = d0 + before * (at - t0) + bend * (at - t0) * (at - t1)
                return math.sqrt(max(least, 0.0)), at
        return math.sqrt(float(distance2[i])), float(t[i])

    def _crossing_s(self, place: int, margin: Callable[[int], float]) -> float:
        """Give when a margin that is negative first at a place fell to 0, linear between times."""
        if place == 0:
            return 0.0
        before, after = margin(place - 1), margin(place)
        t0, t1 = float(self.times_s[place - 1]), float(self.times_s[place])
        return t0 + (t1 - t0) * before / (before - after)

    def _sphere(self, centre2: Array) -> tuple[bool, float | None, float | None]:
        """Tell whether the start is inside, when the sphere is left, and when entered next."""
        keep_out_m2, leaves, start = self._keep_out_m2, None, 0
        inside = bool(centre2[0] <= keep_out_m2)
        if inside:
            place = _first(centre2 > keep_out_m2)
            if place is None:
                return inside, None, None
            leaves = self._crossing_s(place, lambda i: keep_out_m2 - float(centre2[i]))
            start = int(self.times_s.searchsorted(leaves))
        place = _first(centre2[start:] < keep_out_m2)
        if place is None:
            return inside, leaves, None
        enters = self._crossing_s(start + place, lambda i: float(centre2[i]) - keep_out_m2)
        return inside, leaves, enters

    def _corridor(
        self, x: Array, lateral2: Array, behind: int | None, contact_s: float | None
    ) -> float | None:
        """Give when it is first left; what happens at contact or behind it does not count.

        ``behind`` is the first place behind the contact plane.
        """
        upto = slice(None) if behind is None else slice(behind + 1)
        radius = self._slope * x[upto]
        radius += self._root_m
        place = _first(radius * radius < lateral2[upto])
        if place is None:
            if behind is None or radius[behind] >= 0.0:
                return None
            place = behind  # before it x is not negative, nor is the radius
        left_s = self._crossing_s(
            place, lambda i: float(radius[i]) - math.sqrt(float(lateral2[i]))
        )
        return None if contact_s is not None and left_s >= contact_s else left_s


def _first(flags: Flags) -> int | None:
    """Give where flags are first true, None where they never are."""
    place = int(flags.argmax())
    return place if flags[place] else None
