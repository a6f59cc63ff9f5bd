"""Stopping figures against road design's table, against simulation, and against each other."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from console.core.normal import Z_95_ONE_SIDED
from console.motion.braking import (
    greatest_rate_mps,
    latest_call_on_law_s,
    latest_call_s,
    latest_call_sigma_s,
    required_braking_mps2,
    retreat_time_s,
    stopping_distance_m,
    stopping_time_s,
    tau_dot,
    tau_s,
)
from console.motion.glide_slope import ClosingLaw


@pytest.mark.parametrize(
    ("rate", "reaction", "braking", "way", "time"),
    [(0.10, 10, 0.02, 1.25, 15), (0.50, 5, 0.05, 5.00, 15), (0.30, 3, 0.01, 5.40, 33)],
)
def test_stopping_distance_and_time(rate, reaction, braking, way, time):
    """S = v t_r + v^2/(2a) and t_r + v/a, worked figures."""
    assert way == pytest.approx(stopping_distance_m(rate, reaction, braking))
    assert time == pytest.approx(stopping_time_s(rate, reaction, braking))


def test_stopping_distance_of_road_design():
    """100 km/h, 2.5 s, 3.4 m/s^2 (11.2 ft/s^2): 182.92 m; the Green Book's rounded form 184.2."""
    way = stopping_distance_m(100 / 3.6, 2.5, 3.4)
    assert way == pytest.approx(182.92, abs=0.005)
    printed = 0.278 * 100 * 2.5 + 0.039 * 100**2 / 3.4
    assert printed == pytest.approx(184.2, abs=0.05)
    assert way == pytest.approx(printed, rel=0.01)


@pytest.mark.parametrize(
    ("rate", "way"), [(0.08, 0.32), (0.10, 0.45), (0.2, 1.4), (0.5, 7.25), (1.0, 27.0)]
)
def test_braking_distances_with_2_s_and_2_cm_per_s2(rate, way):
    """D = v td + v^2/(2a) with td = 2 s, a = 0.02 m/s^2."""
    assert way == pytest.approx(stopping_distance_m(rate, 2.0, 0.02), abs=0.005)


@pytest.mark.parametrize(
    ("room", "reaction", "braking", "rate"),
    [(30, 10, 0.02, 0.913553), (10, 5, 0.02, 0.540312), (200, 10, 0.05, 4.0)],
)
def test_greatest_rate_for_a_room(room, reaction, braking, rate):
    """v_max = -a t_r + sqrt((a t_r)^2 + 2 a r), worked figures."""
    assert rate == pytest.approx(greatest_rate_mps(room, reaction, braking), abs=5e-7)


@given(st.floats(0.001, 5.0), st.floats(0.0, 30.0), st.floats(0.001, 1.0))
def test_greatest_rate_undoes_stopping_distance(rate, reaction, braking):
    """From the greatest rate for a room the stopping distance is the room."""
    room = stopping_distance_m(rate, reaction, braking)
    assert rate == pytest.approx(greatest_rate_mps(room, reaction, braking), rel=1e-6)


def test_nothing_to_stop_and_no_room():
    """A vehicle that does not close needs no way; no room allows no rate."""
    assert stopping_distance_m(-0.1, 5.0, 0.02) == 0.0
    assert stopping_time_s(0.0, 5.0, 0.02) == 0.0
    assert greatest_rate_mps(0.0, 5.0, 0.02) == 0.0
    assert required_braking_mps2(-0.1, 1.0) == 0.0
    assert required_braking_mps2(0.1, 0.0) == math.inf
    assert latest_call_s(10.0, 0.0, 1.8, 5.5, 0.01) is None


def test_required_braking():
    """0.1 m/s in 1 m needs 5 mm/s^2."""
    assert required_braking_mps2(0.1, 1.0) == pytest.approx(0.005)


def test_tau_and_its_change():
    """Tau = x/v; at the deceleration that just stops at contact tau-dot is -1/2 (Lee 1976)."""
    assert tau_s(10.0, 0.1) == pytest.approx(100.0)
    assert tau_s(10.0, 0.0) == math.inf
    just = required_braking_mps2(0.1, 10.0)
    assert tau_dot(10.0, 0.1, just) == pytest.approx(-0.5)
    assert tau_dot(10.0, 0.1, 0.0) == -1.0
    step = 1e-4
    later = tau_s(10.0 - 0.1 * step + 0.5 * just * step**2, 0.1 - just * step)
    assert (later - 100.0) / step == pytest.approx(tau_dot(10.0, 0.1, just), abs=1e-3)
    assert tau_dot(10.0, 0.0, just) == math.inf


@pytest.mark.parametrize(
    ("range_m", "rate", "stop_at", "td", "braking", "call", "sigma"),
    [
        (10.0, 0.09, 2.0, 2.0, 0.02, 84.6, 2.09),
        (5.0, 0.09, 2.0, 2.0, 0.02, 29.1, None),
    ],
)
def test_latest_stop_call(range_m, rate, stop_at, td, braking, call, sigma):
    """T = (x - xh - D)/v; its 1-sigma with 3 cm, 2 mm/s, 0.5 s and 10 % of the deceleration."""
    found = latest_call_s(range_m, rate, stop_at, td, braking)
    assert call == pytest.approx(found, abs=0.1)
    spread = latest_call_sigma_s(
        found, rate, td, braking, range_sigma_m=0.03, rate_sigma_mps=0.002,
        reaction_sigma_s=0.5, braking_share_sigma=0.1,
    )  # fmt: skip
    if sigma is not None:
        assert sigma == pytest.approx(spread, abs=0.1)


def test_latest_stop_call_spread_against_monte_carlo():
    """200,000 draws of range, rate, reaction and braking spread the call as the formula says."""
    rng = np.random.default_rng(7)
    n = 200_000
    for x, v in ((10.0, 0.09), (5.0, 0.09), (20.0, 0.2)):
        xs, vs = x + 0.03 * rng.standard_normal(n), v + 0.002 * rng.standard_normal(n)
        tds, braking = 2 + 0.3 * rng.standard_normal(n), 0.02 * (1 + 0.1 * rng.standard_normal(n))
        calls = (xs - 2.0 - (vs * tds + vs**2 / (2 * braking))) / vs
        call = latest_call_s(x, v, 2.0, 2.0, 0.02)
        sigma = latest_call_sigma_s(
            call, v, 2.0, 0.02, range_sigma_m=0.03, rate_sigma_mps=0.002,
            reaction_sigma_s=0.3, braking_share_sigma=0.1,
        )  # fmt: skip
        assert calls.std() == pytest.approx(sigma, rel=0.03)
        assert np.quantile(calls, 0.05) == pytest.approx(call - Z_95_ONE_SIDED * sigma, abs=0.15)


@given(st.floats(3.0, 100.0), st.floats(0.02, 0.5))
def test_a_call_at_the_latest_time_just_holds(range_m, rate):
    """Flown step by step, a call at the latest time halts the vehicle at the range asked for."""
    call = latest_call_s(range_m, rate, 1.8, 5.5, 0.01)
    x, v, t, step = range_m, rate, 0.0, 0.05
    if call is None or call < 0:
        return
    while v > 0:
        braking = 0.01 if t >= call + 5.5 else 0.0
        x -= v * step
        v -= braking * step
        t += step
    assert x == pytest.approx(1.8, abs=2 * rate * step + 0.01)


def test_latest_call_along_a_law_that_slows():
    """At 50 m on the slope the law's last call is far later than the constant-rate one."""
    law = ClosingLaw(0.09, 20.0, 0.003)
    on_law = latest_call_on_law_s(50.0, law, 2.0, 2.0, 0.02)
    constant = latest_call_s(50.0, law.rate_at(50.0), 2.0, 2.0, 0.02)
    at_m = law.range_after(50.0, on_law)
    assert at_m - stopping_distance_m(law.rate_at(at_m), 2.0, 0.02) == pytest.approx(2.0)
    assert on_law > 1.5 * constant


def test_latest_call_along_a_law_inside_the_knee_is_the_constant_one():
    """With one rate both figures are the same."""
    law = ClosingLaw(0.09, 20.0, 0.003)
    assert latest_call_on_law_s(10.0, law, 1.8, 5.5, 0.01) == pytest.approx(
        latest_call_s(10.0, 0.09, 1.8, 5.5, 0.01)
    )
    assert latest_call_on_law_s(2.0, law, 1.8, 5.5, 0.01) is None


def test_retreat_time():
    """From 5 m at 0.09 m/s back to 20 m at 0.2 m/s, 2 s and 2 cm/s^2: 88 s."""
    assert retreat_time_s(5.0, 0.09, 20.0, 0.2, 2.0, 0.02) == pytest.approx(88.0, abs=0.5)


@pytest.mark.parametrize("to_m", [4.9, 5.3, 6.0, 20.0])
def test_retreat_time_against_flying_it(to_m):
    """The retreat flown in small steps passes the range when the formula says."""
    x, v, t, step = 5.0, -0.09, 0.0, 0.001
    while x < to_m or t < 2.0 or v < 0:
        v = min(v + (0.02 * step if t >= 2.0 else 0.0), 0.2)
        x += v * step
        t += step
    expected = retreat_time_s(5.0, 0.09, to_m, 0.2, 2.0, 0.02)
    assert expected == pytest.approx(t, abs=0.01)


def test_retreat_from_where_it_already_is():
    """A retreat to a range that the stop does not pass takes no time."""
    assert retreat_time_s(25.0, 0.09, 20.0, 0.2, 2.0, 0.02) == 0.0
