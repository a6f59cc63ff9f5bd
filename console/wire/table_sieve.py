"""All columns of a table as arrays, with the rows that are clean samples beyond doubt."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from console.core.errors import WireError
from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.wire import rules
from console.wire.sample_columns import REQUIRED_FIELDS, Floats, RelativeColumns
from console.wire.sieve import (
    Column,
    Sieved,
    absent_column,
    flag_column,
    number_column,
    time_column,
    whole_column,
)
from console.wire.table import CAP_FIELDS, STATE_FIELDS


class TableSieve:
    """The columns of one table.

    Attributes
    ----------
    clean : ndarray of bool
        Rows that are a sample beyond doubt, as far as its own fields go.
    captures : ndarray of bool
        Rows with a filled capture field.
    present : ndarray of bool
        Rows taken as samples: the clean ones, and those put by the row path.
    t : ndarray of float64
        Times in UTC seconds.
    """

    def __init__(self, length: int) -> None:
        self.clean = np.ones(length, dtype=np.bool_)
        self.captures = np.zeros(length, dtype=np.bool_)
        self.present = self.clean
        self.codes = np.zeros(length, dtype=np.int32)
        self.names: dict[str, int] = {}
        self.seq = np.zeros(length, dtype=np.int64)
        self.t = np.zeros(length, dtype=np.float64)
        self.valid = np.ones(length, dtype=np.bool_)
        self.values: dict[str, Floats] = {}

    @classmethod
    def of(cls, columns: Mapping[str, Column], length: int) -> TableSieve:
        """Sieve the columns."""
        made = cls(length)
        for name in CAP_FIELDS:
            if name in columns:
                made.captures |= ~absent_column(columns[name])
        if "q" in columns:
            made.clean &= absent_column(columns["q"])
        made._take_keys(columns)
        for name in STATE_FIELDS:
            made._take_number(name, columns.get(name))
        with np.errstate(invalid="ignore"):
            made.clean &= np.abs(made.values["range_m"]) <= rules.RANGE_LIMIT_M
        made.present = made.clean.copy()
        return made

    def put(self, index: int, sample: RelativeSample) -> None:
        """Set a row from a record of the row path."""
        self.present[index] = True
        self.codes[index] = self._code(sample.source)
        self.seq[index] = sample.seq
        self.t[index] = sample.t
        self.valid[index] = sample.valid
        for name in STATE_FIELDS:
            value = getattr(sample, name)
            self.values[name][index] = np.nan if value is None else value

    def columns(self, first_row: int) -> RelativeColumns:
        """Give the rows that are samples."""
        rows = np.flatnonzero(self.present)
        return RelativeColumns(
            row=rows.astype(np.int64) + first_row,
            sources=tuple(SourceId(name) for name in self.names),
            source_code=self.codes[rows],
            seq=self.seq[rows],
            t=self.t[rows],
            values={name: column[rows] for name, column in self.values.items()},
            valid=self.valid[rows],
        )

    def _take_keys(self, columns: Mapping[str, Column]) -> None:
        length = len(self.clean)
        missing = np.full(length, np.nan)
        seq, seq_sieved = whole_column(columns.get("seq", missing))
        self.seq = seq
        self._require(seq_sieved)
        self.clean &= self.seq >= 0
        t = time_column(columns.get("t", missing))
        self.t = t.values
        self._require(t)
        with np.errstate(invalid="ignore"):
            self.clean &= (t.values >= rules.EARLIEST_T_S) & (t.values < rules.LATEST_T_S)
        if "valid" in columns:
            self.valid, odd = flag_column(columns["valid"])
            self.clean &= ~odd
        self._take_sources(columns.get("source"))

    def _take_sources(self, column: Column | None) -> None:
        if column is None:
            self.clean[:] = False
            return
        codes: dict[object, int] = {}
        cells = [cell if isinstance(cell, str) else None for cell in column.tolist()]
        for cell in dict.fromkeys(cells):
            codes[cell] = self._source_code(cell)
        self.codes = np.fromiter((codes[cell] for cell in cells), np.int32, len(cells))
        self.clean &= self.codes >= 0

    def _source_code(self, cell: object) -> int:
        try:
            return self._code(rules.source_name(cell.strip())) if isinstance(cell, str) else -1
        except WireError:
            return -1

    def _code(self, name: str) -> int:
        return self.names.setdefault(name, len(self.names))

    def _take_number(self, name: str, column: Column | None) -> None:
        if column is None:
            self.values[name] = np.full(len(self.clean), np.nan)
            if name in REQUIRED_FIELDS:
                self.clean[:] = False
            return
        sieved = number_column(column)
        self.values[name] = sieved.values
        if name in REQUIRED_FIELDS:
            self._require(sieved)
        else:
            self.clean &= ~sieved.odd

    def _require(self, sieved: Sieved) -> None:
        self.clean &= ~(sieved.odd | sieved.absent)
