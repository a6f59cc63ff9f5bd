"""Glide slopes against published figures and against plain integration."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from console.motion.glide_slope import (
    ClosingLaw,
    distance_left_m,
    exponential_s,
    rate_mps,
    slope_per_s,
    to_contact_s,
    transfer_s,
)


@pytest.mark.parametrize(
    ("distance", "first", "last", "slope", "time", "half_way", "half_rate"),
    [
        (447.2135955, -1.0, -0.3, -0.00156524758, 769.190010, 158.264137, -0.547722558),
        (100.0, -0.5, -0.1, -0.004, 402.359478, 30.901699, -0.223606798),
        (250.0, -0.5, -0.07, -0.00172, 1143.088870, 68.071436, -0.187082869),
        (19.0, -0.15, -0.07, -0.00421052632, 181.008262, 7.711508, -0.102469508),
    ],
)
def test_glide_slope_table(distance, first, last, slope, time, half_way, half_rate):
    """Slope, time of transfer and the state half-way (Hablani et al., JGCD 25(3), 2002)."""
    assert slope == pytest.approx(slope_per_s(distance, first, last), rel=5e-9)
    assert time == pytest.approx(transfer_s(distance, first, last), abs=1e-6)
    assert half_way == pytest.approx(distance_left_m(distance, first, last, time / 2), abs=1e-6)
    assert half_rate == pytest.approx(rate_mps(distance, first, last, time / 2), abs=1e-9)
    assert -math.sqrt(first * last) == pytest.approx(half_rate, abs=1e-9)


def test_glide_slope_in_fifths():
    """From 100 m at 0.5 to 0.1 m/s in five equal times."""
    total = transfer_s(100.0, -0.5, -0.1)
    left = [distance_left_m(100.0, -0.5, -0.1, total * i / 5) for i in range(6)]
    expected = [100.0, 65.597458, 40.663195, 22.591348, 9.493242, 0.0]
    assert expected == pytest.approx(left, abs=1e-6)


def test_a_glide_slope_of_one_rate_is_plain_motion():
    """Equal rates: distance over rate."""
    assert transfer_s(10.0, -0.1, -0.1) == pytest.approx(100.0)
    assert distance_left_m(10.0, -0.1, -0.1, 30.0) == pytest.approx(7.0)
    assert rate_mps(10.0, -0.1, -0.1, 30.0) == pytest.approx(-0.1)


def test_a_glide_slope_that_opens_is_refused():
    """Both rates must close."""
    with pytest.raises(ValueError, match="both must be < 0"):
        transfer_s(10.0, 0.1, -0.1)


def test_exponential_law_takes_long():
    """0.1 % of range a second: 4605.17 s from 100 m to 1 m."""
    assert exponential_s(100.0, 1.0, 0.001) == pytest.approx(4605.17, abs=0.005)


def test_time_to_contact_on_a_slope_and_at_the_present_rate():
    """At 100 m, slope 0.004, final 0.1 m/s: 402.36 s, where range over rate says 200 s."""
    law = ClosingLaw(0.1, 0.0, 0.004)
    assert law.between_s(100.0, 0.0) == pytest.approx(402.36, abs=0.005)
    assert to_contact_s(100.0, 0.5, 0.0, 0.1) == pytest.approx(402.36, abs=0.005)
    assert law.rate_at(100.0) == pytest.approx(0.5)


def test_final_approach_from_50_m():
    """Outside the knee ln(s/vf)/k + knee/vf."""
    k = (0.1667 - 0.09) / 30
    expected = math.log(0.1667 / 0.09) / k + 20 / 0.09
    assert expected == pytest.approx(to_contact_s(50.0, 0.1667, 20.0, 0.09), rel=1e-12)


def test_inside_the_knee_the_present_rate_is_kept():
    """Inside the knee it is range over rate."""
    assert to_contact_s(10.0, 0.08, 20.0, 0.09) == pytest.approx(125.0)


def test_times_where_there_is_none():
    """Not closing: infinite; at or behind the contact plane: 0; away from the port: 0."""
    assert to_contact_s(10.0, 0.0, 20.0, 0.09) == math.inf
    assert to_contact_s(10.0, -0.1, 20.0, 0.09) == math.inf
    assert to_contact_s(0.0, 0.1, 20.0, 0.09) == 0.0
    assert ClosingLaw(0.09, 20.0, 0.003).between_s(10.0, 12.0) == 0.0
    assert ClosingLaw(0.0, 20.0, 0.003).between_s(30.0, 10.0) == math.inf
    assert ClosingLaw(0.09, 20.0, -0.01).between_s(60.0, 30.0) == math.inf


laws = st.builds(
    ClosingLaw,
    st.floats(0.02, 0.2),
    st.floats(0.0, 30.0),
    st.one_of(st.just(0.0), st.floats(1e-5, 0.01)),
)


@given(laws, st.floats(0.0, 150.0), st.floats(0.1, 60.0))
def test_law_times_are_the_integral_of_one_over_the_rate(law, to_m, further_m):
    """The time between two ranges equals the numerical integral of dx/v (scipy.integrate.quad)."""
    from_m = to_m + further_m
    knee = [law.knee_m] if to_m < law.knee_m < from_m else None
    expected, _ = quad(lambda x: 1.0 / law.rate_at(x), to_m, from_m, points=knee)
    assert expected == pytest.approx(law.between_s(from_m, to_m), rel=1e-6)


@given(laws, st.floats(1.0, 150.0), st.floats(0.0, 500.0))
def test_range_after_a_time_undoes_the_time_between(law, from_m, t_s):
    """Going on for a time and asking how long that took gives the time."""
    there = law.range_after(from_m, t_s)
    if there > 0.0:
        assert t_s == pytest.approx(law.between_s(from_m, there), rel=1e-7, abs=1e-7)
    else:
        assert t_s >= law.between_s(from_m, 0.0) - 1e-7


def test_range_after_against_integration():
    """The law integrated step by step (scipy) passes through the same ranges."""
    law = ClosingLaw(0.09, 20.0, 0.0046 / 1.8)
    path = solve_ivp(
        lambda _, x: [-law.rate_at(x[0])], (0, 600), [120.0], rtol=1e-10, dense_output=True
    )
    for t in (0.0, 50.0, 300.0, 500.0, 600.0):
        assert path.sol(t)[0] == pytest.approx(law.range_after(120.0, t), abs=1e-5)
