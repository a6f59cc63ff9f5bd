"""Stopping figures from an estimated state: the exact formula, Monte Carlo, and drift."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from console.envelope.limits import HandsOff
from console.envelope.setup import Port, PortAxis, Retreat, Setup
from console.motion.orbit import mean_motion_of_altitude
from console.tracking.contact_time import AlongNow
from console.tracking.stopping import START_SIGMA_S, stop_figures
from console.tracking.tracker import Tracker
from tests.tracking.tracking_passes import LIMITS, Passing, feed

HANDS_OFF = HandsOff(1.8, 1.5, 4.0, 0.01)


def state(p: float, v: float) -> AlongNow:
    """Make a usual state."""
    return AlongNow(p, v, 1e-4, 0.0, 1e-6, 0.0, 0.02, 0.0006, 0.09, 0.015, 0.0)


@pytest.mark.parametrize("age_s", [0.0, 0.3, 5.0])
@pytest.mark.parametrize(("x", "v"), [(20.0, 0.09), (50.0, 0.2), (2.0, 0.09)])
def test_the_last_hold_call_is_the_written_formula(x, v, age_s):
    """(x - x_h - v (age + link + reaction) - v^2/(2a)) / v, negative where it is too late."""
    found = stop_figures(state(x, -v), age_s, HANDS_OFF, Retreat(), None)
    expected = (x - 1.8 - v * (age_s + 1.5 + 4.0) - v**2 / (2 * 0.01)) / v
    assert expected == pytest.approx(found.hold_call_s, rel=1e-14)
    assert (x - v * (age_s + 5.5) - v**2 / 0.02) / v == pytest.approx(found.contact_call_s)
    assert v * (age_s + 5.5) + v**2 / 0.02 == pytest.approx(found.distance_m)
    assert x - found.distance_m == pytest.approx(found.stops_at_m)
    assert age_s + 5.5 + v / 0.01 == pytest.approx(found.duration_s)


def test_the_safe_call_is_the_five_percent_point():
    """Of simulated calls at the safe time 5 % halt too late: a Monte Carlo of all its errors."""
    rng = np.random.default_rng(6)
    now = state(20.0, -0.2)
    found = stop_figures(now, 0.0, HANDS_OFF, Retreat(), None)
    count = 200_000
    x = rng.normal(20.0, now.range_sigma_m, count)
    v = rng.normal(0.2, now.rate_sigma_mps, count)
    start = rng.normal(0.0, START_SIGMA_S, count)
    braking = 0.01 * (1 + rng.normal(0.0, 0.05, count))
    latest = (x - 1.8 - v * (5.5 + start) - v**2 / (2 * braking)) / v
    assert np.quantile(latest, 0.05) == pytest.approx(found.hold_call_safe_s, abs=0.15)


def test_there_is_no_call_without_closing():
    """In a hold nothing is to be stopped; the way to halt is none."""
    found = stop_figures(state(20.0, 0.0), 0.2, HANDS_OFF, Retreat(), None)
    assert found.hold_call_s is found.hold_call_safe_s is found.contact_call_s is None
    assert found.distance_m == 0.0


def test_a_retreat_takes_the_published_time():
    """From 5 m at 0.09 m/s back to 20 m at 0.2 m/s: 88 s with 0.02 m/s^2 and 2 s of delay."""
    found = stop_figures(state(5.0, -0.09), 0.0, HandsOff(1.8, 1.0, 1.0, 0.02), Retreat(), None)
    assert pytest.approx(88.0, abs=4.0) == found.retreat_s
    outside = stop_figures(state(30.0, -0.09), 0.0, HANDS_OFF, Retreat(), None)
    assert outside.retreat_s is None


@pytest.mark.parametrize(
    ("x", "v", "nearest_m", "in_s"),
    [(100.0, 0.10, 66.365, 479.2), (30.0, 0.05, 15.508, 398.0)],
)
def test_drift_comes_nearest_where_the_published_cases_do(x, v, nearest_m, in_s):
    """The free-drift cases at 400 km: nearest range and its time."""
    one = Tracker(LIMITS, Setup(port=Port(PortAxis.V_MINUS)))
    t = feed(one, Passing(start_m=x, closing_mps=0.0, for_s=3.0, noise=0.01).samples())
    at = one._state(t)
    at.along.axis.p, at.along.axis.v = x, -v
    for axis in (at.y, at.z):
        axis.p = axis.v = 0.0
    one._cache.clear()
    found = one.stop(t, 0.0)
    assert pytest.approx(nearest_m, rel=0.01) == found.drift_least_m
    assert pytest.approx(in_s, rel=0.02) == found.drift_least_in_s


def test_drift_agrees_with_an_integration():
    """Least distance over two orbits, from an integration of Hill's equations in one piece."""
    n = mean_motion_of_altitude(420.0)
    one = Tracker(LIMITS, Setup())
    t = feed(one, Passing(start_m=60.0, closing_mps=0.08, for_s=20.0).samples())
    at = one._state(t)
    start = [at.along.axis.p, at.y.p, at.z.p, at.along.axis.v, at.y.v, at.z.v]

    def rates(_t, s):
        _, y, z, vx, vy, vz = s
        return [vx, vy, vz, 2 * n * vz, -n * n * y, -2 * n * vx + 3 * n * n * z]

    times = np.linspace(0.0, 11_000.0, 110_001)
    flown = solve_ivp(rates, (0.0, 11_000.0), start, t_eval=times, rtol=1e-9, atol=1e-9)
    distance = np.sqrt((flown.y[:3] ** 2).sum(axis=0))
    found = one.stop(t, 0.0)
    assert distance.min() == pytest.approx(found.drift_least_m, abs=0.02)
    assert times[distance.argmin()] == pytest.approx(found.drift_least_in_s, abs=2.0)
