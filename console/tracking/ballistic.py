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
from console.envelope.quantity import AT_CONTACT
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
ROLL, PITCH, YAW = (COLUMNS.index(name) for name in ("roll", "pitch", "yaw"))
ROLL_RATE, PITCH_RATE, YAW_RATE = (
    COLUMNS.index(f"{name}_rate") for name in ("roll", "pitch", "yaw")
)
HAIR: Final = 1e-9
HAIR_ADDED: Final = np.ones((5, 5)) + HAIR * np.eye(5)
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
    covariance = np.zeros((6, 6))
    covariance[0, 0], covariance[3, 3] = now.range_sigma_m**2, now.rate_sigma_mps**2
    covariance[1, 1], covariance[4, 4] = y.a + bias, y.c + rate_bias
    covariance[2, 2], covariance[5, 5] = z.a + bias, z.c + rate_bias
    covariance[0, 3] = covariance[3, 0] = now.b
    covariance[1, 4] = covariance[4, 1] = y.b
    covariance[2, 5] = covariance[5, 2] = z.b
    return covariance


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
        # Rows -vx, y, z, vy, vz of each.
        self._planes = self._matrices[:, PLANE_ROWS]
        self._planes[:, 0] *= -1.0
        self._set = ContactSet(limits)
        # One row a component, so that each is contiguous, and a row of ones for the centre.
        draws = normal_draws(DRAWS, len(COLUMNS))
        self._draws = np.ascontiguousarray(np.column_stack([draws, np.ones(DRAWS)]).T)

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

        Notes
        -----
        P' = Phi P Phi^T with the transition of Hill's equations (``cw.transition_matrix``, its
        source there), projected along the velocity onto the contact plane (linear propagation of
        covariance: Bar-Shalom, Li, Kirubarajan, "Estimation with Applications to Tracking and
        Navigation", 2001, section 4.3; from memory).
        """
        if contact_s > DRIFT_AT_MOST_S:
            return None
        place = round(contact_s / GRID_S)
        matrix = self._matrices[place]
        x, y, z, vx, vy, vz = (matrix @ start + self._constants[place]).tolist()
        if vx >= 0.0:
            return None
        # One Newton step in time, of a second or so, puts the state on the contact plane.
        step = x / -vx
        # What is late in x is made up along the velocity.
        late = np.array(((0.0,), (vy / vx,), (vz / vx,), (0.0,), (0.0,)))
        rows = self._planes[place] - late * matrix[0]
        spread = rows @ covariance @ rows.T
        y, z = y + vy * step, z + vz * step
        root = _root_of((-vx, y, z, vy, vz), spread, attitude, place * GRID_S + step)
        lateral = (y, z, float(spread[1, 1]), float(spread[1, 2]), float(spread[2, 2]))
        return self._judge(root, lateral)

    def _judge(
        self, root: Array, lateral: tuple[float, float, float, float, float]
    ) -> ContactPrediction:
        """Turn the fixed draws into possible contacts and judge them."""
        contacts = root @ self._draws
        squares = contacts[1:]
        squares *= squares
        values = np.zeros((self._set.rows, DRAWS))
        values[0] = contacts[0]
        np.add(squares[0:3], squares[4:7], out=values[1:4])
        np.add(squares[3], squares[7], out=values[5])
        values[4:7:2] = squares[8:10]
        lengths = values[1 : len(AT_CONTACT)]
        np.sqrt(lengths, out=lengths)
        # The draws have mean 0 and unit covariance, so a row's own square is its mean square.
        s = np.add.reduce(root * root, axis=1).tolist()
        seconds = [s[0], s[1] + s[5], s[2] + s[6], s[3] + s[7], s[9], s[4] + s[8], s[10]]
        return self._set.conclude(ASSUMPTION, values, seconds, lateral, calibrated=False)


def _root_of(
    mean: tuple[float, float, float, float, float],
    spread: Array,
    attitude: RelativeFilter,
    contact_s: float,
) -> Array:
    """Give what turns draws into contacts, shape (11, 12): a root of covariance, then the centre.

    Parameters
    ----------
    mean : tuple of float
        Closing rate, y, z, y rate and z rate at the contact plane.
    spread : ndarray, shape (5, 5)
        Their covariance.
    attitude : RelativeFilter
        Angles go on turning at their present rates, with the covariance a free axis has then.
    contact_s : float
        When the plane is reached.

    Returns
    -------
    ndarray
        Rows closing; y, y rate, pitch, pitch rate; z, z rate, yaw, yaw rate; roll, roll rate: the
        first components of all lengths, then the second ones. Columns are draws, as ``COLUMNS``.
    """
    root = np.zeros((len(COLUMNS), len(COLUMNS) + 1))
    # A hair on the diagonal keeps the root real where rounding makes it barely not so.
    plane = np.linalg.cholesky(spread * HAIR_ADDED)
    root[0, :5], root[1:9:4, :5], root[2:9:4, :5] = plane[0], plane[1:3], plane[3:5]
    roll, pitch, yaw = attitude.roll, attitude.pitch, attitude.yaw
    root[9, ROLL], root[10, ROLL], root[10, ROLL_RATE] = _angle_root(roll, contact_s)
    root[3, PITCH], root[4, PITCH], root[4, PITCH_RATE] = _angle_root(pitch, contact_s)
    root[7, YAW], root[8, YAW], root[8, YAW_RATE] = _angle_root(yaw, contact_s)
    closing, y, z, y_rate, z_rate = mean
    root[:, -1] = (
        closing,
        y, y_rate, pitch.p + pitch.v * contact_s, pitch.v,
        z, z_rate, yaw.p + yaw.v * contact_s, yaw.v,
        roll.p + roll.v * contact_s, roll.v,
    )  # fmt: skip
    return root


def _angle_root(axis: Axis, t: float) -> tuple[float, float, float]:
    """Give the lower triangular root of a free axis's covariance after a time."""
    a = axis.a + t * (2.0 * axis.b + t * axis.c)
    b = axis.b + t * axis.c
    sigma = math.sqrt(a)
    share = b / sigma
    return sigma, share, math.sqrt(max(axis.c - share * share, 0.0))
