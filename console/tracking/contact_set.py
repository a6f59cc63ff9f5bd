"""Many possible contacts judged at once: chances, all together, and each quantity's spread.

Rows are the components of the contact state, columns possible contacts: archived leftovers added
to a forecast, or draws from a covariance. The vector-sum conditions are taken as they stand.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from console.envelope.limits import ContactLimit
from console.envelope.quantity import AT_CONTACT, Quantity
from console.tracking.outlook import ContactPrediction, ContactQuantity, Spread

Array = NDArray[np.float64]

COLUMNS: Final = (
    "closing", "y", "z", "y_rate", "z_rate",
    "roll", "pitch", "yaw", "roll_rate", "pitch_rate", "yaw_rate",
)  # fmt: skip
"""Components of a contact state, in the order of rows here and of columns in an archive."""
CLOSING: Final = COLUMNS.index("closing")

_SUMS: Final[dict[Quantity, tuple[str, ...]]] = {
    Quantity.CLOSING_RATE: ("closing",),
    Quantity.LATERAL_OFFSET: ("y", "z"),
    Quantity.LATERAL_RATE: ("y_rate", "z_rate"),
    Quantity.PITCH_YAW: ("pitch", "yaw"),
    Quantity.ROLL: ("roll",),
    Quantity.PITCH_YAW_RATE: ("pitch_rate", "yaw_rate"),
    Quantity.ROLL_RATE: ("roll_rate",),
}


class ContactSet:
    """The contact limits in a form that judges many contacts at once.

    Parameters
    ----------
    limits : tuple of ContactLimit
        One a quantity at most counts; of several the last.
    """

    def __init__(self, limits: tuple[ContactLimit, ...]) -> None:
        self.known = {limit.quantity: limit for limit in limits}
        self._sums: Array = np.array(
            [[1.0 if name in _SUMS[q] else 0.0 for name in COLUMNS] for q in AT_CONTACT]
        )
        places = [i for i, q in enumerate(AT_CONTACT) if q in self.known]
        self._judged = np.array(places, dtype=np.intp)
        chosen = [self.known[AT_CONTACT[i]] for i in places]
        self._low: Array = np.array([[_or(one.minimum, -math.inf)] for one in chosen])
        self._high: Array = np.array([[_or(one.maximum, math.inf)] for one in chosen])

    def predict(
        self,
        assumption: str,
        contacts: Array,
        lateral: tuple[float, float, float, float, float],
        calibrated: bool,
    ) -> ContactPrediction:
        """Judge contacts and join what comes out to a prediction.

        Parameters
        ----------
        assumption : str
            Name of the assumption the contacts were made under.
        contacts : ndarray, shape (11, n)
            Rows as ``COLUMNS``, m, m/s, deg, deg/s.
        lateral : tuple of float
            Mean y and z, m, and their covariance yy, yz, zz, m^2.
        calibrated : bool
            Whether the contacts come from an archive.
        """
        n = contacts.shape[1]
        # Squares summed by quantity; closing rate is a value with a sign, not a length.
        squares = self._sums @ (contacts * contacts)
        values = np.sqrt(squares)
        values[0] = contacts[CLOSING]
        means = (np.add.reduce(values, axis=1) / n).tolist()
        seconds = (np.add.reduce(squares, axis=1) / n).tolist()
        chances, every = self._chances(values)
        lines = []
        for quantity, mean, second in zip(AT_CONTACT, means, seconds, strict=True):
            limit = self.known.get(quantity)
            shown = Spread(mean, math.sqrt(max(second - mean * mean, 0.0)))
            low = None if limit is None else limit.minimum
            high = None if limit is None else limit.maximum
            lines.append(ContactQuantity(quantity, shown, low, high, chances.get(quantity)))
        return ContactPrediction(assumption, tuple(lines), *lateral, every, calibrated)

    def _chances(self, values: Array) -> tuple[dict[Quantity, float], float | None]:
        if not self._judged.size:
            return {}, None
        judged = values[self._judged]
        inside = judged >= self._low
        inside &= judged <= self._high
        n = inside.shape[1]
        met = np.count_nonzero(inside, axis=1).tolist()
        every = int(np.count_nonzero(np.logical_and.reduce(inside, axis=0))) / n
        places = self._judged.tolist()
        return {AT_CONTACT[i]: count / n for i, count in zip(places, met, strict=True)}, every


def _or(value: float | None, otherwise: float) -> float:
    return otherwise if value is None else value
