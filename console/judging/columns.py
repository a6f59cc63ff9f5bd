"""A whole pass as arrays, for judging it at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from console.core.errors import UsageError
from console.envelope.limits import Basis
from console.envelope.quantity import Quantity
from console.judging.reading import Reading

Floats: TypeAlias = NDArray[np.float64]
Flags: TypeAlias = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class PassColumns:
    """A pass as the judge sees it: valid samples of the source in use, before contact.

    Attributes
    ----------
    t : ndarray, shape (n,)
        Times, UTC s, never falling but where another source, with another clock, came into use.
    range_m, range_est_m : ndarray, shape (n,)
        As measured, as estimated; NaN where unknown.
    measured, estimated : mapping of ndarray, shape (n,)
        Each quantity's values, NaN where unknown; one that is absent is unknown throughout.
    restarts : ndarray of bool, shape (n,)
        Whether another source came into use just before the sample.
    """

    t: Floats
    range_m: Floats
    range_est_m: Floats
    measured: Mapping[Quantity, Floats]
    estimated: Mapping[Quantity, Floats]
    restarts: Flags

    def __post_init__(self) -> None:
        if np.any((self.t[1:] < self.t[:-1]) & ~self.restarts[1:]):
            raise UsageError("the samples of a pass must be in order of time")

    def values(self, basis: Basis, quantity: Quantity) -> Floats | None:
        """Give a quantity's values on a basis, None where unknown throughout."""
        side = self.estimated if basis is Basis.ESTIMATED else self.measured
        return side.get(quantity)

    @classmethod
    def of(cls, readings: Sequence[Reading], restarts: Sequence[int] = ()) -> PassColumns:
        """Stack readings; ``restarts`` numbers those before which the source changed."""
        flags = np.zeros(len(readings), dtype=np.bool_)
        flags[list(restarts)] = True
        return cls(
            np.array([r.t for r in readings], dtype=np.float64),
            np.array([r.range_m for r in readings], dtype=np.float64),
            np.array([r.range_est_m for r in readings], dtype=np.float64),
            {q: _column([r.measured.get(q) for r in readings]) for q in Quantity},
            {q: _column([r.estimated.get(q) for r in readings]) for q in Quantity},
            flags,
        )


def _column(values: Sequence[float | None]) -> Floats:
    return np.array(values, dtype=np.float64)
