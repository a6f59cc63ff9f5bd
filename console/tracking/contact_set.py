"""Many possible contacts judged at once: chances, all together, and each quantity's spread.

Rows are the components of the contact state, columns possible contacts: archived leftovers added
to a forecast, or draws from a covariance. The vector-sum conditions are taken as they stand. A
lower limit is judged as an upper one of the mirrored value, so that all are one comparison.
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
        known = {limit.quantity: limit for limit in limits}
        self._limits = tuple((quantity, known.get(quantity)) for quantity in AT_CONTACT)
        self._sums: Array = np.array(
            [[1.0 if name in _SUMS[q] else 0.0 for name in COLUMNS] for q in AT_CONTACT]
        )
        self._is_empty = not known
        highest = [
            math.inf if one is None else _or(one.maximum, math.inf) for _, one in self._limits
        ]
        lows = [
            (place, one.minimum)
            for place, (_, one) in enumerate(self._limits)
            if one is not None and one.minimum is not None
        ]
        self._mirrors = tuple(enumerate([place for place, _ in lows], start=len(self._limits)))
        """Rows below the quantities' own, and whose mirrored values they take."""
        self._high: Array = np.array(highest + [-low for _, low in lows])[:, None]
        self.rows = len(self._high)
        """Rows that :meth:`conclude` wants."""

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
        lateral, calibrated
            As for :meth:`conclude`.
        """
        values, seconds = self.measured(contacts)
        return self.conclude(assumption, values, seconds, lateral, calibrated)

    def measured(self, contacts: Array) -> tuple[Array, list[float]]:
        """Give each quantity of each contact, shape (rows, n), and each quantity's mean square."""
        # Squares summed by quantity; closing rate is a value with a sign, not a length.
        squares = self._sums @ (contacts * contacts)
        values = np.zeros((self.rows, contacts.shape[1]))
        np.sqrt(squares, out=values[: len(squares)])
        values[0] = contacts[CLOSING]
        return values, (np.add.reduce(squares, axis=1) / contacts.shape[1]).tolist()

    def conclude(
        self,
        assumption: str,
        values: Array,
        seconds: list[float],
        lateral: tuple[float, float, float, float, float],
        calibrated: bool,
    ) -> ContactPrediction:
        """Join measured contacts to a prediction.

        Parameters
        ----------
        assumption : str
            Name of the assumption the contacts were made under.
        values : ndarray, shape (rows, n)
            Rows as ``AT_CONTACT``, all finite; those below are filled in here.
        seconds : list of float
            Mean square of each row.
        lateral : tuple of float
            Mean y and z, m, and their covariance yy, yz, zz, m^2.
        calibrated : bool
            Whether the contacts come from an archive.
        """
        n = values.shape[1]
        sums = np.add.reduce(values, axis=1).tolist()
        met, every = self._count(values)
        lines = []
        # sums and counts go on over the mirrored rows
        for (quantity, limit), total, second, count in zip(
            self._limits, sums, seconds, met, strict=False
        ):
            mean = total / n
            shown = Spread(mean, math.sqrt(max(second - mean * mean, 0.0)))
            if limit is None:
                lines.append(ContactQuantity(quantity, shown, None, None, None))
            else:
                chance = count / n
                lines.append(
                    ContactQuantity(quantity, shown, limit.minimum, limit.maximum, chance)
                )
        together = None if self._is_empty else every / n
        return ContactPrediction(assumption, tuple(lines), *lateral, together, calibrated)

    def _count(self, values: Array) -> tuple[list[int], int]:
        """Give how many contacts meet each limit, and how many all of them."""
        for row, place in self._mirrors:
            np.negative(values[place], out=values[row])
        inside = values <= self._high
        met: list[int] = np.add.reduce(inside, axis=1, dtype=np.intp).tolist()
        for row, place in self._mirrors:
            # Whoever misses one end of a band meets the other.
            met[place] = max(met[place] + met[row] - values.shape[1], 0)
        return met, int(np.count_nonzero(np.logical_and.reduce(inside, axis=0)))


def _or(value: float | None, otherwise: float) -> float:
    return otherwise if value is None else value
