"""The shadow models against worked numbers, counted pixels and each other."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from console.surroundings.shadow import (
    EARTH_RADIUS_KM,
    SUN_RADIUS_KM,
    Discs,
    Light,
    cone_light,
    discs,
    is_in_cylinder,
)
from console.surroundings.sun import AU_KM
from console.surroundings.vector import Vector

SUN: Vector = (AU_KM, 0.0, 0.0)


def place(radius_km: float, past_noon_deg: float, beta_deg: float = 0.0) -> Vector:
    """Give a place on a circle whose plane the Sun stands ``beta`` over."""
    psi, beta = math.radians(past_noon_deg), math.radians(beta_deg)
    x, y = radius_km * math.cos(psi), radius_km * math.sin(psi)
    return x * math.cos(beta), y, -x * math.sin(beta)


def dark_share(radius_km: float, beta_deg: float) -> float:
    """Count the share of a circle that lies in the cylinder."""
    steps = 36_000
    dark = sum(is_in_cylinder(place(radius_km, i * 0.01, beta_deg), SUN) for i in range(steps))
    return dark / steps


def test_worked_circle_of_10000_km() -> None:
    """10000 km up, period 20859 s: half angle 22.92 deg, eclipse 2656 s = 44.27 min.

    freeclassnotesonline.com, "Satellite Shadow Region" (Re 6378 km, mu 3.986e5 km^3/s^2).
    """
    r = 16_378.0
    period_s = 2.0 * math.pi * math.sqrt(r**3 / 3.986e5)
    assert period_s == pytest.approx(20_859.0, abs=1.0)
    assert 180.0 * dark_share(r, 0.0) == pytest.approx(22.92, abs=0.01)
    assert period_s * dark_share(r, 0.0) == pytest.approx(2656.0, abs=1.5)


@pytest.mark.parametrize(("beta_deg", "minutes"), [(0.0, 36.03), (30.0, 34.32), (60.0, 23.86)])
def test_eclipse_of_a_circular_orbit(beta_deg: float, minutes: float) -> None:
    """T/pi acos(sqrt(r^2 - Re^2) / (r cos beta)): the textbook length at 420 km."""
    r = EARTH_RADIUS_KM + 420.0
    period_min = 2.0 * math.pi * math.sqrt(r**3 / 398600.4418) / 60.0
    share = math.acos(
        math.sqrt(r * r - EARTH_RADIUS_KM**2) / (r * math.cos(math.radians(beta_deg)))
    )
    assert period_min * share / math.pi == pytest.approx(minutes, abs=0.006)
    assert period_min * dark_share(r, beta_deg) == pytest.approx(minutes, abs=0.02)


@pytest.mark.parametrize(("altitude_km", "beta_star"), [(420.0, 69.75), (35_786.0, 8.70)])
def test_no_eclipse_above_the_critical_beta(altitude_km: float, beta_star: float) -> None:
    """beta* = asin(Re / r)."""
    r = EARTH_RADIUS_KM + altitude_km
    assert math.degrees(math.asin(EARTH_RADIUS_KM / r)) == pytest.approx(beta_star, abs=0.005)
    assert dark_share(r, beta_star + 0.05) == 0.0
    assert dark_share(r, beta_star - 0.05) > 0.0


def test_geostationary_eclipse() -> None:
    """69.41 min at 35786 km with the Sun in the plane."""
    r = EARTH_RADIUS_KM + 35_786.0
    period_min = 2.0 * math.pi * math.sqrt(r**3 / 398600.4418) / 60.0
    assert period_min * dark_share(r, 0.0) == pytest.approx(69.41, abs=0.15)


def test_cone_angles_and_umbra_length() -> None:
    """0.26889 and 0.26401 deg, and a full shadow of 1 384 209 km (Vallado, Algorithm 34)."""
    assert math.degrees(math.atan((SUN_RADIUS_KM + EARTH_RADIUS_KM) / AU_KM)) == pytest.approx(
        0.26889, abs=5e-6
    )
    umbra = math.atan((SUN_RADIUS_KM - EARTH_RADIUS_KM) / AU_KM)
    assert math.degrees(umbra) == pytest.approx(0.26401, abs=5e-6)
    tip_km = EARTH_RADIUS_KM / math.sin(umbra)
    assert tip_km == pytest.approx(1_384_209, abs=1)
    assert cone_light((-tip_km + 10.0, 0.0, 0.0), SUN) is Light.NIGHT
    assert cone_light((-tip_km - 10.0, 0.0, 0.0), SUN) is not Light.NIGHT


@pytest.mark.parametrize("apart", [-0.9, -0.5, 0.0, 0.3, 0.8])
def test_the_fraction_is_the_area_counted(apart: float) -> None:
    """A grid of a million points on the Sun's disc agrees to 3e-4 (Montenbruck & Gill 3.4.2)."""
    sun, earth = 0.1, 0.35
    made = Discs(sun, earth, earth + apart * sun)
    grid = (np.arange(1000) + 0.5) / 500.0 - 1.0
    x, y = np.meshgrid(grid * sun, grid * sun)
    on_sun = x * x + y * y <= sun * sun
    seen = on_sun & ((x - made.apart_rad) ** 2 + y * y > earth * earth)
    assert made.fraction == pytest.approx(seen.sum() / on_sun.sum(), abs=3e-4)
    assert made.light is Light.TWILIGHT


def test_edges_of_the_fraction() -> None:
    """Touching outside is full light, touching inside none, a ring is what is left."""
    assert Discs(0.125, 0.375, 0.5).fraction == 1.0
    assert Discs(0.125, 0.375, 0.25).fraction == 0.0
    assert Discs(0.1, 0.05, 0.01).fraction == pytest.approx(0.75)
    assert Discs(0.125, 0.375, 0.5).light is Light.DAY
    assert Discs(0.125, 0.375, 0.25).light is Light.NIGHT
    assert Discs(0.1, 0.05, 0.01).light is Light.TWILIGHT


@settings(deadline=None, max_examples=300)
@given(st.floats(6_500.0, 50_000.0), st.floats(-180.0, 180.0), st.floats(-89.0, 89.0))
def test_discs_and_cones_agree(radius_km: float, psi_deg: float, beta_deg: float) -> None:
    """Two ways to the same shadow, but within 0.2 s of orbit (0.012 deg) of an edge."""
    r = place(radius_km, psi_deg, beta_deg)
    seen = discs(r, SUN)
    near = min(abs(seen.over_penumbra_rad), abs(seen.over_umbra_rad))
    if near > math.radians(0.012):
        assert cone_light(r, SUN) is seen.light


@settings(deadline=None, max_examples=200)
@given(st.floats(6_500.0, 50_000.0), st.floats(0.0, 180.0), st.floats(0.0, 5.0))
def test_light_falls_towards_midnight(radius_km: float, psi_deg: float, step: float) -> None:
    """The farther past noon, the less light; it stays within 0 and 1."""
    here = discs(place(radius_km, psi_deg), SUN).fraction
    later = discs(place(radius_km, min(psi_deg + step, 180.0)), SUN).fraction
    assert 0.0 <= later <= here <= 1.0


def test_half_light_is_where_the_cylinder_begins() -> None:
    """Around the edge of the cylinder the Sun's centre stands on the limb."""
    r = EARTH_RADIUS_KM + 420.0
    edge_deg = 180.0 - math.degrees(math.asin(EARTH_RADIUS_KM / r))
    seen = discs(place(r, edge_deg), SUN)
    assert seen.over_limb_rad == pytest.approx(0.0, abs=math.radians(0.01))
    assert seen.fraction == pytest.approx(0.5, abs=0.02)


def test_a_place_inside_the_earth_is_refused() -> None:
    """There is no limb from there."""
    with pytest.raises(ValueError, match="must be above 6378"):
        discs((6000.0, 0.0, 0.0), SUN)
