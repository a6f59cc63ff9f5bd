"""Attitude conversions against scipy's Rotation, an independent implementation."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from console.core.frames import euler_deg_from_quaternion, quaternion_from_euler_deg

ROTATION_TOLERANCE_RAD = 1e-7
"""An angle near gimbal lock is known to the square root of the floats' own precision."""


def scipy_rotation(roll_deg: float, pitch_deg: float, yaw_deg: float) -> Rotation:
    """Give scipy's intrinsic z-y'-x'' rotation (upper case means intrinsic there)."""
    return Rotation.from_euler("ZYX", [yaw_deg, pitch_deg, roll_deg], degrees=True)


def scipy_of(w: float, x: float, y: float, z: float) -> Rotation:
    """Give scipy's rotation of a quaternion with the scalar first."""
    return Rotation.from_quat([x, y, z, w])


def test_random_rotations_agree_with_scipy():
    """10,000 random rotations give scipy's own roll, pitch and yaw to 1e-9 deg."""
    rotations = Rotation.random(10_000, random_state=20310411)
    for x, y, z, w in rotations.as_quat():
        ours = euler_deg_from_quaternion(w, x, y, z)
        yaw, pitch, roll = scipy_of(w, x, y, z).as_euler("ZYX", degrees=True)
        if abs(pitch) < 89.9:
            assert (roll, pitch, yaw) == pytest.approx(ours, abs=1e-9)


@pytest.mark.parametrize("pitch_deg", [90.0, -90.0, 89.9999999, -89.9999999, 89.99, -89.99])
@pytest.mark.parametrize("roll_deg", [0.0, 30.0, -170.0])
@pytest.mark.parametrize("yaw_deg", [0.0, -45.0, 179.0])
def test_near_gimbal_lock_the_angles_still_give_the_same_rotation(roll_deg, pitch_deg, yaw_deg):
    """At and near gimbal lock roll and yaw are not unique, but the rotation they give is."""
    truth = scipy_rotation(roll_deg, pitch_deg, yaw_deg)
    x, y, z, w = truth.as_quat()
    ours = scipy_rotation(*euler_deg_from_quaternion(w, x, y, z))
    assert (truth.inv() * ours).magnitude() < ROTATION_TOLERANCE_RAD * 20


@given(
    st.floats(-179.9, 179.9),
    st.floats(-89.0, 89.0),
    st.floats(-179.9, 179.9),
    st.floats(0.99, 1.01),
)
def test_angles_survive_the_way_there_and_back(roll_deg, pitch_deg, yaw_deg, length):
    """Angles to quaternion and back, whatever its length, come out the same."""
    q = quaternion_from_euler_deg(roll_deg, pitch_deg, yaw_deg)
    back = euler_deg_from_quaternion(*(length * part for part in q))
    assert (roll_deg, pitch_deg, yaw_deg) == pytest.approx(back, abs=1e-9)


@given(st.floats(-180, 180), st.floats(-90, 90), st.floats(-180, 180))
def test_the_quaternion_is_scipys(roll_deg, pitch_deg, yaw_deg):
    """Our quaternion is scipy's up to its sign, of length 1, scalar not negative."""
    w, x, y, z = quaternion_from_euler_deg(roll_deg, pitch_deg, yaw_deg)
    theirs = scipy_rotation(roll_deg, pitch_deg, yaw_deg).as_quat()
    assert pytest.approx(abs(float(np.dot(theirs, [x, y, z, w]))), abs=1e-12) == 1.0
    assert pytest.approx(math.sqrt(w * w + x * x + y * y + z * z), abs=1e-12) == 1.0
    assert w >= 0.0


def test_a_quaternion_of_length_zero_is_refused():
    """Zero is no rotation."""
    with pytest.raises(ValueError, match="no rotation"):
        euler_deg_from_quaternion(0.0, 0.0, 0.0, 0.0)


def test_yaw_turns_x_toward_y():
    """A positive yaw of 90 deg about z turns the x axis to y: the sign of the convention."""
    w, x, y, z = quaternion_from_euler_deg(0.0, 0.0, 90.0)
    assert pytest.approx(tuple(scipy_of(w, x, y, z).apply([1, 0, 0])), abs=1e-12) == (
        0.0,
        1.0,
        0.0,
    )
