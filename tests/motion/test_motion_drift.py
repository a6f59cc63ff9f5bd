"""Free drift against published cases and against a fine integration."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from console.motion.cw import transition_matrix
from console.motion.drift import FreeDrift, drift_times_s
from console.motion.orbit import period_s

N = 0.0011313666536  # 400 km
AHEAD = FreeDrift("V-", N)  # the tables' chaser comes from behind


def state(x, closing, y=0.0, z=0.0, vy=0.0, vz=0.0):
    """Give a port-frame state that closes."""
    return np.array([x, y, z, -closing, vy, vz])


@pytest.mark.parametrize(
    ("start", "closing", "nearest", "when", "later"),
    [(100.0, 0.10, 66.365, 479.2, -1766.09), (30.0, 0.05, 15.508, 398.0, -863.04)],
)
def test_drift_of_a_vehicle_on_the_velocity_axis(start, closing, nearest, when, later):
    """All thrust lost at 100 and 30 m behind: nearest range, its time, and y after one orbit."""
    outcome = AHEAD.ahead(state(start, closing))
    assert nearest == pytest.approx(outcome.nearest_m, abs=0.01)
    assert when == pytest.approx(outcome.nearest_in_s, abs=0.5)
    carried = transition_matrix(N, period_s(N)) @ np.array([-start, 0, 0, closing, 0, 0])
    assert later == pytest.approx(carried[0], abs=0.01)


def test_a_pulse_along_the_velocity_carries_a_known_way():
    """The most a pulse v carries along V is 0.47755 v/n = 422.1 s times v."""
    outcome_from = 200.0
    path = AHEAD.positions(state(outcome_from, 0.1))[0]
    assert outcome_from - path.min() == pytest.approx(0.47755 * 0.1 / N, abs=0.01)
    assert pytest.approx(422.1, abs=0.05) == 0.47755 / N


def test_passively_safe_outside_422_s_of_rate():
    """At 0.10 m/s a vehicle at 43 m never passes the port, one at 41 m does."""
    assert AHEAD.ahead(state(43.0, 0.10)).passes_port_in_s is None
    assert AHEAD.ahead(state(41.0, 0.10)).passes_port_in_s is not None


def fine(start, offset=0.0, axis_r=False):
    """Integrate Hill's equations in V, H, R over two orbits on a 1 s grid, port frame back."""

    def rates(_, s):
        return [
            *s[3:],
            2 * N * s[5],
            -N * N * s[1],
            -2 * N * s[3] + 3 * N * N * s[2],
        ]

    x, y, z, vx, vy, vz = start
    begin = [-z, y, x + offset, -vz, vy, vx] if axis_r else [x, y, z, vx, vy, vz]
    t = np.arange(0, 2 * period_s(N), 1.0)
    path = solve_ivp(rates, (0, t[-1]), begin, t_eval=t, rtol=1e-9, atol=1e-9).y
    if axis_r:
        return t, np.array([path[2] - offset, path[1], -path[0]])
    return t, path[:3]


@pytest.mark.parametrize(
    "start",
    [
        (20.0, 0.1, -0.1, -0.09, 0.001, 0.002),
        (5.0, 0.0, 0.0, -0.09, 0.0, -0.01),
        (100.0, 2.0, 3.0, -0.3, 0.0, 0.0),
        (190.0, 0.0, 0.0, 0.3, 0.02, 0.0),
    ],
)
def test_nearest_range_against_integration(start):
    """The least distance and its time on a 1 s integration, to centimetres and a second."""
    t, path = fine(start)
    distance = np.linalg.norm(path, axis=0)
    outcome = FreeDrift("V+", N).ahead(np.array(start))
    assert distance.min() == pytest.approx(outcome.nearest_m, abs=0.02)
    if outcome.nearest_m > 0.1:
        assert t[distance.argmin()] == pytest.approx(outcome.nearest_in_s, abs=1.5)


@pytest.mark.parametrize("offset", [0.0, 15.0])
def test_drift_below_with_the_ports_offset(offset):
    """On R the port's offset from the centre of mass is added before and taken off after."""
    start = (20.0, 0.2, 0.1, -0.09, 0.0, 0.002)
    t, path = fine(start, offset, axis_r=True)
    drift = FreeDrift("R+", N, offset_vhr_m=(0.0, 0.0, offset), keep_out_m=200.0)
    outcome = drift.ahead(np.array(start))
    distance = np.linalg.norm(path, axis=0)
    assert distance.min() == pytest.approx(outcome.nearest_m, abs=0.02)
    centre = np.linalg.norm(path + np.array([[offset], [0], [0]]), axis=0)
    assert outcome.inside_keep_out
    assert t[np.argmax(centre > 200.0)] == pytest.approx(outcome.leaves_keep_out_in_s, abs=2.0)


def test_keep_out_sphere_entered_from_outside():
    """A vehicle outside the sphere that drifts in says when; one that stays out says never."""
    drift = FreeDrift("V+", N)
    start = (230.0, 0.0, 0.0, -0.3, 0.0, 0.0)
    t, path = fine(start)
    inside = np.linalg.norm(path, axis=0) < 200.0
    outcome = drift.ahead(np.array(start))
    assert not outcome.inside_keep_out
    assert outcome.leaves_keep_out_in_s is None
    assert t[np.argmax(inside)] == pytest.approx(outcome.enters_keep_out_in_s, abs=2.0)
    away = drift.ahead(np.array([230.0, 0.0, 0.0, 0.3, 0.0, 0.0]))
    assert away.enters_keep_out_in_s is None


def test_keep_out_sphere_left_and_entered_again():
    """A radial pulse inside the sphere leaves it and comes back after an orbit."""
    start = (0.0, 0.0, 10.0, 0.02, 0.0, 0.35)
    t, path = fine(start)
    outside = np.linalg.norm(path, axis=0) > 200.0
    left = int(np.argmax(outside))
    back = left + int(np.argmax(~outside[left:]))
    outcome = FreeDrift("V+", N).ahead(np.array(start))
    assert t[left] == pytest.approx(outcome.leaves_keep_out_in_s, abs=3.0)
    if not outside[left:].all():
        assert t[back] == pytest.approx(outcome.enters_keep_out_in_s, abs=5.0)
    else:
        assert outcome.enters_keep_out_in_s is None


def test_corridor_left_on_the_way():
    """The frustum of 10 degrees, 0.1 m at the port, is left when the integration leaves it."""
    start = (20.0, 0.0, 0.0, -0.09, 0.004, 0.0)
    t, path = fine(start)
    outside = np.hypot(path[1], path[2]) > 0.1 + np.tan(np.radians(10.0)) * path[0]
    outcome = FreeDrift("V+", N).ahead(np.array(start))
    assert t[np.argmax(outside)] == pytest.approx(outcome.leaves_corridor_in_s, abs=1.5)
    outside_now = FreeDrift("V+", N).ahead(np.array([20.0, 4.0, 0.0, -0.09, 0.0, 0.0]))
    assert outside_now.leaves_corridor_in_s == 0.0


def test_contact_before_the_corridor_is_left():
    """Drift straight into the port leaves no corridor on the way and says when it arrives."""
    outcome = FreeDrift("V+", N).ahead(state(1.0, 0.1))
    assert outcome.leaves_corridor_in_s is None
    assert outcome.passes_port_in_s == pytest.approx(10.0, abs=0.1)


def test_times_rise_from_now_and_are_finer_first():
    """Times start now, rise, take 1 s steps first and reach two orbits."""
    times = drift_times_s(period_s(N))
    assert times[0] == 0.0
    assert times[-1] >= 2 * period_s(N)
    assert np.all(np.diff(times) > 0)
    assert np.all(np.diff(times[:60]) == 1.0)


@given(
    st.tuples(
        st.floats(0.5, 200.0),
        st.floats(-5.0, 5.0),
        st.floats(-5.0, 5.0),
        st.floats(-0.5, 0.3),
        st.floats(-0.05, 0.05),
        st.floats(-0.05, 0.05),
    )
)
def test_nearest_is_never_beyond_what_a_dense_grid_finds(start):
    """An even 1 s grid of the same transition finds the same least distance to 0.25 m."""
    drift = FreeDrift("V+", N)
    found = drift.ahead(np.array(start))
    times = np.arange(0.0, 2 * period_s(N), 1.0)
    dense = FreeDrift("V+", N, times_s=times)
    least = np.linalg.norm(dense.positions(np.array(start)), axis=0).min()
    assert found.nearest_m <= least + 0.25
    assert found.nearest_m >= least - 0.25
