"""Build a pass of a table's parts: parts come in the file's order, the pass is in order of time.

Order: ``t``, then the source's name, then ``seq``; rows that are equal in all three stay in the
file's order, and of one row the capture status comes before the sample.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from heapq import merge
from typing import Any, TypeAlias

import msgspec
import numpy as np
from numpy.typing import NDArray

from console.archive.field_columns import SLANT_SHORT, FieldPlan
from console.archive.growing_columns import GrowingColumns
from console.archive.mapping import Numbering
from console.core.ids import SourceId
from console.core.records import CaptureStatus, RelativeSample
from console.wire.columns import (
    REJECTS_KEPT,
    RelativeColumns,
    RowReject,
    TableRecords,
    records_from_columns,
)

Column: TypeAlias = NDArray[Any]
Record: TypeAlias = RelativeSample | CaptureStatus
Numbered: TypeAlias = tuple[int, CaptureStatus]

FIRST_ROWS = 128
STREAM_ROWS = 8192
"""Rows made at a time: few at first, so that the first comes soon, then ever more."""


@dataclass(frozen=True, slots=True)
class OrderedTable:
    """A table's records in order of time.

    Attributes
    ----------
    relative : RelativeColumns
        The samples; ``row`` holds their line or row numbers.
    captures : tuple of (int, CaptureStatus)
        The capture statuses with their line or row numbers.
    """

    relative: RelativeColumns
    captures: tuple[Numbered, ...]

    def records(self, samples: int = 0, captures: int = 0) -> Iterator[Record]:
        """Give the records in order, made as they are asked for, some thousands at a time.

        Parameters
        ----------
        samples, captures : int
            How many of each were given already: to go on from there.
        """
        if captures >= len(self.captures):
            yield from (sample for _, sample in self._samples(samples))
            return
        statuses: Iterable[tuple[int, Record]] = self.captures[captures:]
        rest: Iterable[tuple[int, Record]] = self._samples(samples)
        for _, record in merge(statuses, rest, key=_place_in_order):
            yield record

    def _samples(self, start: int) -> Iterator[tuple[int, RelativeSample]]:
        total, rows = len(self.relative), FIRST_ROWS
        while start < total:
            end = min(start + rows, total)
            part = self.relative.taken(np.arange(start, end))
            yield from zip(part.row.tolist(), part.samples(), strict=True)
            start, rows = end, min(2 * rows, STREAM_ROWS)


def _place_in_order(item: tuple[int, Record]) -> tuple[float, str, int, int, bool]:
    row, record = item
    return record.t, record.source, record.seq, row, isinstance(record, RelativeSample)


class TableBuilder:
    """Collects parts of a table.

    Attributes
    ----------
    counts : Counter of str
        Rows not taken, by reason.
    rejects : list of RowReject
        The first of them.
    """

    def __init__(self, plan: FieldPlan) -> None:
        self.counts: Counter[str] = Counter()
        self.rejects: list[RowReject] = []
        self._plan = plan
        self._samples = GrowingColumns()
        self._captures: list[Numbered] = []

    def add(self, cells: dict[int, Column], numbers: NDArray[np.int64]) -> None:
        """Take rows.

        Parameters
        ----------
        cells : dict of int to ndarray, shape (n,)
            The columns by their place in the header.
        numbers : ndarray of int64, shape (n,)
            The rows' line or row numbers.
        """
        fields = self._plan.fields(cells, len(numbers))
        short = self._plan.to_axial(fields)
        if short is not None and short.any():
            for number in numbers[short].tolist():
                self.reject(number, SLANT_SHORT)
            kept = np.flatnonzero(~short)
            fields = {name: column[kept] for name, column in fields.items()}
            numbers = numbers[kept]
        self._take(records_from_columns(fields, 0), numbers)

    def reject(self, number: int, reason: str, detail: str = "") -> None:
        """Count a row as not taken."""
        self.counts[reason] += 1
        if len(self.rejects) < REJECTS_KEPT:
            self.rejects.append(RowReject(number, reason, detail))

    def build(self) -> OrderedTable:
        """Give the pass; the builder is used up."""
        relative = self._samples.sorted()
        captures = sorted(
            self._captures, key=lambda item: (item[1].t, item[1].source, item[1].seq)
        )
        mapping = self._plan.mapping
        if mapping and mapping.numbering is Numbering.COUNT:
            relative = replace(relative, seq=_ranks(relative.source_code))
            captures = _renumbered(captures)
        return OrderedTable(relative, tuple(captures))

    def _take(self, found: TableRecords, numbers: NDArray[np.int64]) -> None:
        self.counts.update(found.reject_counts)
        room = REJECTS_KEPT - len(self.rejects)
        self.rejects += [
            replace(reject, row=int(numbers[reject.row])) for reject in found.rejects[:room]
        ]
        self._captures += [(int(numbers[row]), status) for row, status in found.captures]
        self._samples.add(found.relative, numbers[found.relative.row])


def _ranks(codes: NDArray[np.int32]) -> NDArray[np.int64]:
    """Give the number of each sample among its source's, from 0, in their present order."""
    ranks = np.empty(len(codes), dtype=np.int64)
    for code in np.unique(codes).tolist():
        of_source = np.flatnonzero(codes == code)
        ranks[of_source] = np.arange(len(of_source))
    return ranks


def _renumbered(captures: list[Numbered]) -> list[Numbered]:
    counted: Counter[SourceId] = Counter()
    made = []
    for row, status in captures:
        made.append((row, msgspec.structs.replace(status, seq=counted[status.source])))
        counted[status.source] += 1
    return made
