"""Prediction at contact by archived residuals: calibrated, joint, with the vector sums exact."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from console.envelope.limits import ContactLimit
from console.envelope.quantity import AT_CONTACT, Quantity
from console.tracking.forecast import line
from console.tracking.outlook import ContactPrediction, Spread
from console.tracking.residuals import (
    COLUMNS,
    Array,
    Features,
    RangeBin,
    ResidualArchive,
    weighted,
)

ASSUMPTION: Final = "control continues"
Inside = NDArray[np.bool_]


def within(values: Array, limit: ContactLimit) -> Inside:
    """Tell which values meet a contact limit (NaN does not)."""
    if limit.minimum is None:
        if limit.maximum is None:
            return np.ones(values.shape, dtype=bool)
        return values <= limit.maximum
    inside: Inside = values >= limit.minimum
    if limit.maximum is not None:
        inside &= values <= limit.maximum
    return inside


def spread(values: Array) -> Spread:
    """Give mean and 1-sigma of some values."""
    n = len(values)
    mean = float(np.add.reduce(values)) / n
    square = float(values @ values) / n
    return Spread(mean, math.sqrt(max(square - mean * mean, 0.0)))


class PreparedBin:
    """A range bin with everything worked out that does not depend on the forecast."""

    __slots__ = (
        "bin",
        "closing",
        "contact_rates",
        "lateral_rate",
        "mean_y",
        "mean_z",
        "pitch",
        "roll",
        "var_y",
        "var_yz",
        "var_z",
        "y",
        "yaw",
        "z",
    )

    def __init__(self, one: RangeBin) -> None:
        columns = {name: np.ascontiguousarray(one.rows[:, i]) for i, name in enumerate(COLUMNS)}
        self.bin = one
        self.closing = columns["closing"]
        self.y, self.z = columns["y"], columns["z"]
        self.lateral_rate: Array = np.hypot(columns["y_rate"], columns["z_rate"])
        self.roll, self.pitch, self.yaw = columns["roll"], columns["pitch"], columns["yaw"]
        # Body rates at contact do not depend on the forecast, so neither do their lengths.
        self.contact_rates: dict[Quantity, Array] = {
            Quantity.PITCH_YAW_RATE: np.hypot(columns["pitch_rate"], columns["yaw_rate"]),
            Quantity.ROLL_RATE: np.abs(columns["roll_rate"]),
        }
        self.mean_y, self.mean_z = float(self.y.mean()), float(self.z.mean())
        covariance = np.cov(self.y, self.z, bias=True)
        self.var_y, self.var_z = float(covariance[0, 0]), float(covariance[1, 1])
        self.var_yz = float(covariance[0, 1])


class ArchivedChances:
    """Predicts contact from an archive.

    Parameters
    ----------
    archive : ResidualArchive
        With enough passes.
    limits : tuple of ContactLimit
        The contact limits.
    """

    def __init__(self, archive: ResidualArchive, limits: tuple[ContactLimit, ...]) -> None:
        self._archive = archive
        self._limits = limits
        self._prepared = {one.range_m: PreparedBin(one) for one in archive.bins}
        self._known = {limit.quantity: limit for limit in limits}
        self._fixed_spreads = {
            key: {q: spread(v) for q, v in prepared.contact_rates.items()}
            for key, prepared in self._prepared.items()
        }

    def predict(self, features: Features) -> ContactPrediction:
        """Give the prediction from today's features.

        Notes
        -----
        Each archived leftover added to today's forecast is one possible contact; a chance is the
        share of those that meet the limit, that of all together the share that meet every one.
        """
        one = self._archive.bin_for(features.range_m)
        prepared = self._prepared[one.range_m]
        sd = one.offset_sd(features.offset_square)
        y0, z0 = weighted(one.lateral, features.y), weighted(one.lateral, features.z)
        values = self._values(prepared, features, y0, z0, sd)
        every: Inside | None = None
        lines = []
        fixed = self._fixed_spreads[one.range_m]
        for quantity in AT_CONTACT:
            limit = self._known.get(quantity)
            chance = None
            if limit is not None:
                inside = within(values[quantity], limit)
                chance = np.count_nonzero(inside) / len(inside)
                every = inside if every is None else every & inside
            known = fixed.get(quantity)
            shown = spread(values[quantity]) if known is None else known
            lines.append(line(quantity, shown, limit, chance))
        square = sd * sd
        return ContactPrediction(
            assumption=ASSUMPTION,
            quantities=tuple(lines),
            y_m=y0 + prepared.mean_y * sd,
            z_m=z0 + prepared.mean_z * sd,
            yy_m2=prepared.var_y * square,
            yz_m2=prepared.var_yz * square,
            zz_m2=prepared.var_z * square,
            chance_all=None if every is None else np.count_nonzero(every) / len(every),
            calibrated=True,
        )

    def _values(
        self, prepared: PreparedBin, features: Features, y0: float, z0: float, sd: float
    ) -> dict[Quantity, Array]:
        one = prepared.bin
        y = prepared.y * sd
        y += y0
        z = prepared.z * sd
        z += z0
        pitch = prepared.pitch + weighted(one.angle, features.pitch)
        yaw = prepared.yaw + weighted(one.angle, features.yaw)
        return {
            Quantity.CLOSING_RATE: prepared.closing + features.closing_mps,
            Quantity.LATERAL_OFFSET: np.hypot(y, z),
            Quantity.LATERAL_RATE: prepared.lateral_rate * one.rate_sd(features.rate_square),
            Quantity.PITCH_YAW: np.hypot(pitch, yaw),
            Quantity.ROLL: np.abs(prepared.roll + weighted(one.angle, features.roll)),
            **prepared.contact_rates,
        }
