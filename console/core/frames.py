"""The port frame's attitude: quaternion, rotation matrix and yaw-pitch-roll.

Convention, fixed for every sample: attitude is that of the vehicle's docking frame relative to
its mated attitude; yaw about z, then pitch about y', then roll about x'' (intrinsic z-y'-x'').
A quaternion is [w, x, y, z] of the same rotation; q and -q are one rotation.
"""

from __future__ import annotations

import math

from console.core.units import DEG_PER_RAD, RAD_PER_DEG

GIMBAL_LOCK_SINE = 1.0 - 1e-12


def euler_deg_from_quaternion(
    w: float, x: float, y: float, z: float
) -> tuple[float, float, float]:
    """Give roll, pitch and yaw of a rotation.

    Parameters
    ----------
    w, x, y, z : float
        Quaternion, scalar first; any length but zero (it is normalised).

    Returns
    -------
    roll_deg, pitch_deg, yaw_deg : float
        Roll and yaw in (-180, 180], pitch in [-90, 90]. At gimbal lock (pitch ±90 deg) roll
        and yaw are not separate: roll is given as 0 and yaw takes the whole turn.

    Raises
    ------
    ValueError
        The quaternion has length zero.

    Notes
    -----
    R = Rz(yaw) Ry(pitch) Rx(roll), so sin(pitch) = -R31, tan(roll) = R32/R33,
    tan(yaw) = R21/R11 (Diebel, "Representing Attitude", 2006, section 5.6.4, eqs. 289-290;
    from memory).
    """
    length = math.sqrt(w * w + x * x + y * y + z * z)
    if length == 0.0:
        raise ValueError("a quaternion of length zero is no rotation")
    w, x, y, z = w / length, x / length, y / length, z / length
    sine_pitch = 2.0 * (w * y - z * x)
    if abs(sine_pitch) >= GIMBAL_LOCK_SINE:
        pitch = math.copysign(math.pi / 2.0, sine_pitch)
        roll = 0.0
        yaw = math.atan2(-2.0 * (x * y - w * z), 1.0 - 2.0 * (x * x + z * z))
    else:
        pitch = math.asin(sine_pitch)
        roll = math.atan2(2.0 * (w * x + y * z), 1.0 - 2.0 * (x * x + y * y))
        yaw = math.atan2(2.0 * (w * z + x * y), 1.0 - 2.0 * (y * y + z * z))
    return roll * DEG_PER_RAD, pitch * DEG_PER_RAD, yaw * DEG_PER_RAD


def quaternion_from_euler_deg(
    roll_deg: float, pitch_deg: float, yaw_deg: float
) -> tuple[float, float, float, float]:
    """Give the unit quaternion [w, x, y, z], w >= 0, of a yaw, pitch and roll.

    Notes
    -----
    q = qz(yaw) qy(pitch) qx(roll) (Diebel 2006, section 5.6.4; from memory).
    """
    cr, sr = math.cos(roll_deg * RAD_PER_DEG / 2), math.sin(roll_deg * RAD_PER_DEG / 2)
    cp, sp = math.cos(pitch_deg * RAD_PER_DEG / 2), math.sin(pitch_deg * RAD_PER_DEG / 2)
    cy, sy = math.cos(yaw_deg * RAD_PER_DEG / 2), math.sin(yaw_deg * RAD_PER_DEG / 2)
    w = cr * cp * cy + sr * sp * sy
    x = sr * cp * cy - cr * sp * sy
    y = cr * sp * cy + sr * cp * sy
    z = cr * cp * sy - sr * sp * cy
    sign = -1.0 if w < 0.0 else 1.0
    return sign * w, sign * x, sign * y, sign * z
