"""Prediction at contact by archived residuals: calibrated, joint, with the vector sums exact."""

from __future__ import annotations

from typing import Final

import numpy as np

from console.envelope.limits import ContactLimit
from console.envelope.quantity import AT_CONTACT, Quantity
from console.tracking.contact_set import CLOSING, COLUMNS, Array, ContactSet
from console.tracking.outlook import ContactPrediction
from console.tracking.residuals import Features, RangeBin, ResidualArchive, weighted

ASSUMPTION: Final = "control continues"
Y, Z = COLUMNS.index("y"), COLUMNS.index("z")
ROLL, PITCH, YAW = (COLUMNS.index(name) for name in ("roll", "pitch", "yaw"))
PAIRS: Final = [Y, PITCH, Z, YAW]
"""First components of lateral offset and pitch/yaw, then the second ones."""
RATE: Final = AT_CONTACT.index(Quantity.LATERAL_RATE)
AXIAL: Final = AT_CONTACT.index(Quantity.ROLL)
LENGTHS: Final = slice(
    AT_CONTACT.index(Quantity.LATERAL_OFFSET), AT_CONTACT.index(Quantity.PITCH_YAW) + 1, 2
)
"""Rows of the two lengths that move with today's forecast."""


class PreparedBin:
    """A range bin turned for judging: one row a component, and what no forecast changes.

    Forecasts shift position and angles and scale the lateral part; the body rates stay as
    archived, so they are measured once.
    """

    __slots__ = ("bin", "closing", "mean", "pairs", "roll", "seconds", "values", "variance")

    def __init__(self, one: RangeBin, judge: ContactSet) -> None:
        self.bin = one
        rows: Array = np.ascontiguousarray(one.rows.T)
        self.values, self.seconds = judge.measured(rows)
        self.closing, self.roll = rows[CLOSING], rows[ROLL]
        self.pairs = rows[PAIRS]
        self.mean: list[float] = rows.mean(axis=1).tolist()
        self.variance: list[list[float]] = np.cov(rows, bias=True).tolist()


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
        self._set = ContactSet(limits)
        self._prepared = {one.range_m: PreparedBin(one, self._set) for one in archive.bins}

    def predict(self, features: Features) -> ContactPrediction:
        """Give the prediction from today's features.

        Notes
        -----
        Each archived leftover added to today's forecast is one possible contact; a chance is the
        share of those that meet the limit, that of all together the share that meet every one.
        Lateral leftovers are scaled by the scatter expected of this vehicle. (Resampling of
        residuals: Efron, Tibshirani, *An Introduction to the Bootstrap*, 1993, section 9.4; from
        memory.)
        """
        one = self._archive.bin_for(features.range_m)
        prepared = self._prepared[one.range_m]
        sd, rate_sd = one.offset_sd(features.offset_square), one.rate_sd(features.rate_square)
        y, z = weighted(one.lateral, features.y), weighted(one.lateral, features.z)
        roll = weighted(one.angle, features.roll)
        pitch, yaw = weighted(one.angle, features.pitch), weighted(one.angle, features.yaw)
        values = prepared.values.copy()
        np.add(prepared.closing, features.closing_mps, out=values[0])
        pairs = prepared.pairs * np.array(((sd,), (1.0,), (sd,), (1.0,)))
        pairs += np.array(((y,), (pitch,), (z,), (yaw,)))
        pairs *= pairs
        np.sqrt(pairs[:2] + pairs[2:], out=values[LENGTHS])
        values[RATE] *= rate_sd
        np.abs(prepared.roll + roll, out=values[AXIAL])
        mean, variance, square = prepared.mean, prepared.variance, sd * sd
        lateral = (
            y + mean[Y] * sd,
            z + mean[Z] * sd,
            variance[Y][Y] * square,
            variance[Y][Z] * square,
            variance[Z][Z] * square,
        )
        # A mean square is the variance and the mean's own square, component by component.
        seconds = prepared.seconds.copy()
        seconds[0] = variance[CLOSING][CLOSING] + (mean[CLOSING] + features.closing_mps) ** 2
        seconds[1] = lateral[2] + lateral[4] + lateral[0] ** 2 + lateral[1] ** 2
        seconds[RATE] *= rate_sd * rate_sd
        seconds[3] = variance[PITCH][PITCH] + variance[YAW][YAW]
        seconds[3] += (mean[PITCH] + pitch) ** 2 + (mean[YAW] + yaw) ** 2
        seconds[AXIAL] = variance[ROLL][ROLL] + (mean[ROLL] + roll) ** 2
        return self._set.conclude(ASSUMPTION, values, seconds, lateral, calibrated=True)
