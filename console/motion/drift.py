"""Free drift: where the vehicle goes over two orbits if every thruster fell silent now.

The transition of Hill's equations to some hundreds of times ahead is worked out once; a state is
then carried to all of them by one product of matrix and vector. J2, drag and the plume are left
out, so drift beyond some 15 min is indicative.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from console.motion.port_axes import NO_OFFSET, Offset, offset_in_port, port_transition

Array = NDArray[np.float64]

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
        # x of all times, then y, then z: a row each, so that each is contiguous afterwards.
        stacked = np.concatenate([matrices[:, i, :] for i in range(3)])
        self._matrix = np.ascontiguousarray(stacked)
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
        ahead = self._matrix @ state
        ahead += self._constant
        return ahead.reshape(3, -1)

    def ahead(self, state: Array) -> DriftOutcome:
        """Give what free drift from a state comes to.

        Parameters
        ----------
        state : ndarray, shape (6,)
            Position and velocity in the port frame, m and m/s; all finite.
        """
        x, y, z = self.positions(state)
        lateral2 = y * y + z * z
        distance2 = x * x + lateral2
        nearest_m, nearest_in_s = self._nearest(distance2)
        contact_s = self._first_crossing(x)
        centre2 = self._centre_distance2(x, y, z) if self._has_offset else distance2
        inside = bool(centre2[0] <= self._keep_out_m2)
        leaves, enters = self._sphere(centre2 - self._keep_out_m2, inside)
        return DriftOutcome(
            nearest_m,
            nearest_in_s,
            contact_s,
            inside,
            leaves,
            enters,
            self._corridor(x, lateral2, contact_s),
        )

    def _centre_distance2(self, x: Array, y: Array, z: Array) -> Array:
        ox, oy, oz = self._offset
        return np.asarray((x + ox) ** 2 + (y + oy) ** 2 + (z + oz) ** 2)

    def _nearest(self, distance2: Array) -> tuple[float, float]:
        """Find the least distance; a parabola through the three nearest points refines it."""
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

    def _first_crossing(self, margin: Array, start: int = 0) -> float | None:
        """Give when a margin first is negative, linear between times; at once if it begins so."""
        below = margin[start:] < 0.0
        i = start + int(below.argmax())
        if not below[i - start]:
            return None
        if i == 0:
            return 0.0
        before, after = float(margin[i - 1]), float(margin[i])
        t0, t1 = float(self.times_s[i - 1]), float(self.times_s[i])
        return t0 + (t1 - t0) * before / (before - after)

    def _sphere(self, outside: Array, inside_now: bool) -> tuple[float | None, float | None]:
        if not inside_now:
            return None, self._first_crossing(outside)
        leaves = self._first_crossing(-outside)
        if leaves is None:
            return None, None
        return leaves, self._first_crossing(outside, int(np.searchsorted(self.times_s, leaves)))

    def _corridor(self, x: Array, lateral2: Array, contact_s: float | None) -> float | None:
        """Give when it is first left; what happens at contact or behind it does not count."""
        left_s = self._first_crossing(self._root_m + self._slope * x - np.sqrt(lateral2))
        if left_s is None or (contact_s is not None and left_s >= contact_s):
            return None
        return left_s
