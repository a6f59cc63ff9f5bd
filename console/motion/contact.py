"""Contact geometry: the vector sums contact conditions are set on, corridor angle, energy.

Lengths are sqrt(a*a + b*b), not ``hypot``, so that every judge agrees to the last bit.
"""

from __future__ import annotations

import math

from console.core.units import DEG_PER_RAD, RAD_PER_DEG


def vector_sum(first: float, second: float) -> float:
    """Give the length of two components at right angles, in their unit.

    Notes
    -----
    The rule of the contact conditions for lateral misalignment, lateral rate, pitch/yaw and
    their rate (IDSS IDD Rev E, Table 3.3.1.1-2: vector sum of pitch and yaw).
    """
    return math.sqrt(first * first + second * second)


def corridor_angle_deg(range_m: float, y_m: float, z_m: float) -> float:
    """Give the angle of the vehicle off the docking axis, seen from the port, deg.

    Returns
    -------
    float
        0 on the axis, 90 in the contact plane, above 90 behind it.

    Notes
    -----
    atan2(sqrt(y^2 + z^2), x): the definition of the angle off an axis; no source needed.
    """
    return math.atan2(vector_sum(y_m, z_m), range_m) * DEG_PER_RAD


def corridor_radius_m(range_m: float, half_angle_deg: float) -> float:
    """Give the corridor's radius at a range, m (a cone with its apex at the port; 0 behind it)."""
    return max(range_m, 0.0) * math.tan(half_angle_deg * RAD_PER_DEG)


def target_offset_m(shift_m: float, stand_off_m: float, distance_m: float) -> float:
    """Give the lateral offset at which a stand-off cross hides another part of its back mark.

    Parameters
    ----------
    shift_m : float
        Shift of cross against back mark, measured on the back mark, m.
    stand_off_m : float
        Height of the cross over the back mark, m, > 0.
    distance_m : float
        Distance from the eye to the cross along the axis, m.

    Notes
    -----
    Shift = stand-off * tan(angle seen), offset = distance * tan(angle) (similar triangles;
    the use of such targets: Syromiatnikov, *Spacecraft Docking Devices*, 1990, p. 23).
    """
    return shift_m / stand_off_m * distance_m


def reduced_mass_kg(visitor_kg: float, target_kg: float) -> float:
    """Give the mass that carries the energy of contact, m1 m2 / (m1 + m2), kg.

    Notes
    -----
    Goldstein, *Classical Mechanics*, section 3.1; from memory.
    """
    return visitor_kg * target_kg / (visitor_kg + target_kg)


def contact_energy_j(visitor_kg: float, target_kg: float, closing_rate_mps: float) -> float:
    """Give the energy the mechanism must take up at contact, J.

    Notes
    -----
    Half the reduced mass times the closing rate squared (two-body collision, any text on
    mechanics, such as Goldstein, *Classical Mechanics*, section 3.1).
    """
    return 0.5 * reduced_mass_kg(visitor_kg, target_kg) * closing_rate_mps * closing_rate_mps


def common_velocity_mps(visitor_kg: float, target_kg: float, closing_rate_mps: float) -> float:
    """Give the velocity both keep after capture, in the target's frame before it, m/s.

    Notes
    -----
    m v / (m + M), conservation of momentum (Goldstein, section 1.2; from memory).
    """
    return visitor_kg * closing_rate_mps / (visitor_kg + target_kg)
