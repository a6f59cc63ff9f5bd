"""Make an archive of residuals from forecasts and the contacts that followed them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from console.tracking.contact_set import COLUMNS
from console.tracking.residuals import (
    Array,
    Features,
    RangeBin,
    ResidualArchive,
    Weights,
    weighted,
)

ROUNDS: Final = 20
RIDGE: Final = 1e-3
OFFSET_FLOOR_M: Final = 0.003
RATE_FLOOR_MPS: Final = 0.0003


@dataclass(frozen=True, slots=True)
class ContactValues:
    """The true state at contact; ``closing`` in m/s, the rest as in ``COLUMNS``."""

    closing: float
    y: float
    z: float
    y_rate: float
    z_rate: float
    roll: float
    pitch: float
    yaw: float
    roll_rate: float
    pitch_rate: float
    yaw_rate: float


Case = tuple[Features, ContactValues]


def fit_archive(cases: dict[float, list[Case]], made_by: str) -> ResidualArchive:
    """Make an archive.

    Parameters
    ----------
    cases : dict
        For each range, m, one forecast and contact of every pass.
    made_by : str
        How the passes were made.

    Returns
    -------
    ResidualArchive

    Raises
    ------
    ValueError
        A range has no case.
    """
    bins = tuple(fit_bin(range_m, some) for range_m, some in sorted(cases.items()))
    passes = min((len(one.rows) for one in bins), default=0)
    return ResidualArchive(passes, made_by, bins)


def fit_bin(range_m: float, cases: list[Case]) -> RangeBin:
    """Fit weights and scatter of one range and keep what is left over.

    Notes
    -----
    Weights by least squares through zero of contact on mean, deviation and rate (a slight ridge
    holds those that nothing can be told of, such as the deviation long before contact). Scatter
    by a line of squared leftover on the vehicle's own, kept positive, reweighted by its own
    prediction (iteratively reweighted least squares: Green, Journal of the Royal Statistical
    Society B 46(2), 1984; from memory).
    """
    if not cases:
        raise ValueError(f"no case at {range_m} m")
    lateral = _weights([(f.y, c.y) for f, c in cases] + [(f.z, c.z) for f, c in cases])
    angle = _weights(
        [(f.roll, c.roll) for f, c in cases]
        + [(f.pitch, c.pitch) for f, c in cases]
        + [(f.yaw, c.yaw) for f, c in cases]
    )
    own = np.array([f.offset_square for f, _ in cases])
    own_rate = np.array([f.rate_square for f, _ in cases])
    rows = np.array([_leftover(f, c, lateral, angle) for f, c in cases])
    offset = _scale(own, 0.5 * (rows[:, 1] ** 2 + rows[:, 2] ** 2), OFFSET_FLOOR_M)
    rate = _scale(own_rate, 0.5 * (rows[:, 3] ** 2 + rows[:, 4] ** 2), RATE_FLOOR_MPS)
    rows[:, 1:3] /= np.sqrt(offset[0] + offset[1] * own)[:, None]
    rows[:, 3:5] /= np.sqrt(rate[0] + rate[1] * own_rate)[:, None]
    return RangeBin(range_m, lateral, angle, offset, rate, rows)


def _leftover(
    features: Features, contact: ContactValues, lateral: Weights, angle: Weights
) -> list[float]:
    forecast = {
        "closing": features.closing_mps,
        "y": weighted(lateral, features.y),
        "z": weighted(lateral, features.z),
        "roll": weighted(angle, features.roll),
        "pitch": weighted(angle, features.pitch),
        "yaw": weighted(angle, features.yaw),
    }
    return [getattr(contact, name) - forecast.get(name, 0.0) for name in COLUMNS]


def _weights(pairs: list[tuple[Weights, float]]) -> Weights:
    """Give the weights of the three parts by ridge regression.

    Notes
    -----
    Hoerl, Kennard, "Ridge regression", Technometrics 12(1), 1970; from memory.
    """
    parts = np.array([one for one, _ in pairs])
    value = np.array([one for _, one in pairs])
    size = np.sqrt(np.mean(parts * parts, axis=0))
    size[size == 0.0] = 1.0
    scaled = parts / size
    normal = scaled.T @ scaled + RIDGE * len(pairs) * np.eye(3)
    weights = np.linalg.solve(normal, scaled.T @ value) / size
    return float(weights[0]), float(weights[1]), float(weights[2])


def _scale(own: Array, square: Array, floor: float) -> tuple[float, float]:
    """Fit ``c0 + c1 own`` to squared leftovers, both not negative, c0 at least the floor's."""
    least = floor * floor
    c0, c1 = max(float(square.mean()), least), 0.0
    for _ in range(ROUNDS):
        expected = c0 + c1 * own
        # A squared Gaussian has a variance of twice its mean squared.
        weight = 1.0 / (expected * expected)
        sw, sx, sxx = weight.sum(), (weight * own).sum(), (weight * own * own).sum()
        sy, sxy = (weight * square).sum(), (weight * own * square).sum()
        determinant = sw * sxx - sx * sx
        if determinant > 0.0:
            c1 = max(float((sw * sxy - sx * sy) / determinant), 0.0)
        c0 = max(float((sy - c1 * sx) / sw), least)
        if c0 == least and sxx > 0.0:
            c1 = max(float((sxy - c0 * sx) / sxx), 0.0)
    return c0, c1
