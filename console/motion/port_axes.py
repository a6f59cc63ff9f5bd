"""Between the orbital axes V, H, R and the port frame, for each way a port can look.

The port frame has +x out along the docking axis and +z toward the clocking mark. Where the port
looks along the velocity the mark is on the Earth's side; where it looks along the radius the mark
is on the side that makes the frame right-handed with y along H.
"""

from __future__ import annotations

from typing import Final, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from console.motion.cw import forced_response, transition_matrix

Array = NDArray[np.float64]
Offset: TypeAlias = tuple[float, float, float]
NO_OFFSET: Final[Offset] = (0.0, 0.0, 0.0)

_AXES: Final[dict[str, tuple[tuple[float, float, float], ...]]] = {
    "V+": ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
    "V-": ((-1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, 1.0)),
    "R+": ((0.0, 0.0, 1.0), (0.0, 1.0, 0.0), (-1.0, 0.0, 0.0)),
    "R-": ((0.0, 0.0, -1.0), (0.0, 1.0, 0.0), (1.0, 0.0, 0.0)),
}


def port_from_vhr(axis: str) -> Array:
    """Give the rotation from V, H, R to the port frame.

    Parameters
    ----------
    axis : str
        Where the port looks: ``V+`` (ahead), ``V-`` (behind), ``R+`` (to the Earth) or ``R-``.

    Returns
    -------
    ndarray, shape (3, 3)
        ``p_port = port_from_vhr @ p_vhr``; a proper rotation.

    Raises
    ------
    ValueError
        No such axis.
    """
    try:
        return np.array(_AXES[axis])
    except KeyError:
        raise ValueError(f"port axis {axis!r}: must be one of {', '.join(_AXES)}") from None


def offset_in_port(axis: str, offset_vhr_m: Offset) -> Array:
    """Give the contact plane's centre, seen from the centre of mass, along the port's axes.

    Parameters
    ----------
    axis : str
        Where the port looks.
    offset_vhr_m : tuple of float
        Its place along V, H and R, m.

    Returns
    -------
    ndarray, shape (3,)
        m, port frame.
    """
    return np.asarray(port_from_vhr(axis) @ np.array(offset_vhr_m))


def vhr_from_port_state(axis: str, state: ArrayLike, offset_vhr_m: Offset = NO_OFFSET) -> Array:
    """Turn a state in the port frame into one about the centre of mass in V, H, R.

    Parameters
    ----------
    axis : str
        Where the port looks.
    state : array_like, shape (6,)
        Position and velocity in the port frame, m and m/s.
    offset_vhr_m : tuple of float
        Place of the port along V, H and R from the centre of mass, m.

    Returns
    -------
    ndarray, shape (6,)
    """
    rotation = port_from_vhr(axis).T
    port = np.asarray(state, dtype=np.float64)
    offset = np.array(offset_vhr_m)
    return np.concatenate([rotation @ port[:3] + offset, rotation @ port[3:]])


def port_from_vhr_state(axis: str, state: ArrayLike, offset_vhr_m: Offset = NO_OFFSET) -> Array:
    """Turn a state about the centre of mass in V, H, R into one in the port frame."""
    rotation = port_from_vhr(axis)
    vhr = np.asarray(state, dtype=np.float64)
    offset = np.array(offset_vhr_m)
    return np.concatenate([rotation @ (vhr[:3] - offset), rotation @ vhr[3:]])


def port_transition(
    axis: str,
    offset_vhr_m: Offset,
    mean_motion_rad_per_s: float,
    dt_s: ArrayLike,
) -> tuple[Array, Array]:
    """Give matrix and constant that carry a free state in the port frame on by a time.

    Returns
    -------
    matrix : ndarray, shape (..., 6, 6)
    constant : ndarray, shape (..., 6)
        ``later = matrix @ state + constant``. The constant is what the port's offset from the
        centre of mass does: it vanishes for an offset along V and matters for one along R.

    Notes
    -----
    ``cw.transition_matrix`` (its source there) turned into the port frame, and the origin moved:
    Phi (x + o) - o.
    """
    turn = np.kron(np.eye(2), port_from_vhr(axis))
    matrix = turn @ transition_matrix(mean_motion_rad_per_s, dt_s) @ turn.T
    offset = np.concatenate([offset_in_port(axis, offset_vhr_m), np.zeros(3)])
    return matrix, matrix @ offset - offset


def port_forced_response(axis: str, mean_motion_rad_per_s: float, dt_s: ArrayLike) -> Array:
    """Give what a constant thrust acceleration in the port frame adds, shape (..., 6, 3)."""
    rotation = port_from_vhr(axis)
    turn = np.kron(np.eye(2), rotation)
    return np.asarray(turn @ forced_response(mean_motion_rad_per_s, dt_s) @ rotation.T)
