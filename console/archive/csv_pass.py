"""Read a recorded pass from CSV: in parts, so that a file of millions of rows needs little memory.

Text is split by pyarrow and judged by :mod:`console.wire.columns`; nothing here decides what a
valid row is. A row that has not the header's number of cells is read by itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from console.archive.csv_sniff import CsvHead, cells_of, sniff_csv
from console.archive.field_columns import plan_fields
from console.archive.mapping import Mapping
from console.archive.recorded_pass import Pass, pass_of_table
from console.archive.table_build import TableBuilder
from console.core.errors import InputError
from console.wire.rules import CAPTURE_FLAGS

if TYPE_CHECKING:
    import pyarrow as pa

Column: TypeAlias = NDArray[Any]

BLOCK_BYTES = 8 << 20
WRONG_LENGTH = "not as many cells as the header"


def read_csv_pass(path: Path, mapping: Mapping | None = None) -> Pass:
    """Read a CSV file.

    Parameters
    ----------
    path : Path
    mapping : Mapping, optional
        For columns that have other names, units or directions.

    Returns
    -------
    Pass
        In order of ``t``, then source, then ``seq``; rows that do not validate are counted.

    Raises
    ------
    InputError
        The file cannot be read as a table at all.
    """
    head = sniff_csv(path, mapping)
    plan = plan_fields(head.header, str(path), mapping, head.header_line)
    kinds = {place: _kind_of(field) for field, place in plan.places.items()}
    reader = _Reader(path, head, kinds)
    builder = TableBuilder(plan)
    reader.feed(builder)
    made = pass_of_table(path, head.notes, builder)
    _refuse_other_shape(made)
    return made


def _refuse_other_shape(made: Pass) -> None:
    """Refuse a file none of whose rows fits its header, such as one with decimal commas."""
    taken = made.table is not None and (len(made.table.relative) or made.table.captures)
    odd = next((reject for reject in made.rejects if reject.reason == WRONG_LENGTH), None)
    if odd is not None and not taken and 2 * made.rejected[WRONG_LENGTH] >= made.rejected_count:
        raise InputError.of(
            str(made.path),
            f"line {odd.row}",
            f"{odd.detail}, and no other row fits either",
            "write numbers with a decimal point, and one cell for each column",
        )


class _Reader:
    """Feeds a file's rows, from its first data row on, to a builder."""

    def __init__(self, path: Path, head: CsvHead, kinds: dict[int, _Kind]) -> None:
        self._path = path
        self._head = head
        self._places = sorted(kinds)
        self._kinds = kinds
        self._odd: dict[int, str] = {}
        self._next_line = head.header_line + 1

    def feed(self, builder: TableBuilder) -> None:
        """Read all rows."""
        for batch in self._batches():
            numbers = self._numbers(batch.num_rows)
            cells = {
                place: _column(batch.column(index), self._kinds[place])
                for index, place in enumerate(self._places)
            }
            filled = ~_empty_rows(batch)
            if filled.all():
                builder.add(cells, numbers)
            elif filled.any():
                kept = np.flatnonzero(filled)
                taken = {place: column[kept] for place, column in cells.items()}
                builder.add(taken, numbers[kept])
            self._add_odd(builder, self._next_line)
        self._add_odd(builder, None)

    def _batches(self) -> Iterator[pa.RecordBatch]:
        import pyarrow as pa
        from pyarrow import csv as arrow_csv

        names = [str(place) for place in range(len(self._head.header))]
        wanted = [str(place) for place in self._places]
        try:
            with self._path.open("rb") as file:
                file.seek(self._head.data_offset)
                if not file.read(1):
                    return
                file.seek(self._head.data_offset)
                yield from arrow_csv.open_csv(
                    file,
                    read_options=arrow_csv.ReadOptions(
                        use_threads=False, block_size=BLOCK_BYTES, column_names=names
                    ),
                    parse_options=arrow_csv.ParseOptions(
                        delimiter=self._head.separator,
                        invalid_row_handler=self._on_odd_row,
                        ignore_empty_lines=False,
                    ),
                    convert_options=arrow_csv.ConvertOptions(
                        column_types=dict.fromkeys(names, pa.string()),
                        include_columns=wanted,
                        null_values=[""],
                        strings_can_be_null=True,
                        quoted_strings_can_be_null=True,
                    ),
                )
        except pa.ArrowInvalid as error:
            raise self._refusal(str(error)) from None
        except OSError as error:
            raise self._refusal(error.strerror or str(error)) from None

    def _on_odd_row(self, row: Any) -> str:
        self._odd[self._head.header_line + row.number] = row.text
        return "skip"

    def _refusal(self, reason: str) -> InputError:
        return InputError.of(
            str(self._path), "", f"cannot be read as a table: {reason}", "save it as CSV anew"
        )

    def _numbers(self, count: int) -> NDArray[np.int64]:
        """Give the lines of a part's rows: those not found odd, in order."""
        first = self._next_line
        lines = np.arange(first, first + count + len(self._odd), dtype=np.int64)
        if self._odd:
            lines = lines[~np.isin(lines, np.fromiter(self._odd, dtype=np.int64))]
        lines = lines[:count]
        self._next_line = int(lines[-1]) + 1 if count else first
        return lines

    def _add_odd(self, builder: TableBuilder, before_line: int | None) -> None:
        """Take rows of another length: what is lacking is absent, what is more must be empty."""
        ready = [line for line in self._odd if before_line is None or line < before_line]
        rows: list[list[str]] = []
        lines: list[int] = []
        for line in ready:
            cells = self._cells(line, self._odd.pop(line))
            width = len(self._head.header)
            if any(cell.strip() for cell in cells[width:]):
                detail = f"{len(cells)} cells, the header has {width}"
                builder.reject(line, WRONG_LENGTH, detail)
            elif any(cell.strip() for cell in cells):
                rows.append(cells + [""] * (width - len(cells)))
                lines.append(line)
        if rows:
            columns = {
                place: np.array([row[place] for row in rows], dtype=object)
                for place in self._places
            }
            builder.add(columns, np.array(lines, dtype=np.int64))

    def _cells(self, line: int, text: str) -> list[str]:
        if text.count('"') % 2:
            raise InputError.of(
                str(self._path),
                f"line {line}",
                "a quotation mark opens and does not close",
                'close it, or write it twice ("")',
            )
        return cells_of(text, self._head.separator, str(self._path), line)


def _empty_rows(batch: pa.RecordBatch) -> NDArray[np.bool_]:
    """Tell which rows hold nothing in any known column: blank lines, and ``,,,`` of a sheet."""
    empty = np.ones(batch.num_rows, dtype=np.bool_)
    for column in batch.columns:
        if not empty.any():
            break
        empty &= column.is_null().to_numpy(zero_copy_only=False)
    return empty


class _Kind(Enum):
    """What a column is tried as before it is left as text."""

    NUMBER = "number"
    WHOLE = "whole number"
    FLAG = "flag"
    TEXT = "text"


def _kind_of(field: str) -> _Kind:
    if field in {"source", "q", "ready_to_hook", "hooks"}:
        return _Kind.TEXT
    if field == "seq":
        return _Kind.WHOLE
    if field == "valid" or field in CAPTURE_FLAGS:
        return _Kind.FLAG
    return _Kind.NUMBER


def _column(texts: pa.StringArray, kind: _Kind) -> Column:
    """Turn a column of texts to values where every cell is one beyond doubt; else leave text."""
    if texts.null_count == len(texts):
        return np.full(len(texts), np.nan)
    made: Column | None = None
    if kind is _Kind.NUMBER:
        made = _cast(texts, "float64")
    elif kind is not _Kind.TEXT and not texts.null_count:
        # With absent cells among them numpy would make floats of these.
        made = _cast(texts, "int64" if kind is _Kind.WHOLE else "bool")
    if made is None:
        made = texts.to_numpy(zero_copy_only=False)
    return made


def _cast(texts: pa.StringArray, kind: str) -> Column | None:
    """Give a column of another type, or None where a cell is not plainly of that type.

    The cast would take ``0x10`` for sixteen and ``nan`` for an absent value; the rules do not.
    """
    import pyarrow as pa
    from pyarrow import compute

    try:
        cast = compute.cast(texts, kind)
    except pa.ArrowInvalid:
        return None
    if kind == "float64" and compute.any(compute.is_nan(cast)).as_py():
        return None
    if (
        kind == "int64"
        and compute.any(compute.match_substring(texts, "x", ignore_case=True)).as_py()
    ):
        return None
    made: Column = cast.to_numpy(zero_copy_only=False)
    return made
