"""Port frames against the axes they are made of, and the port's offset from the centre of mass."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from console.motion.cw import transition_matrix
from console.motion.port_axes import (
    offset_in_port,
    port_forced_response,
    port_from_vhr,
    port_from_vhr_state,
    port_transition,
    vhr_from_port_state,
)

N = 1.126e-3
AXES = {"V+": (1, 0, 0), "V-": (-1, 0, 0), "R+": (0, 0, 1), "R-": (0, 0, -1)}


@pytest.mark.parametrize("axis", AXES)
def test_the_docking_axis_points_where_its_name_says(axis):
    """+x of the port frame is the named axis of V, H, R; the frame is right-handed."""
    rotation = port_from_vhr(axis)
    assert tuple(rotation @ np.array(AXES[axis], float)) == (1.0, 0.0, 0.0)
    np.testing.assert_array_equal(rotation @ rotation.T, np.eye(3))
    assert np.linalg.det(rotation) == pytest.approx(1.0)


def test_port_axes_along_velocity_and_radius():
    """Ahead the port frame is (V, H, R); toward the Earth it is (R, H, -V)."""
    state = np.array([1.0, 2.0, 3.0, 0.1, 0.2, 0.3])  # V, H, R
    assert tuple(port_from_vhr_state("V+", state)) == (1.0, 2.0, 3.0, 0.1, 0.2, 0.3)
    assert tuple(port_from_vhr_state("R+", state)) == (3.0, 2.0, -1.0, 0.3, 0.2, -0.1)


def test_an_unknown_axis_is_refused():
    """The text names what is allowed."""
    with pytest.raises(ValueError, match=r"'H\+': must be one of V\+, V-, R\+, R-"):
        port_from_vhr("H+")


@pytest.mark.parametrize("axis", AXES)
def test_there_and_back_is_the_same_state(axis):
    """Port to V, H, R and back gives the state, with any offset."""
    state = np.array([20.0, -1.0, 2.0, -0.09, 0.01, -0.02])
    offset = (3.0, -4.0, 15.0)
    there = vhr_from_port_state(axis, state, offset)
    np.testing.assert_allclose(port_from_vhr_state(axis, there, offset), state, atol=1e-14)


@pytest.mark.parametrize("axis", AXES)
@pytest.mark.parametrize("offset", [(0.0, 0.0, 0.0), (3.0, -4.0, 15.0)])
def test_port_transition_is_the_orbits_about_the_centre_of_mass(axis, offset):
    """Add the offset, carry on, take it off: the same as one product in the port frame."""
    state = np.array([20.0, -1.0, 2.0, -0.09, 0.01, -0.02])
    matrix, constant = port_transition(axis, offset, N, 900.0)
    about_centre = transition_matrix(N, 900.0) @ vhr_from_port_state(axis, state, offset)
    expected = port_from_vhr_state(axis, about_centre, offset)
    np.testing.assert_allclose(matrix @ state + constant, expected, atol=1e-9)


def test_an_offset_along_the_velocity_drops_out():
    """Moving the port along V changes no drift; moving it along R does."""
    _, along = port_transition("V+", (15.0, 0.0, 0.0), N, 900.0)
    _, across = port_transition("R+", (0.0, 0.0, 15.0), N, 900.0)
    assert np.abs(along).max() < 1e-12
    assert np.linalg.norm(across[:3]) == pytest.approx(25.0, abs=2.0)  # m in 15 min


def test_offset_in_port_axes():
    """An offset given along V, H, R is turned like any vector."""
    assert tuple(offset_in_port("R+", (1.0, 2.0, 15.0))) == (15.0, 2.0, -1.0)


@pytest.mark.parametrize("axis", AXES)
def test_a_steady_push_in_the_port_frame(axis):
    """The forced response equals Hill's equations integrated with the push turned into V, H, R."""
    push = np.array([1e-3, -2e-3, 5e-4])
    turned = port_from_vhr(axis).T @ push

    def rates(_, s):
        return [
            *s[3:],
            2 * N * s[5] + turned[0],
            -N * N * s[1] + turned[1],
            -2 * N * s[3] + 3 * N * N * s[2] + turned[2],
        ]

    end = solve_ivp(rates, (0, 200), np.zeros(6), rtol=1e-11, atol=1e-13).y[:, -1]
    found = port_forced_response(axis, N, 200.0) @ push
    np.testing.assert_allclose(found, port_from_vhr_state(axis, end), atol=1e-7)
