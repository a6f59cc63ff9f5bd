"""Relative-state samples as arrays: what passes of many samples are made of."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.wire import rules

Floats: TypeAlias = NDArray[np.float64]

REQUIRED_FIELDS = (*rules.POSITION_FIELDS, *rules.ATTITUDE_FIELDS)


@dataclass(frozen=True, slots=True)
class RelativeColumns:
    """Relative-state samples as arrays, shape (n,), in the order of the table's rows.

    Attributes
    ----------
    row : ndarray of int64
        Number of each sample's row.
    sources : tuple of SourceId
        The sources' names in the order first seen.
    source_code : ndarray of int32
        Index into ``sources``.
    seq : ndarray of int64
    t : ndarray of float64
        UTC seconds.
    values : dict of str to ndarray of float64
        Every field of ``STATE_FIELDS``; NaN in a rate means that the source does not send it.
    valid : ndarray of bool
    """

    row: NDArray[np.int64]
    sources: tuple[SourceId, ...]
    source_code: NDArray[np.int32]
    seq: NDArray[np.int64]
    t: Floats
    values: dict[str, Floats]
    valid: NDArray[np.bool_]

    def __len__(self) -> int:
        """Give the number of samples."""
        return len(self.t)

    def taken(self, order: NDArray[np.intp]) -> RelativeColumns:
        """Give the samples at the given places, in that order."""
        return RelativeColumns(
            self.row[order],
            self.sources,
            self.source_code[order],
            self.seq[order],
            self.t[order],
            {name: column[order] for name, column in self.values.items()},
            self.valid[order],
        )

    def samples(self) -> Iterator[RelativeSample]:
        """Give the samples one by one as records, equal to those of the row path."""
        names = self.sources
        numbers = [self.values[name].tolist() for name in REQUIRED_FIELDS]
        rates = [_with_none(self.values[name]) for name in rules.RATE_FIELDS]
        columns = zip(
            self.source_code.tolist(), self.seq.tolist(), self.t.tolist(), *numbers, *rates,
            self.valid.tolist(), strict=True,
        )  # fmt: skip
        for code, *rest in columns:
            yield RelativeSample(names[code], *rest)


def _with_none(column: Floats) -> list[float | None]:
    values: list[float | None] = column.tolist()
    absent = np.flatnonzero(np.isnan(column))
    if len(absent) == len(values):
        return [None] * len(values)
    for index in absent.tolist():
        values[index] = None
    return values
