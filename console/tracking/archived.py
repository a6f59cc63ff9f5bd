"""Prediction at contact by archived residuals: calibrated, joint, with the vector sums exact."""

from __future__ import annotations

from typing import Final

import numpy as np

from console.envelope.limits import ContactLimit
from console.tracking.contact_set import COLUMNS, Array, ContactSet
from console.tracking.outlook import ContactPrediction
from console.tracking.residuals import Features, RangeBin, ResidualArchive, weighted

ASSUMPTION: Final = "control continues"
Y, Z = COLUMNS.index("y"), COLUMNS.index("z")


class PreparedBin:
    """A range bin turned for judging: one row a component, and the spread of y and z."""

    __slots__ = ("bin", "mean_y", "mean_z", "rows", "var_y", "var_yz", "var_z")

    def __init__(self, one: RangeBin) -> None:
        self.bin = one
        self.rows: Array = np.ascontiguousarray(one.rows.T)
        self.mean_y, self.mean_z = float(self.rows[Y].mean()), float(self.rows[Z].mean())
        covariance = np.cov(self.rows[Y], self.rows[Z], bias=True)
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
        self._set = ContactSet(limits)
        self._prepared = {one.range_m: PreparedBin(one) for one in archive.bins}

    def predict(self, features: Features) -> ContactPrediction:
        """Give the prediction from today's features.

        Notes
        -----
        Each archived leftover added to today's forecast is one possible contact; a chance is the
        share of those that meet the limit, that of all together the share that meet every one.
        Lateral leftovers are scaled by the scatter expected of this vehicle.
        """
        one = self._archive.bin_for(features.range_m)
        prepared = self._prepared[one.range_m]
        sd, rate_sd = one.offset_sd(features.offset_square), one.rate_sd(features.rate_square)
        y, z = weighted(one.lateral, features.y), weighted(one.lateral, features.z)
        roll = weighted(one.angle, features.roll)
        pitch, yaw = weighted(one.angle, features.pitch), weighted(one.angle, features.yaw)
        scale = [1.0, sd, sd, rate_sd, rate_sd, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0]
        shift = [features.closing_mps, y, z, 0.0, 0.0, roll, pitch, yaw, 0.0, 0.0, 0.0]
        contacts = prepared.rows * np.array(scale)[:, None]
        contacts += np.array(shift)[:, None]
        square = sd * sd
        lateral = (
            y + prepared.mean_y * sd,
            z + prepared.mean_z * sd,
            prepared.var_y * square,
            prepared.var_yz * square,
            prepared.var_z * square,
        )
        return self._set.predict(ASSUMPTION, contacts, lateral, calibrated=True)
