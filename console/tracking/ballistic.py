"""The contact state if all thrust stops now: free drift with its whole covariance.

The contact plane is reached at a time that is itself uncertain, and offset and rate at contact
are tied to each other (an error in the lateral rate grows into an offset), so chances are taken
over a fixed set of draws instead of one condition at a time.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np
from numpy.typing import NDArray

from console.envelope.limits import ContactLimit
from console.envelope.quantity import AT_CONTACT, Quantity
from console.envelope.setup import Port
from console.motion.port_axes import port_transition
from console.tracking.archived import within
from console.tracking.axis import Axis
from console.tracking.contact_time import AlongNow
from console.tracking.filter import RelativeFilter
from console.tracking.forecast import ContactState, line, spread_of
from console.tracking.noise import NoiseModel
from console.tracking.outlook import ContactPrediction

Array = NDArray[np.float64]
Turned = tuple[float, float, float, float, float]

DRAWS: Final = 512
DIMENSIONS: Final = 11
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


@dataclass(frozen=True, slots=True)
class Start:
    """A state in the port frame with its covariance, shape (6,) and (6, 6)."""

    state: Array
    covariance: Array


def start_of(now: AlongNow, state: RelativeFilter, noise: NoiseModel) -> Start:
    """Take position and velocity from a filter, fixed errors added to its covariance."""
    y, z = state.y, state.z
    mean = np.array([now.p, y.p, z.p, now.v, y.v, z.v])
    covariance = np.zeros((6, 6))
    bias, rate_bias = noise.lateral_bias_m, noise.lateral_rate_bias_mps
    range_square = now.range_sigma_m**2
    rate_square = now.rate_sigma_mps**2
    rows = (
        (range_square, now.b, rate_square),
        (y.a + bias * bias, y.b, y.c + rate_bias * rate_bias),
        (z.a + bias * bias, z.b, z.c + rate_bias * rate_bias),
    )
    for i, (a, b, c) in enumerate(rows):
        covariance[i, i], covariance[i + 3, i + 3] = a, c
        covariance[i, i + 3] = covariance[i + 3, i] = b
    return Start(mean, covariance)


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
        self._axis = port.axis
        self._offset = (along_v, 0.0, along_r)
        self._mean_motion = mean_motion_rad_per_s
        self._limits = limits
        self._draws = normal_draws(DRAWS, DIMENSIONS)

    def predict(
        self, start: Start, attitude: RelativeFilter, contact_s: float
    ) -> ContactPrediction | None:
        """Give the prediction for a drift that makes contact after about ``contact_s``.

        None where the vehicle would touch while moving away or hardly at all.
        """
        matrix, constant = port_transition(self._axis, self._offset, self._mean_motion, contact_s)
        state = matrix @ start.state + constant
        vx = float(state[3])
        if vx >= 0.0:
            return None
        # One Newton step in time puts the state on the contact plane.
        step = float(state[0]) / -vx
        # Rows vx, y, z, vy, vz at the plane: what is late in x is made up along the velocity.
        rows = matrix[[3, 1, 2, 4, 5]].copy()
        rows[1] -= state[4] / vx * matrix[0]
        rows[2] -= state[5] / vx * matrix[0]
        covariance = rows @ start.covariance @ rows.T
        mean = state[[3, 1, 2, 4, 5]].copy()
        mean[0] = -vx
        mean[1:3] += state[4:6] * step
        covariance[0, 1:] *= -1.0
        covariance[1:, 0] *= -1.0
        return self._given(mean, covariance, attitude, contact_s + step)

    def _given(
        self, mean: Array, covariance: Array, attitude: RelativeFilter, contact_s: float
    ) -> ContactPrediction:
        sigma = np.sqrt(np.diag(covariance)).tolist()
        m = mean.tolist()
        turned = [
            _drifted(axis, contact_s) for axis in (attitude.roll, attitude.pitch, attitude.yaw)
        ]
        (roll, roll_rate), (pitch, pitch_rate), (yaw, yaw_rate) = (
            ((p, math.sqrt(a)), (v, math.sqrt(c))) for p, v, a, _, c in turned
        )
        yz = float(covariance[1, 2])
        state = ContactState(
            closing=(m[0], sigma[0]), y=(m[1], sigma[1]), z=(m[2], sigma[2]),
            y_rate=(m[3], sigma[3]), z_rate=(m[4], sigma[4]),
            roll=roll, pitch=pitch, yaw=yaw,
            roll_rate=roll_rate, pitch_rate=pitch_rate, yaw_rate=yaw_rate, yz_m2=yz,
        )  # fmt: skip
        chances, every = self._chances(mean, covariance, turned)
        known = {limit.quantity: limit for limit in self._limits}
        lines = tuple(
            line(quantity, spread_of(state, quantity), known.get(quantity), chances.get(quantity))
            for quantity in AT_CONTACT
        )
        yy, zz = float(covariance[1, 1]), float(covariance[2, 2])
        return ContactPrediction(ASSUMPTION, lines, m[1], m[2], yy, yz, zz, every, False)

    def _chances(
        self, mean: Array, covariance: Array, turned: list[Turned]
    ) -> tuple[dict[Quantity, float], float | None]:
        """Count the draws that meet each limit, and all of them."""
        draws = self._draws
        root = _root(covariance)
        along = draws[:, :5] @ root.T + mean
        angles, rates = [], []
        for i, (p, v, a, b, c) in enumerate(turned):
            first, second = draws[:, 5 + 2 * i], draws[:, 6 + 2 * i]
            angle_sigma = math.sqrt(a)
            share = b / a
            rest = math.sqrt(max(c - b * share, 0.0))
            angles.append(p + angle_sigma * first)
            rates.append(v + share * angle_sigma * first + rest * second)
        chances: dict[Quantity, float] = {}
        every = np.ones(len(draws), dtype=bool)
        for limit in self._limits:
            value = _quantity(limit.quantity, along, angles, rates)
            if value is None:
                continue
            inside = within(value, limit)
            chances[limit.quantity] = np.count_nonzero(inside) / len(draws)
            every &= inside
        return chances, np.count_nonzero(every) / len(draws) if chances else None


def _quantity(
    quantity: Quantity, along: Array, angles: list[Array], rates: list[Array]
) -> Array | None:
    if quantity is Quantity.CLOSING_RATE:
        return along[:, 0]
    if quantity is Quantity.LATERAL_OFFSET:
        return np.hypot(along[:, 1], along[:, 2])
    if quantity is Quantity.LATERAL_RATE:
        return np.hypot(along[:, 3], along[:, 4])
    if quantity is Quantity.PITCH_YAW:
        return np.hypot(angles[1], angles[2])
    if quantity is Quantity.PITCH_YAW_RATE:
        return np.hypot(rates[1], rates[2])
    if quantity is Quantity.ROLL:
        return np.abs(angles[0])
    if quantity is Quantity.ROLL_RATE:
        return np.abs(rates[0])
    return None


def _drifted(axis: Axis, t: float) -> Turned:
    """Turn an angle on at its present rate; give p, v and covariance a, b, c then."""
    return (
        axis.p + axis.v * t,
        axis.v,
        axis.a + t * (2.0 * axis.b + t * axis.c),
        axis.b + t * axis.c,
        axis.c,
    )


def _root(covariance: Array) -> Array:
    """Give a lower triangular root; a hair is added to the diagonal against rounding."""
    hair = 1e-12 * np.diag(np.diag(covariance)) + 1e-18 * np.eye(len(covariance))
    return np.asarray(np.linalg.cholesky(covariance + hair))
