"""The contact state if all thrust stops now: free drift with its whole covariance.

The contact plane is reached at a time that is itself uncertain, and offset and rate at contact
are tied to each other (an error in the lateral rate grows into an offset), so chances are taken
over a fixed set of draws instead of one condition at a time.
"""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import Final

import numpy as np

from console.envelope.limits import ContactLimit
from console.envelope.setup import Port
from console.motion.port_axes import port_transition
from console.tracking.axis import Axis
from console.tracking.contact_set import COLUMNS, Array, ContactSet
from console.tracking.contact_time import AlongNow
from console.tracking.filter import RelativeFilter
from console.tracking.noise import NoiseModel
from console.tracking.outlook import ContactPrediction

DRAWS: Final = 256
GRID_S: Final = 2.0
DRIFT_AT_MOST_S: Final = 900.0
PLANE_ROWS: Final = np.array([3, 1, 2, 4, 5])
ANGLES: Final = tuple(COLUMNS.index(name) for name in ("roll", "pitch", "yaw"))
RATES: Final = tuple(COLUMNS.index(name) for name in ("roll_rate", "pitch_rate", "yaw_rate"))
HAIR: Final = 1e-9
ASSUMPTION: Final = "thrust stops now"


def normal_draws(count: int, dimensions: int) -> Array:
    """Give evenly spread standard normal draws, shape (count, dimensions), always the same.

    Notes
    -----
    An additive recurrence with the powers of the generalised golden ratio, the root of
    x^(d+1) = x + 1 (M. Roberts, "The unreasonable effectiveness of quasirandom sequences", 2018;
    from memory), through the inverse normal distribution; then centred and made uncorrelated
    exactly.
    """
    ratio = 2.0
    for _ in range(40):
        ratio = (1.0 + ratio) ** (1.0 / (dimensions + 1))
    inverse = NormalDist().inv_cdf
    draws: Array = np.array(
        [
            [inverse((0.5 + i * ratio ** -(j + 1)) % 1.0) for j in range(dimensions)]
            for i in range(1, count + 1)
        ]
    )
    draws -= draws.mean(axis=0)
    root = np.linalg.cholesky(draws.T @ draws / count)
    return np.ascontiguousarray(np.linalg.solve(root, draws.T).T)


def covariance_of(now: AlongNow, state: RelativeFilter, noise: NoiseModel) -> Array:
    """Give the covariance of position and velocity in the port frame, fixed errors added.

    Returns
    -------
    ndarray, shape (6, 6)
        Of x, y, z, x', y', z'; m^2, m^2/s, m^2/s^2.
    """
    y, z = state.y, state.z
    bias, rate_bias = noise.lateral_bias_m**2, noise.lateral_rate_bias_mps**2
    return np.array(
        [
            [now.range_sigma_m**2, 0.0, 0.0, now.b, 0.0, 0.0],
            [0.0, y.a + bias, 0.0, 0.0, y.b, 0.0],
            [0.0, 0.0, z.a + bias, 0.0, 0.0, z.b],
            [now.b, 0.0, 0.0, now.rate_sigma_mps**2, 0.0, 0.0],
            [0.0, y.b, 0.0, 0.0, y.c + rate_bias, 0.0],
            [0.0, 0.0, z.b, 0.0, 0.0, z.c + rate_bias],
        ]
    )


class Ballistic:
    """Predicts contact under free drift.

    Parameters
    ----------
    port : Port
        Axis and offset of the port.
    mean_motion_rad_per_s : float
        Of the orbit.
    limits : tuple of ContactLimit
        The contact limits.
    """

    def __init__(
        self, port: Port, mean_motion_rad_per_s: float, limits: tuple[ContactLimit, ...]
    ) -> None:
        along_v, along_r = port.offset_m
        times_s = np.arange(0.0, DRIFT_AT_MOST_S + 2.0 * GRID_S, GRID_S)
        self._matrices, self._constants = port_transition(
            port.axis, (along_v, 0.0, along_r), mean_motion_rad_per_s, times_s
        )
        self._set = ContactSet(limits)
        # One row a component, so that each is contiguous.
        self._draws = np.ascontiguousarray(normal_draws(DRAWS, len(COLUMNS)).T)

    def predict(
        self, start: Array, covariance: Array, attitude: RelativeFilter, contact_s: float
    ) -> ContactPrediction | None:
        """Give the prediction for a drift that makes contact after about ``contact_s``.

        Parameters
        ----------
        start : ndarray, shape (6,)
            Position and velocity in the port frame, m and m/s.
        covariance : ndarray, shape (6, 6)
            Its covariance.
        attitude : RelativeFilter
            Angles and rates.
        contact_s : float
            When the contact plane is passed, to a second.

        Returns
        -------
        ContactPrediction or None
            None where contact is more than a quarter of an hour away (a drift's errors are
            metres then), or where the contact plane is passed outward.
        """
        if contact_s > DRIFT_AT_MOST_S:
            return None
        place = round(contact_s / GRID_S)
        matrix = self._matrices[place]
        state = matrix @ start + self._constants[place]
        x, _, _, vx, vy, vz = state.tolist()
        if vx >= 0.0:
            return None
        # One Newton step in time, of a second or so, puts the state on the contact plane.
        step = x / -vx
        # Rows -vx, y, z, vy, vz at the plane: what is late in x is made up along the velocity.
        rows = matrix[PLANE_ROWS]
        rows[0] *= -1.0
        rows[1] -= vy / vx * matrix[0]
        rows[2] -= vz / vx * matrix[0]
        spread = rows @ covariance @ rows.T
        mean = state[PLANE_ROWS]
        mean[0] = -vx
        mean[1] += vy * step
        mean[2] += vz * step
        contacts = self._contacts(mean, spread, attitude, place * GRID_S + step)
        _, y, z, _, _ = mean.tolist()
        lateral = (y, z, float(spread[1, 1]), float(spread[1, 2]), float(spread[2, 2]))
        return self._set.predict(ASSUMPTION, contacts, lateral, calibrated=False)

    def _contacts(
        self, mean: Array, spread: Array, attitude: RelativeFilter, contact_s: float
    ) -> Array:
        """Turn the fixed draws into possible contacts, shape (11, n).

        Angles go on turning at their present rates, with the covariance a free axis has then.
        """
        n = len(COLUMNS)
        root = np.zeros((n, n))
        centre = np.zeros(n)
        # A hair on the diagonal keeps the root real where rounding makes it barely not so.
        root[:5, :5] = np.linalg.cholesky(spread + HAIR * np.diag(spread.diagonal()))
        centre[:5] = mean
        for axis, i, j in zip(
            (attitude.roll, attitude.pitch, attitude.yaw), ANGLES, RATES, strict=True
        ):
            sigma, share, rest = _angle_root(axis, contact_s)
            centre[i], centre[j] = axis.p + axis.v * contact_s, axis.v
            root[i, i], root[j, i], root[j, j] = sigma, share, rest
        contacts: Array = root @ self._draws
        contacts += centre[:, None]
        return contacts


def _angle_root(axis: Axis, t: float) -> tuple[float, float, float]:
    """Give the lower triangular root of a free axis's covariance after a time."""
    a = axis.a + t * (2.0 * axis.b + t * axis.c)
    b = axis.b + t * axis.c
    sigma = math.sqrt(a)
    share = b / sigma
    return sigma, share, math.sqrt(max(axis.c - share * share, 0.0))
