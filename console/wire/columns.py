"""Whole columns of a recorded table -> arrays of samples: the fast path for millions of rows.

Theory of operation. A sieve over numpy columns passes every row that is a relative-state sample
clean beyond doubt. All other rows (a fault, a capture field, a quaternion, a cell of an odd type)
go one by one through :func:`console.wire.table.records_from_row`, which alone knows the rules'
reasons. So the two paths cannot disagree on a verdict, and a property test holds them equal.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from console.core.errors import UsageError, WireError
from console.core.records import CaptureStatus, RelativeSample
from console.wire.sample_columns import RelativeColumns
from console.wire.sieve import Column
from console.wire.table import CAP_FIELDS, STATE_FIELDS, capture_from_row, records_from_row
from console.wire.table_sieve import TableSieve

__all__ = [
    "REJECTS_KEPT",
    "RelativeColumns",
    "RowReject",
    "TableRecords",
    "records_from_columns",
]

REJECTS_KEPT = 10_000


@dataclass(frozen=True, slots=True)
class RowReject:
    """A row that was not taken: its number, the fixed reason, and what was found."""

    row: int
    reason: str
    detail: str


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
    sieve = TableSieve.of(known, length)
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


class _Rest:
    """Takes the rows that the sieve kept back, one by one through the rules."""

    def __init__(self, sieve: TableSieve, first_row: int) -> None:
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
