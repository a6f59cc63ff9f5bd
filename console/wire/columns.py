"""Whole columns of a recorded table -> arrays of samples: the fast path for millions of rows.

Theory of operation. A sieve over numpy columns passes every row that is a relative-state sample
clean beyond doubt. All other rows (a fault, a capture field, a quaternion, a cell of an odd type)
go one by one through :func:`console.wire.table.records_from_row`, which alone knows the rules'
reasons. So the two paths cannot disagree on a verdict, and a property test holds them equal.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from console.core.errors import UsageError, WireError
from console.core.ids import SourceId
from console.core.records import CaptureStatus, RelativeSample
from console.wire import rules
from console.wire.sieve import (
    Sieved,
    absent_column,
    flag_column,
    number_column,
    time_column,
    whole_column,
)
from console.wire.table import CAP_FIELDS, STATE_FIELDS, capture_from_row, records_from_row

Column: TypeAlias = NDArray[Any]
Floats: TypeAlias = NDArray[np.float64]

_REQUIRED = (*rules.POSITION_FIELDS, *rules.ATTITUDE_FIELDS)
REJECTS_KEPT = 10_000


@dataclass(frozen=True, slots=True)
class RowReject:
    """A row that was not taken: its number, the fixed reason, and what was found."""

    row: int
    reason: str
    detail: str


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
        numbers = [self.values[name].tolist() for name in _REQUIRED]
        rates = [_with_none(self.values[name]) for name in rules.RATE_FIELDS]
        columns = zip(
            self.source_code.tolist(), self.seq.tolist(), self.t.tolist(), *numbers, *rates,
            self.valid.tolist(), strict=True,
        )  # fmt: skip
        for code, *rest in columns:
            yield RelativeSample(names[code], *rest)


@dataclass(frozen=True, slots=True)
class TableRecords:
    """What a table holds.

    Attributes
    ----------
    relative : RelativeColumns
        The relative-state samples.
    captures : tuple of (int, CaptureStatus)
        Row number and status, in the order of rows.
    rejects : tuple of RowReject
        The first 10,000 rows not taken.
    reject_counts : dict of str to int
        How many rows were not taken, by reason: all of them.
    """

    relative: RelativeColumns
    captures: tuple[tuple[int, CaptureStatus], ...]
    rejects: tuple[RowReject, ...]
    reject_counts: dict[str, int]


def records_from_columns(columns: Mapping[str, Column], first_row: int = 1) -> TableRecords:
    """Give the records of a whole table.

    Parameters
    ----------
    columns : mapping of str to ndarray, shape (n,)
        Columns by name, unknown ones ignored. Each may be float, integer, boolean, datetime64
        (``t`` alone, UTC) or object/str with text, typed values, ``None`` and NaN mixed. In float
        columns and objects NaN means an absent field: a reader must leave the *text* ``nan`` as
        text (pandas does with ``keep_default_na=False, na_values=[""]``).
    first_row : int
        Number of the first row, for rejects: 1 counts data rows, the file's line number of the
        first data row gives lines.

    Returns
    -------
    TableRecords
        In the order of rows; sorting is the caller's.
    """
    known = {name: column for name, column in columns.items() if name in _ROW_FIELDS}
    if len({len(column) for column in known.values()}) > 1:
        raise UsageError("the columns of a table are not of one length")
    length = max((len(column) for column in known.values()), default=0)
    sieve = _Sieve.of(known, length)
    if "t" in known and known["t"].dtype.kind == "M":
        known["t"] = sieve.t
    rest = _Rest(sieve, first_row)
    indices = np.flatnonzero(~sieve.clean | sieve.captures)
    cells = [known[name][indices].tolist() for name in known]
    for index, *values in zip(indices.tolist(), *cells, strict=True):
        rest.take(index, dict(zip(known, values, strict=True)))
    return TableRecords(
        sieve.columns(first_row), tuple(rest.captures), tuple(rest.rejects), dict(rest.counts)
    )


_ROW_FIELDS = frozenset({"source", "seq", "t", "valid", "q", *STATE_FIELDS, *CAP_FIELDS})


def _with_none(column: Floats) -> list[float | None]:
    values: list[float | None] = column.tolist()
    absent = np.flatnonzero(np.isnan(column))
    if len(absent) == len(values):
        return [None] * len(values)
    for index in absent.tolist():
        values[index] = None
    return values


class _Rest:
    """Takes the rows that the sieve kept back, one by one through the rules."""

    def __init__(self, sieve: _Sieve, first_row: int) -> None:
        self._sieve = sieve
        self._first_row = first_row
        self.captures: list[tuple[int, CaptureStatus]] = []
        self.rejects: list[RowReject] = []
        self.counts: Counter[str] = Counter()

    def take(self, index: int, row: Mapping[str, object]) -> None:
        """Take one row: a capture status, a sample, both, or a reject."""
        number = self._first_row + index
        try:
            if self._sieve.clean[index]:
                # The sample is taken already; the row's other half may still refuse the row.
                records: tuple[CaptureStatus | RelativeSample, ...] = (capture_from_row(row),)
            else:
                records = records_from_row(row)
        except WireError as error:
            self._sieve.present[index] = False
            self.counts[error.reason] += 1
            if len(self.rejects) < REJECTS_KEPT:
                self.rejects.append(RowReject(number, error.reason, error.detail))
            return
        for record in records:
            if isinstance(record, CaptureStatus):
                self.captures.append((number, record))
            else:
                self._sieve.put(index, record)


class _Sieve:
    """The columns of a table as arrays, with the rows that are clean beyond doubt."""

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
    def of(cls, columns: Mapping[str, Column], length: int) -> _Sieve:
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
            if name in _REQUIRED:
                self.clean[:] = False
            return
        sieved = number_column(column)
        self.values[name] = sieved.values
        if name in _REQUIRED:
            self._require(sieved)
        else:
            self.clean &= ~sieved.odd

    def _require(self, sieved: Sieved) -> None:
        self.clean &= ~(sieved.odd | sieved.absent)
