"""The Sun against the docking axis: the published geometry, each port, each part of the orbit."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from surroundings_tools import EPOCH_S, orbit

from console.envelope.setup import Camera, PortAxis
from console.surroundings.glare import (
    CAMERA_LOOKS,
    Glare,
    GlareKind,
    SunAngles,
    glare_of,
    sun_angles,
)
from console.surroundings.light import Sky, Span, light_ahead, spans_of
from console.surroundings.orbit import OrbitState
from console.surroundings.shadow import Light, discs
from console.surroundings.sun import sun_vector_km

ALONG_V = (PortAxis.V_PLUS, PortAxis.V_MINUS)
HOURS_S = 6000.0
CAMERA = Camera(20.0, 10.0)


def lvlh(state: OrbitState, sun_km: tuple[float, float, float]) -> np.ndarray:
    """Give the Sun's direction in LVLH by the axes themselves."""
    r, v, s = (np.array(x) for x in (state.position_km, state.velocity_kmps, sun_km))
    z = -r / np.linalg.norm(r)
    y = -np.cross(r, v) / np.linalg.norm(np.cross(r, v))
    x = np.cross(y, z)
    return np.array([x @ s, y @ s, z @ s]) / np.linalg.norm(s)


@settings(deadline=None, max_examples=200)
@given(st.floats(0.0, 180.0), st.floats(0.0, 360.0), st.floats(0.0, 86_400.0))
def test_lvlh_formula_is_the_vector(inclination: float, raan: float, after_s: float) -> None:
    """The formula (-cos beta sin psi, -sin beta, -cos beta cos psi) holds to rounding."""
    t = EPOCH_S + after_s
    state = orbit(inclination_deg=inclination, raan_deg=raan).state(t)
    sun = sun_vector_km(t)
    assert sun_angles(state, sun).lvlh == pytest.approx(tuple(lvlh(state, sun)), abs=1e-12)


@pytest.mark.parametrize("beta", [-70.0, -30.0, 0.0, 15.0, 60.0])
@pytest.mark.parametrize(("axis", "psi"), [(PortAxis.V_MINUS, -90.0), (PortAxis.V_PLUS, 90.0)])
def test_along_v_the_least_angle_is_beta(axis: PortAxis, psi: float, beta: float) -> None:
    """From behind it is met at psi -90 (sunrise), from ahead at +90 (sunset)."""
    angles = [SunAngles(beta, p).from_camera_deg(axis) for p in np.arange(-180.0, 180.0, 0.5)]
    assert min(angles) == pytest.approx(abs(beta), abs=1e-6)
    assert SunAngles(beta, psi).from_camera_deg(axis) == pytest.approx(abs(beta), abs=1e-6)


@pytest.mark.parametrize(("beta", "psi"), [(0.0, 0.0), (30.0, 40.0), (-60.0, -120.0)])
def test_from_below_the_angle_is_that_from_noon(beta: float, psi: float) -> None:
    """acos(cos beta cos psi) for a port that looks to the Earth."""
    expected = math.degrees(math.acos(math.cos(math.radians(beta)) * math.cos(math.radians(psi))))
    assert SunAngles(beta, psi).from_camera_deg(PortAxis.R_PLUS) == pytest.approx(expected)


def glares(axis: PortAxis) -> tuple[tuple[Glare, ...], tuple[Span, ...], Sky]:
    """Give a revolution's glare with its light."""
    made = orbit(raan_deg=20.0)
    sky = Sky(made)
    spans = spans_of(made, EPOCH_S, EPOCH_S + HOURS_S, sky)
    return glare_of(sky, spans, axis, CAMERA), spans, sky


@pytest.mark.parametrize("axis", PortAxis)
def test_glare_against_each_second(axis: PortAxis) -> None:
    """Lit and within 30 deg of where the camera looks: every second of a revolution."""
    found, _, _ = glares(axis)
    made = orbit(raan_deg=20.0)
    for t in np.arange(EPOCH_S + 0.5, EPOCH_S + HOURS_S, 7.0):
        state, sun = made.state(float(t)), sun_vector_km(float(t))
        is_lit = discs(state.position_km, sun).light is not Light.NIGHT
        s = lvlh(state, sun)
        if axis is PortAxis.R_MINUS:
            expected = is_lit and s[2] < 0.0
        else:
            cosine = float(s @ np.array(CAMERA_LOOKS[axis]))
            expected = is_lit and math.degrees(math.acos(cosine)) < 30.0
        assert any(g.t_start <= t < g.t_end for g in found) == expected


def test_ahead_before_sunset_behind_after_sunrise_below_at_noon() -> None:
    """Each port has its hour."""
    _, spans, sky = glares(PortAxis.V_PLUS)
    made = orbit(raan_deg=20.0)
    for axis, low, high in (
        (PortAxis.V_PLUS, 60.0, 115.0),
        (PortAxis.V_MINUS, -115.0, -60.0),
        (PortAxis.R_PLUS, -30.0, 30.0),
    ):
        found = glare_of(sky, spans, axis, CAMERA)
        assert found
        for glare in found:
            assert glare.kind is GlareKind.SUN
            middle = (glare.t_start + glare.t_end) / 2.0
            assert low < sun_angles(made.state(middle), sun_vector_km(middle)).psi_deg < high
    ends = [s.t_end for s in spans if s.state is Light.TWILIGHT]
    assert any(g.t_end in ends for g in glare_of(sky, spans, PortAxis.V_PLUS, CAMERA))


def test_from_above_the_lit_earth_floods_and_the_sun_never_does() -> None:
    """Looking down, the Sun itself is hidden by the Earth whenever it nears the axis."""
    found, _, _ = glares(PortAxis.R_MINUS)
    assert found
    assert {g.kind for g in found} == {GlareKind.EARTH}
    made = orbit(raan_deg=20.0)
    for t in np.arange(EPOCH_S, EPOCH_S + HOURS_S, 10.0):
        state, sun = made.state(float(t)), sun_vector_km(float(t))
        if discs(state.position_km, sun).light is not Light.NIGHT:
            assert sun_angles(state, sun).from_camera_deg(PortAxis.R_MINUS) > 69.0


def test_a_wider_baffle_means_more_glare() -> None:
    """And none at all with the Sun far from the plane."""
    made = orbit(raan_deg=20.0)
    sky = Sky(made)
    spans = spans_of(made, EPOCH_S, EPOCH_S + HOURS_S, sky)
    lengths = [
        sum(g.t_end - g.t_start for g in glare_of(sky, spans, PortAxis.V_PLUS, Camera(20.0, b)))
        for b in (0.0, 5.0, 10.0, 20.0)
    ]
    assert lengths == sorted(lengths)
    assert lengths[0] < lengths[-1]
    high = orbit(inclination_deg=97.8, raan_deg=90.0)
    sky = Sky(high)
    spans = spans_of(high, EPOCH_S, EPOCH_S + HOURS_S, sky)
    assert abs(sun_angles(high.state(EPOCH_S), sun_vector_km(EPOCH_S)).beta_deg) > 60.0
    for axis in ALONG_V:
        assert glare_of(sky, spans, axis, CAMERA) == ()


def test_unknown_light_has_no_glare_to_tell() -> None:
    """Nothing known, nothing given."""
    assert light_ahead(None, EPOCH_S) == ()
    assert glare_of(Sky(orbit()), (), PortAxis.V_PLUS, CAMERA) == ()
