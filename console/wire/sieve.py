"""One column of a table to numbers, with marks for cells that are absent or need a closer look.

Nothing is judged here: a cell is *odd* when it is not a plain finite value of its kind, and its
row then goes through the rules cell by cell.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from console.core.utc import parse_utc
from console.wire.cells import flag_value, is_empty, number_value, value_of

Column: TypeAlias = NDArray[Any]
Mask: TypeAlias = NDArray[np.bool_]

_LARGEST_EXACT = 2.0**53


@dataclass(frozen=True, slots=True)
class Sieved:
    """A column as float64, shape (n,), and which of its cells are absent or odd (there NaN)."""

    values: NDArray[np.float64]
    absent: Mask
    odd: Mask


def absent_column(column: Column) -> Mask:
    """Tell which cells are empty."""
    kind = column.dtype.kind
    if kind == "f":
        return np.isnan(column)
    if kind in "iub":
        return np.zeros(len(column), dtype=np.bool_)
    return np.array([is_empty(cell) for cell in column.tolist()], dtype=np.bool_)


def number_column(column: Column) -> Sieved:
    """Sieve a column of numbers."""
    kind = column.dtype.kind
    if kind == "f":
        values = column.astype(np.float64)
        absent = np.isnan(values)
        return Sieved(values, absent, np.isinf(values))
    if kind in "iu":
        none = np.zeros(len(column), dtype=np.bool_)
        return Sieved(column.astype(np.float64), none, none)
    return _gathered([_number(cell) for cell in column.tolist()], column)


def time_column(column: Column) -> Sieved:
    """Sieve a column of times: seconds, ISO 8601 text with Z, or datetime64 in UTC."""
    kind = column.dtype.kind
    if kind == "M":
        return _dates(column)
    if kind in "fiu":
        return number_column(column)
    reader = _UtcReader()
    return _gathered([reader.seconds(cell) for cell in column.tolist()], column)


def whole_column(column: Column) -> tuple[NDArray[np.int64], Sieved]:
    """Sieve a column of whole numbers; values that int64 cannot hold are odd."""
    kind = column.dtype.kind
    none = np.zeros(len(column), dtype=np.bool_)
    if kind == "i" or (kind == "u" and column.dtype.itemsize < 8):
        return column.astype(np.int64), Sieved(column.astype(np.float64), none, none)
    if kind == "u":
        odd = column > np.uint64(2**63 - 1)
        clean = np.where(odd, np.uint64(0), column).astype(np.int64)
        return clean, Sieved(clean.astype(np.float64), none, odd)
    if kind != "f":
        cells = [_whole(cell) for cell in column.tolist()]
        absent = np.array([cell is None for cell in cells], dtype=np.bool_)
        odd = np.array([cell is not None and cell < 0 for cell in cells], dtype=np.bool_)
        whole = np.array([0 if cell is None else cell for cell in cells], dtype=np.int64)
        return whole, Sieved(whole.astype(np.float64), absent, odd)
    absent = np.isnan(column)
    with np.errstate(invalid="ignore"):
        odd = ~absent & ~((column == np.floor(column)) & (np.abs(column) <= _LARGEST_EXACT))
    whole = np.where(absent | odd, 0.0, column).astype(np.int64)
    return whole, Sieved(column.astype(np.float64), absent, odd)


def flag_column(column: Column) -> tuple[Mask, Mask]:
    """Sieve a column of flags; give the flags (true where absent) and which cells are odd."""
    if column.dtype.kind == "b":
        return column.astype(np.bool_), np.zeros(len(column), dtype=np.bool_)
    flags = [True if is_empty(cell) else flag_value(cell) for cell in column.tolist()]
    odd = np.array([not isinstance(flag, bool) for flag in flags], dtype=np.bool_)
    return np.array([flag is True for flag in flags], dtype=np.bool_), odd


def _whole(cell: object) -> int | None:
    """Give the whole number, ``None`` for an empty cell, -1 for one that needs a closer look."""
    if type(cell) is int:
        value: object = cell
    elif is_empty(cell):
        return None
    else:
        value = value_of("seq", cell)
    if isinstance(value, bool) or not isinstance(value, int):
        return -1
    return value if 0 <= value < 2**63 else -1


def _number(cell: object) -> object:
    """Give a float of a plain cell, else the cell itself."""
    if type(cell) is float:
        return cell
    value = number_value(cell)
    if isinstance(value, int) and not isinstance(value, bool):
        # Beyond this a float may not hold it, or not at all: left to the rules.
        return float(value) if abs(value) <= _LARGEST_EXACT else value
    return value


def _gathered(cells: list[object], column: Column) -> Sieved:
    """Make arrays of cells that are floats where plain; the rest is looked at one by one."""
    values = np.full(len(cells), np.nan)
    plain = np.array([type(cell) is float for cell in cells], dtype=np.bool_)
    values[plain] = [cell for cell in cells if type(cell) is float]
    absent = np.zeros(len(cells), dtype=np.bool_)
    odd = np.zeros(len(cells), dtype=np.bool_)
    for index in np.flatnonzero(~np.isfinite(values)).tolist():
        # The column's own cell tells the text "nan" from a reader's NaN for "no value".
        if is_empty(column[index]):
            absent[index] = True
        else:
            odd[index] = True
    return Sieved(values, absent, odd)


def _dates(column: Column) -> Sieved:
    """Turn datetime64 to seconds to the nanosecond: whole seconds plus a fraction, as text is."""
    nanos = column.astype("datetime64[ns]").astype(np.int64)
    whole, rest = np.divmod(nanos, 1_000_000_000)
    absent = np.isnat(column)
    values = whole.astype(np.float64) + rest.astype(np.float64) / 1e9
    values[absent] = np.nan
    return Sieved(values, absent, np.zeros(len(column), dtype=np.bool_))


class _UtcReader:
    """Reads times of a column, parsing each second of the calendar once."""

    def __init__(self) -> None:
        self._whole_s: dict[str, float] = {}

    def seconds(self, cell: object) -> object:
        """Give seconds of a plain cell, else the cell itself."""
        if type(cell) is not str:
            return _number(cell)
        tail = cell[19:]
        # By month and day alone a second ends at the 19th character; a day of the year is shorter.
        is_dated = cell[7:8] == "-" and cell[16:17] == ":"
        if tail[-1:] != "Z" or not is_dated or not _is_fraction(tail[:-1]):
            return self._slow(cell)
        second = cell[:19]
        whole_s = self._whole_s.get(second)
        if whole_s is None:
            try:
                whole_s = parse_utc(second + "Z")
            except ValueError:
                return self._slow(cell)
            self._whole_s[second] = whole_s
        return whole_s + float("0" + tail[:-1])

    @staticmethod
    def _slow(text: str) -> object:
        value = value_of("t", text)
        return value if isinstance(value, float) and math.isfinite(value) else text


def _is_fraction(text: str) -> bool:
    """Tell whether text is empty or a point and digits: what may stand between second and Z."""
    return not text or (text[0] == "." and text[1:].isdecimal() and text.isascii())
