"""Sample columns that grow part by part, without ever holding two copies of a long table."""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from console.core.ids import SourceId
from console.wire.columns import RelativeColumns
from console.wire.table import STATE_FIELDS

Column: TypeAlias = NDArray[Any]

FIRST_ROWS = 65_536
GROWTH = 1.5

_KINDS: dict[str, type[np.generic]] = {
    "row": np.int64,
    "source_code": np.int32,
    "seq": np.int64,
    "t": np.float64,
    "valid": np.bool_,
    **dict.fromkeys(STATE_FIELDS, np.float64),
}


class GrowingColumns:
    """Columns of samples, filled from the front; the unused rest costs no memory until touched."""

    def __init__(self) -> None:
        self._length = 0
        self._room = FIRST_ROWS
        self._columns: dict[str, Column] = {
            name: np.empty(self._room, dtype=kind) for name, kind in _KINDS.items()
        }
        self._codes: dict[SourceId, int] = {}

    def add(self, part: RelativeColumns, row: NDArray[np.int64]) -> None:
        """Take samples, their sources coded by themselves, with the numbers of their rows."""
        start, end = self._length, self._length + len(part)
        if end > self._room:
            self._grow(end)
        own = [self._codes.setdefault(name, len(self._codes)) for name in part.sources]
        fields: dict[str, Column] = {
            "row": row,
            "source_code": np.array(own, dtype=np.int32)[part.source_code],
            "seq": part.seq,
            "t": part.t,
            "valid": part.valid,
            **part.values,
        }
        for name, column in self._columns.items():
            column[start:end] = fields[name]
        self._length = end

    def sorted(self) -> RelativeColumns:
        """Give the samples in order of t, source, seq and row; the columns are used up."""
        columns = self._columns
        for name in columns:
            columns[name] = columns[name][: self._length]
        names = tuple(self._codes)
        rank = np.argsort(np.argsort(np.array(names, dtype=object))).astype(np.int32)
        order = np.lexsort(
            (columns["row"], columns["seq"], rank[columns["source_code"]], columns["t"])
        )
        if not (order[1:] > order[:-1]).all():
            for name in columns:
                columns[name] = columns[name][order]
        return RelativeColumns(
            row=columns["row"],
            sources=names,
            source_code=columns["source_code"],
            seq=columns["seq"],
            t=columns["t"],
            values={name: columns[name] for name in STATE_FIELDS},
            valid=columns["valid"],
        )

    def _grow(self, wanted: int) -> None:
        self._room = max(wanted, int(self._room * GROWTH))
        for name, column in self._columns.items():
            # One column after the other, so that only one is there twice.
            larger = np.empty(self._room, dtype=column.dtype)
            larger[: self._length] = column[: self._length]
            self._columns[name] = larger
