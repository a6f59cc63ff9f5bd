"""Hill's equations against published examples, the matrix exponential and two-body motion."""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.linalg import expm

from console.motion.cw import (
    VHR_FROM_HILL,
    forced_response,
    hold_acceleration,
    transition_matrix,
    two_impulse_velocity,
)
from console.motion.orbit import mean_motion, mean_motion_of_altitude, period_s

VALLADO_MU = 398600.4418e9  # m^3/s^2
VALLADO_RADIUS_M = 6378137.0
N_590 = mean_motion(VALLADO_RADIUS_M + 590e3, VALLADO_MU)
N_400 = 0.0011313666536  # rad/s, 400 km over 6378.137 km with mu 3.986004418e14
TURN = np.kron(np.eye(2), VHR_FROM_HILL)


def hill_transition(n, t):
    """Give the transition in Hill's own axes, from ours."""
    return TURN.T @ transition_matrix(n, t) @ TURN


def hill_system(n):
    """Give the system matrix of Hill's equations in Hill's axes, written down independently."""
    system = np.zeros((6, 6))
    system[:3, 3:] = np.eye(3)
    system[3, 0], system[3, 4] = 3 * n * n, 2 * n
    system[4, 3] = -2 * n
    system[5, 2] = -n * n
    return system


def vhr_system(n):
    """Give the system matrix in V, H, R from the equations in the module's docstring."""
    system = np.zeros((6, 6))
    system[:3, 3:] = np.eye(3)
    system[3, 5] = 2 * n
    system[4, 1] = -n * n
    system[5, 3], system[5, 2] = -2 * n, 3 * n * n
    return system


@pytest.mark.parametrize(
    ("t", "expected"),
    [
        (300, (-33.345724, -1.473562, -5.894530, -0.120337092, 0.032387573, -0.018949032)),
        (600, (-70.933064, 20.356589, -11.169564, -0.128027141, 0.113982931, -0.015906581)),
        (1200, (-143.000740, 137.279196, -17.766959, -0.103647414, 0.270428900, -0.005301933)),
    ],
)
def test_free_motion_of_vallado_example_6_14(t, expected):
    """Vallado, Fundamentals of Astrodynamics and Applications, Ex. 6-14, to its printed digits."""
    start = np.array([0, 0, 0, -0.1, -0.04, -0.02])
    found = hill_transition(N_590, float(t)) @ start
    assert expected[:3] == pytest.approx(tuple(found[:3]), abs=1e-6)
    assert expected[3:] == pytest.approx(tuple(found[3:]), abs=1e-9)


@pytest.mark.parametrize(
    ("t", "velocity", "size"),
    [
        (300, (0.274190623, 0.013468100, 0.035906581), 0.417812),
        (900, (0.135629096, 0.075282083, 0.008186536), 0.267568),
    ],
)
def test_return_to_the_target_of_vallado_example_6_15(t, velocity, size):
    """Vallado Ex. 6-15: velocity that returns to the origin from Ex. 6-14's state at 600 s."""
    state = hill_transition(N_590, 600.0) @ np.array([0, 0, 0, -0.1, -0.04, -0.02])
    start = VHR_FROM_HILL @ state[:3]
    departure, _ = two_impulse_velocity(N_590, start, np.zeros(3), float(t))
    in_hill = VHR_FROM_HILL.T @ departure
    assert velocity == pytest.approx(tuple(in_hill), abs=1e-9)
    assert size == pytest.approx(float(np.linalg.norm(in_hill - state[3:])), abs=1e-6)


def test_two_impulse_rendezvous_of_curtis_example_7_4():
    """Curtis, Orbital Mechanics for Engineering Students, Ex. 7.4: total 0.1096369 km/s in 8 h."""
    r = np.array([1622.39, 5305.10, 3717.44])
    v = np.array([-7.29936, 0.492329, 2.48304])
    r_chaser = np.array([1612.75, 5310.19, 3750.33])
    v_chaser = np.array([-7.35170, 0.463828, 2.46906])
    i, j = r / np.linalg.norm(r), v / np.linalg.norm(v)
    hill_from_inertial = np.array([i, j, np.cross(i, j)])
    n = float(np.linalg.norm(v) / np.linalg.norm(r))
    offset = hill_from_inertial @ (r_chaser - r)
    omega = n * np.cross(i, j)
    moving = hill_from_inertial @ (v_chaser - v - np.cross(omega, r_chaser - r))

    departure, arrival = two_impulse_velocity(n, VHR_FROM_HILL @ offset, np.zeros(3), 8 * 3600.0)

    departure, arrival = VHR_FROM_HILL.T @ departure, VHR_FROM_HILL.T @ arrival
    assert pytest.approx(0.0011569097, abs=1e-10) == n
    assert pytest.approx(tuple(offset), abs=2e-5) == (20.01046, 20.00288, 20.00140)
    assert pytest.approx(tuple(moving), abs=2e-7) == (-0.0199981, 0.0199912, -0.0050008)
    assert pytest.approx(tuple(departure), abs=1e-8) == (0.00931074, -0.04677184, 0.00798487)
    assert pytest.approx(tuple(arrival), abs=1e-8) == (-0.02581208, -0.00047124, -0.02447875)
    first, second = np.linalg.norm(departure - moving), np.linalg.norm(arrival)
    assert pytest.approx(0.0740603, abs=1e-7) == first
    assert pytest.approx(0.0355766, abs=1e-7) == second
    assert pytest.approx(0.1096369, abs=1e-7) == first + second


def test_transition_elements_at_400_km():
    """The printed elements of the matrix after 600 s at 400 km, in Hill's axes."""
    phi = hill_transition(N_400, 600.0)
    expected = {
        (1, 1): 1.6650575262,
        (1, 4): 554.97043558,
        (1, 5): 391.89035910,
        (2, 1): -0.30566968563,
        (2, 5): 419.88174234,
        (3, 3): 0.77831415792,
        (4, 1): 0.0021310706642,
        (5, 1): -0.0015048478158,
        (4, 5): 1.2557500891,
        (5, 5): 0.11325663168,
    }
    found = {place: phi[place[0] - 1, place[1] - 1] for place in expected}
    assert expected == pytest.approx(found, rel=1e-9)
    assert pytest.approx(1.0, abs=1e-9) == np.linalg.det(phi)


def test_mean_motion_and_period_at_400_km():
    """400 km over WGS 84's radius: 0.0011313666536 rad/s and 5553.6243 s."""
    n = mean_motion_of_altitude(400.0)
    assert pytest.approx(N_400, rel=1e-10) == n
    assert pytest.approx(5553.6243, abs=1e-4) == period_s(n)


def test_mean_motion_refuses_an_orbit_inside_the_earth():
    """A semi-major axis of 0 or less is refused."""
    with pytest.raises(ValueError, match="must be > 0"):
        mean_motion_of_altitude(-6378.137)


def test_hop_along_the_velocity():
    """-250 to -100 m along V in 600 s takes two impulses of 0.2636017568 m/s each."""
    departure, arrival = two_impulse_velocity(N_400, (-250.0, 0, 0), (-100.0, 0, 0), 600.0)
    first, second = VHR_FROM_HILL.T @ departure, -(VHR_FROM_HILL.T @ arrival)
    assert pytest.approx(tuple(first), abs=1e-10) == (-0.1520526456, 0.2153273767, 0.0)
    assert pytest.approx(tuple(second), abs=1e-10) == (-0.1520526456, -0.2153273767, 0.0)
    assert pytest.approx(0.2636017568, abs=1e-10) == np.linalg.norm(first)


def test_half_orbit_hop_is_purely_radial():
    """150 m forward in half an orbit needs one radial impulse of n 150/4 outward and back."""
    half = math.pi / N_400
    state = np.array([-250.0, 0, 0, 0, 0, 0.0424262495])  # R is toward the Earth: -radial
    end = transition_matrix(N_400, half) @ state
    assert pytest.approx(tuple(end[:3]), abs=1e-6) == (-100.0, 0.0, 0.0)


def test_closed_form_facts_of_pulses_and_drift():
    """Radial and tangential pulses, the 2:1 ellipse and co-elliptic motion (Fehse, ch. 3)."""
    orbit, half = 2 * math.pi / N_400, math.pi / N_400
    radial = np.array([0, 0, 0, 0.5, 0, 0])
    tangential = np.array([0, 0, 0, 0, 0.5, 0])
    half_way = hill_transition(N_400, half) @ radial
    assert pytest.approx(1767.77, abs=0.01) == abs(half_way[1])
    assert pytest.approx(0.0, abs=1e-6) == (hill_transition(N_400, orbit) @ radial)[1]
    quarter = hill_transition(N_400, half / 2) @ radial
    assert pytest.approx(0.5 / N_400, rel=1e-9) == quarter[0]  # radial extent, each way
    round_trip = hill_transition(N_400, orbit) @ tangential
    assert pytest.approx(8330.44, abs=0.01) == abs(round_trip[1])
    ellipse = np.array([100.0, 0, 0, 0, -2 * N_400 * 100.0, 0])
    back = hill_transition(N_400, orbit) @ ellipse
    assert tuple(ellipse) == pytest.approx(tuple(back), abs=1e-6)
    below = np.array([-100.0, 0, 0, 0, -1.5 * N_400 * -100.0, 0])
    assert pytest.approx(0.169705, abs=1e-6) == below[4]
    assert pytest.approx(-100.0, abs=1e-9) == (hill_transition(N_400, 1000.0) @ below)[0]


def test_hold_lost_below_the_target_drifts_ahead():
    """A hold on R at 250 m below, thrust lost: 12 pi 250 = 9424.78 m ahead after one orbit."""
    orbit = 2 * math.pi / N_400
    end = transition_matrix(N_400, orbit) @ np.array([0, 0, 250.0, 0, 0, 0])
    assert pytest.approx(12 * math.pi * 250, rel=1e-9) == end[0]
    assert pytest.approx(9424.78, abs=0.01) == end[0]


def test_hold_on_the_velocity_axis_stays():
    """On V at rest the vehicle stays, to the order of these equations."""
    state = np.array([200.0, 0, 0, 0, 0, 0])
    assert tuple(state) == pytest.approx(
        tuple(transition_matrix(N_400, 5000.0) @ state), abs=1e-12
    )


def test_thrust_that_cancels_the_orbit():
    """A straight run along V at 0.1 m/s needs 2nV, a hold 250 m below 3n^2 z."""
    run = hold_acceleration(N_400, [100.0, 0, 0, -0.1, 0, 0])
    assert pytest.approx(2.2627e-4, rel=1e-4) == abs(run[2])
    assert run[0] == 0.0
    below = hold_acceleration(N_400, [0, 0, 250.0, 0, 0, 0])
    assert pytest.approx(9.59993e-4, rel=1e-5) == abs(below[2])


def test_thrust_that_cancels_the_orbit_keeps_the_velocity():
    """Integrated with that thrust, any velocity stays what it was."""
    start = np.array([30.0, -4.0, 6.0, -0.3, 0.05, -0.02])

    def rates(_, state):
        push = np.concatenate([np.zeros(3), hold_acceleration(N_400, state)])
        return vhr_system(N_400) @ state + push

    end = solve_ivp(rates, (0, 300), start, rtol=1e-11, atol=1e-12).y[:, -1]
    assert tuple(start[3:]) == pytest.approx(tuple(end[3:]), abs=1e-10)


@pytest.mark.parametrize("t", [-700.0, 0.0, 0.1, 1.0, 60.0, 2777.0, 11000.0])
def test_transition_is_the_matrix_exponential(t):
    """scipy.linalg.expm of either system matrix gives the same transition."""
    scale = np.array([1, 1, 1, N_400, N_400, N_400])
    ours = transition_matrix(N_400, t) * scale / scale[:, None]
    theirs = expm(vhr_system(N_400) * t) * scale / scale[:, None]
    np.testing.assert_allclose(ours, theirs, rtol=1e-9, atol=1e-9)
    hill = hill_transition(N_400, t) * scale / scale[:, None]
    np.testing.assert_allclose(
        hill, expm(hill_system(N_400) * t) * scale / scale[:, None], rtol=1e-9, atol=1e-9
    )


@pytest.mark.parametrize("t", [0.1, 1.0, 400.0, 3000.0])
def test_forced_response_is_the_exponential_of_the_extended_system(t):
    """A constant input added to the system (van Loan's matrix) gives the same response."""
    extended = np.zeros((9, 9))
    extended[:6, :6] = vhr_system(N_400)
    extended[3:6, 6:] = np.eye(3)
    theirs = expm(extended * t)[:6, 6:]
    np.testing.assert_allclose(forced_response(N_400, t), theirs, rtol=1e-7, atol=1e-9)


def test_many_times_at_once_equal_one_by_one():
    """An array of times gives the stack of the single matrices."""
    times = np.array([[0.0, 1.0, 7.5], [60.0, 600.0, 5000.0]])
    stacked = transition_matrix(N_400, times)
    assert stacked.shape == (2, 3, 6, 6)
    for index in np.ndindex(2, 3):
        np.testing.assert_array_equal(
            transition_matrix(N_400, float(times[index])), stacked[index]
        )


def two_body(state, n, t):
    """Carry a V, H, R state on by integrating both bodies about the Earth; give V, H, R again."""
    mu = 3.986004418e14
    radius = (mu / n**2) ** (1 / 3)
    target = np.array([radius, 0, 0, 0, radius * n, 0])

    def axes(body):
        out = body[:3] / np.linalg.norm(body[:3])
        normal = np.cross(body[:3], body[3:])
        normal /= np.linalg.norm(normal)
        return np.array([np.cross(normal, out), -normal, -out])

    spin = np.array([0, 0, n])
    rotation = axes(target)
    chaser = np.concatenate(
        [
            target[:3] + rotation.T @ state[:3],
            target[3:] + rotation.T @ state[3:] + np.cross(spin, rotation.T @ state[:3]),
        ]
    )

    def rates(_, y):
        out = np.empty(12)
        for i in (0, 6):
            out[i : i + 3] = y[i + 3 : i + 6]
            out[i + 3 : i + 6] = -mu * y[i : i + 3] / np.linalg.norm(y[i : i + 3]) ** 3
        return out

    start = np.concatenate([target, chaser])
    end = solve_ivp(rates, (0, t), start, method="DOP853", rtol=1e-13, atol=1e-9).y[:, -1]
    rotation = axes(end[:6])
    apart = end[6:9] - end[:3]
    moving = end[9:12] - end[3:6] - np.cross(spin, apart)
    return np.concatenate([rotation @ apart, rotation @ moving])


@pytest.mark.parametrize(
    ("state", "t", "tolerance_m"),
    [
        ((20.0, 0.1, -0.1, -0.09, 0.001, 0.002), 300.0, 0.001),
        ((20.0, 0.1, -0.1, -0.09, 0.001, 0.002), 900.0, 0.03),
        ((200.0, 0.0, 0.0, -0.9, 0.0, 0.0), 300.0, 0.01),
        ((200.0, 0.0, 0.0, -0.9, 0.0, 0.0), 900.0, 0.05),
        ((200.0, 0.0, 0.0, -0.9, 0.0, 0.0), 2700.0, 4.0),
        ((0.0, 1.0, 100.0, 0.0, 0.01, -0.1), 600.0, 0.02),
    ],
)
def test_free_motion_against_two_bodies(state, t, tolerance_m):
    """Two bodies integrated about the Earth stay near: the equations' own linearisation error."""
    ours = transition_matrix(N_400, t) @ np.array(state)
    theirs = two_body(np.array(state), N_400, t)
    assert np.linalg.norm(ours[:3] - theirs[:3]) < tolerance_m


@pytest.mark.parametrize(("range_m", "off_m"), [(200.0, 0.111), (1000.0, 2.78), (10_000.0, 278.0)])
def test_validity_of_a_rest_on_the_velocity_axis(range_m, off_m):
    """At rest on V the two-body answer is off by 0.111, 2.78 and 278 m after one orbit."""
    state = np.array([-range_m, 0, 0, 0, 0, 0])
    orbit = 2 * math.pi / N_400
    gap = two_body(state, N_400, orbit) - transition_matrix(N_400, orbit) @ state
    assert pytest.approx(off_m, rel=0.01) == np.linalg.norm(gap[:3])


def test_two_impulses_refuse_a_time_that_determines_nothing():
    """With no time at all no velocity reaches another place."""
    with pytest.raises(ValueError, match="no velocity is determined"):
        two_impulse_velocity(N_400, (100.0, 1.0, 0.0), (0.0, 0.0, 0.0), 0.0)
