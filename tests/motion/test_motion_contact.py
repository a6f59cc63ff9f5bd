"""Contact geometry and energy against worked figures."""

import math

import pytest

from console.motion.contact import (
    common_velocity_mps,
    contact_energy_j,
    corridor_angle_deg,
    corridor_radius_m,
    reduced_mass_kg,
    target_offset_m,
    vector_sum,
)


def test_pitch_and_yaw_are_a_vector_sum():
    """3 and 3 deg make 4.2426 deg, beyond 4 although each is within it (IDSS IDD Rev E)."""
    assert vector_sum(3.0, 3.0) == pytest.approx(4.2426, abs=5e-5)
    assert vector_sum(0.03, 0.03) == pytest.approx(0.0424, abs=5e-5)
    assert math.isnan(vector_sum(math.nan, 0.0))


def test_corridor_angle_and_radius():
    """On the axis 0, at the contact plane 90, behind it more; 10 deg at 20 m is 3.527 m."""
    assert corridor_angle_deg(20.0, 0.0, 0.0) == 0.0
    assert corridor_angle_deg(0.0, 1.0, 0.0) == pytest.approx(90.0)
    assert corridor_angle_deg(-1.0, 0.0, 1.0) == pytest.approx(135.0)
    radius = corridor_radius_m(20.0, 10.0)
    assert radius == pytest.approx(3.5265, abs=1e-4)
    assert corridor_angle_deg(20.0, 0.6 * radius, 0.8 * radius) == pytest.approx(10.0)
    assert corridor_radius_m(-5.0, 10.0) == 0.0


def test_stand_off_cross():
    """A cross 0.3 m before its mark, shifted by 15 mm, seen from 10 m: 0.5 m off the axis."""
    assert target_offset_m(0.015, 0.3, 10.0) == pytest.approx(0.5)


def test_energy_of_contact_uses_the_reduced_mass():
    """12.5 t against 420 t at 0.10 m/s: 12,138.73 kg and 60.694 J; 2.89 % of the rate remains."""
    assert reduced_mass_kg(12_500.0, 420_000.0) == pytest.approx(12_138.73, abs=0.005)
    assert contact_energy_j(12_500.0, 420_000.0, 0.10) == pytest.approx(60.694, abs=5e-4)
    assert common_velocity_mps(12_500.0, 420_000.0, 0.10) == pytest.approx(0.00289, abs=5e-6)
