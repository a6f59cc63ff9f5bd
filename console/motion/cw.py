"""Relative motion near a target in a circular orbit: Hill's (Clohessy-Wiltshire) equations.

One axis set is used throughout, V, H, R: V along the orbital velocity, R toward the centre of
the Earth, H = R x V, which is minus the orbit normal (the local-vertical local-horizontal set of
operations; Fehse, *Automated Rendezvous and Docking of Spacecraft*, section 3.1; from memory).
With x, y, z along V, H, R and a the thrust acceleration::

    x'' = 2 n z' + a_x
    y'' = -n^2 y + a_y
    z'' = -2 n x' + 3 n^2 z + a_z

Hill's own set, radial out, along track, orbit normal (Curtis, Vallado and most code), maps by
``VHR_FROM_HILL``: x_V = y_Hill, y_H = -z_Hill, z_R = -x_Hill. Mixing the two sets is the classic
mistake with these equations.

The equations are linear in the separation and leave out J2, drag and the orbit's eccentricity.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

VHR_FROM_HILL: Final = np.array([[0.0, 1.0, 0.0], [0.0, 0.0, -1.0], [-1.0, 0.0, 0.0]])
"""Rotation from Hill's axes (radial out, along track, normal) to V, H, R."""


def transition_matrix(mean_motion_rad_per_s: float, dt_s: ArrayLike) -> Array:
    """Give the matrix that carries a free state on by a time, in V, H, R.

    Parameters
    ----------
    mean_motion_rad_per_s : float
        Of the target's circular orbit, rad/s, > 0.
    dt_s : float or array_like, shape (...,)
        Times ahead (negative: back), s.

    Returns
    -------
    ndarray, shape (..., 6, 6)
        Acts on (x, y, z, x', y', z') in m and m/s.

    Notes
    -----
    Curtis, *Orbital Mechanics for Engineering Students*, section 7.4 (transition matrices of
    the Clohessy-Wiltshire equations), turned into V, H, R by ``VHR_FROM_HILL``; from memory.
    Good to some millimetres over 20 min and to some metres over 45 min for states within
    200 m (tests: two-body integration).
    """
    n = mean_motion_rad_per_s
    dt = np.asarray(dt_s, dtype=np.float64)
    c, s, nt = np.cos(n * dt), np.sin(n * dt), n * dt
    phi = np.zeros((*dt.shape, 6, 6))
    phi[..., 0, 0] = 1.0
    phi[..., 0, 2] = 6.0 * (nt - s)
    phi[..., 0, 3] = (4.0 * s - 3.0 * nt) / n
    phi[..., 0, 5] = 2.0 * (1.0 - c) / n
    phi[..., 1, 1] = c
    phi[..., 1, 4] = s / n
    phi[..., 2, 2] = 4.0 - 3.0 * c
    phi[..., 2, 3] = -2.0 * (1.0 - c) / n
    phi[..., 2, 5] = s / n
    phi[..., 3, 2] = 6.0 * n * (1.0 - c)
    phi[..., 3, 3] = 4.0 * c - 3.0
    phi[..., 3, 5] = 2.0 * s
    phi[..., 4, 1] = -n * s
    phi[..., 4, 4] = c
    phi[..., 5, 2] = 3.0 * n * s
    phi[..., 5, 3] = -2.0 * s
    phi[..., 5, 5] = c
    return phi


def forced_response(mean_motion_rad_per_s: float, dt_s: ArrayLike) -> Array:
    """Give what a constant thrust acceleration adds to a state after a time, in V, H, R.

    Parameters
    ----------
    mean_motion_rad_per_s : float
        Of the target's circular orbit, rad/s, > 0.
    dt_s : float or array_like, shape (...,)
        How long the acceleration has stood, s.

    Returns
    -------
    ndarray, shape (..., 6, 3)
        Acts on the acceleration along V, H, R in m/s^2.

    Notes
    -----
    Fehse, *Automated Rendezvous and Docking of Spacecraft*, section 3.3 (equations of motion
    with constant input); from memory, checked by differentiation and integration.
    """
    n = mean_motion_rad_per_s
    dt = np.asarray(dt_s, dtype=np.float64)
    c, s, nt = np.cos(n * dt), np.sin(n * dt), n * dt
    gamma = np.zeros((*dt.shape, 6, 3))
    gamma[..., 0, 0] = 4.0 * (1.0 - c) / n**2 - 1.5 * dt**2
    gamma[..., 0, 2] = 2.0 * (nt - s) / n**2
    gamma[..., 1, 1] = (1.0 - c) / n**2
    gamma[..., 2, 0] = -2.0 * (nt - s) / n**2
    gamma[..., 2, 2] = (1.0 - c) / n**2
    gamma[..., 3, 0] = 4.0 * s / n - 3.0 * dt
    gamma[..., 3, 2] = 2.0 * (1.0 - c) / n
    gamma[..., 4, 1] = s / n
    gamma[..., 5, 0] = -2.0 * (1.0 - c) / n
    gamma[..., 5, 2] = s / n
    return gamma


def hold_acceleration(mean_motion_rad_per_s: float, state: ArrayLike) -> Array:
    """Give the thrust acceleration that cancels the orbit's, so that the velocity stays.

    Parameters
    ----------
    mean_motion_rad_per_s : float
        Of the target's circular orbit, rad/s.
    state : array_like, shape (6,)
        Position and velocity along V, H, R, m and m/s.

    Returns
    -------
    ndarray, shape (3,)
        m/s^2 along V, H, R: 2nV for a straight run along V, 3n^2 z for a hold on R.

    Notes
    -----
    Hill's equations, as at the head of this module, solved for the thrust at zero acceleration.
    """
    n = mean_motion_rad_per_s
    _, y, z, vx, _, vz = np.asarray(state, dtype=np.float64)
    return np.array([-2.0 * n * vz, n * n * y, 2.0 * n * vx - 3.0 * n * n * z])


def two_impulse_velocity(
    mean_motion_rad_per_s: float, start_m: ArrayLike, end_m: ArrayLike, transfer_s: float
) -> tuple[Array, Array]:
    """Give the velocities that carry a chaser between two places in a given time.

    Parameters
    ----------
    mean_motion_rad_per_s : float
        Of the target's circular orbit, rad/s.
    start_m, end_m : array_like, shape (3,)
        Places along V, H, R, m.
    transfer_s : float
        Time of transfer, s, > 0.

    Returns
    -------
    departure_mps, arrival_mps : ndarray, shape (3,)
        Velocity just after the first impulse and just before the second, m/s.

    Raises
    ------
    ValueError
        The time is one in which the place reached does not depend on the velocity in some
        direction, such as half an orbit across the plane.

    Notes
    -----
    v = Phi_rv^-1 (r_end - Phi_rr r_start) (Curtis, section 7.5, two-impulse rendezvous).
    """
    phi = transition_matrix(mean_motion_rad_per_s, transfer_s)
    start, end = np.asarray(start_m, dtype=np.float64), np.asarray(end_m, dtype=np.float64)
    try:
        departure: Array = np.asarray(
            np.linalg.solve(phi[:3, 3:], end - phi[:3, :3] @ start), np.float64
        )
    except np.linalg.LinAlgError as error:
        raise ValueError(f"transfer time {transfer_s} s: no velocity is determined") from error
    arrival = phi[3:, :3] @ start + phi[3:, 3:] @ departure
    return departure, arrival
