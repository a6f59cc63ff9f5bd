"""One cell of a recorded table, text or typed, to the value a decoder would have given.

A CSV gives text, a Parquet file numbers, booleans and lists; both end in the same plain values
that :mod:`console.wire.rules` judges. What cannot be read stays as it is, so that the rules find
it mistyped.
"""

from __future__ import annotations

from console.core.utc import parse_utc
from console.wire import rules

_FLAGS = {"true": True, "false": False, "1": True, "0": False}
_FLAG_FIELDS = frozenset({"valid", *rules.CAPTURE_FLAGS})
_LARGEST_EXACT = 2.0**53


def is_empty(cell: object) -> bool:
    """Tell whether a cell holds nothing: none, blank text, or a reader's NaN for "no value"."""
    if isinstance(cell, str):
        return not cell.strip()
    return cell is None or (isinstance(cell, float) and cell != cell)


def value_of(name: str, cell: object) -> object:
    """Give the plain value of a cell that is not empty, by the kind of its field."""
    cell = _plain(cell)
    if name == "t":
        return _time_value(cell)
    if name == "seq":
        return _whole_value(cell)
    if name in _FLAG_FIELDS:
        return flag_value(cell)
    if name == "ready_to_hook":
        return [flag_value(item) for item in _list_value(cell)]
    if name in {"hooks", "q"}:
        return [number_value(item) for item in _list_value(cell)]
    return number_value(cell)


def number_value(cell: object) -> object:
    """Read text as a number: decimal point, optional exponent, no digit grouping."""
    if not isinstance(cell, str):
        return cell
    try:
        # Python would take "1_000" as a number; nobody else does.
        return cell if "_" in cell else float(cell)
    except ValueError:
        return cell


def flag_value(cell: object) -> object:
    """Read true, false, 1 or 0, in any case, as text or as a number (so 1.0 too)."""
    if isinstance(cell, str):
        word = cell.strip().lower()
        if word in _FLAGS:
            return _FLAGS[word]
    number = number_value(cell)
    if isinstance(number, int | float) and number in {0, 1}:
        return bool(number)
    return cell


def _time_value(cell: object) -> object:
    value = number_value(cell)
    if isinstance(value, str):
        try:
            return parse_utc(value)
        except ValueError:
            return value
    return value


def _whole_value(cell: object) -> object:
    """Read a whole number; a table's column may have been turned to floats on its way."""
    if isinstance(cell, str):
        text = cell.strip()
        try:
            return cell if "_" in text else int(text)
        except ValueError:
            cell = number_value(text)
    if isinstance(cell, float) and cell.is_integer() and abs(cell) <= _LARGEST_EXACT:
        return int(cell)
    return cell


def _list_value(cell: object) -> list[object]:
    """Split semicolon-separated text; one bare number is a list of one."""
    if isinstance(cell, str):
        return [item.strip() for item in cell.split(";")]
    if isinstance(cell, list):
        return [_plain(item) for item in cell]
    return [cell]


def _plain(cell: object) -> object:
    """Turn numpy scalars and arrays (and tuples) into plain Python values."""
    if isinstance(cell, tuple):
        return list(cell)
    to_plain = getattr(cell, "tolist", None)
    return to_plain() if callable(to_plain) else cell
