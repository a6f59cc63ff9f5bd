"""Rows of a recorded table <-> records, by the same rules as the wire.

The caller parses bytes into named cells; here stand the names, the header's rules, the leading
comment lines, and what a row means. For whole columns see :mod:`console.wire.columns`, which
gives exactly what :func:`records_from_row` gives row by row.

A row is one or two messages: relative-state fields make a relative-state sample, capture fields
a capture status, and a row may hold both. It is taken whole or rejected whole.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from console.core.errors import Fault, InputError
from console.core.records import CaptureStatus, RelativeSample
from console.wire import rules
from console.wire.cells import is_empty, value_of
from console.wire.reason import Reason, rejected

KEY_FIELDS = ("source", "seq", "t")
STATE_FIELDS = (*rules.POSITION_FIELDS, *rules.ATTITUDE_FIELDS, *rules.RATE_FIELDS)
REL_FIELDS = (*STATE_FIELDS, "q", "valid")
CAP_FIELDS = tuple(name for name in CaptureStatus.__struct_fields__ if name not in KEY_FIELDS)
# The columns in the order in which a table is written; ``q`` is read but never written, since a
# record holds the angles.
COLUMNS = (*KEY_FIELDS, *STATE_FIELDS, "valid", *CAP_FIELDS)
# A row with one of these filled is a relative-state sample; ``valid`` alone does not make one.
_STATE_OR_Q = (*STATE_FIELDS, "q")


def preamble(lines: Iterable[str]) -> tuple[dict[str, str], int]:
    """Read the leading ``# key: value`` lines of a table.

    Parameters
    ----------
    lines : iterable of str
        The file's lines from its first; reading stops at the first that is no comment.

    Returns
    -------
    values : dict of str to str
        Keys in lower case, the first of equal keys counts; a comment without a colon is passed
        over.
    count : int
        Number of lines to skip before the header row.
    """
    values: dict[str, str] = {}
    count = 0
    for line in lines:
        text = line.lstrip("\ufeff").strip()
        if text and not text.startswith("#"):
            break
        count += 1
        key, colon, value = text.lstrip("#").partition(":")
        if colon and key.strip():
            values.setdefault(key.strip().lower(), value.strip())
    return values, count


def check_header(columns: Sequence[str], name: str, line: int | None = None) -> tuple[str, ...]:
    """Check a table's header and give its column names, stripped, in their order.

    Parameters
    ----------
    columns : sequence of str
        As they stand in the file.
    name : str
        The file, for the error text.
    line : int, optional
        Line of the header row, where there is one.

    Raises
    ------
    InputError
        A column is given twice, or one is missing without which no row could be taken. Unknown
        columns are allowed and ignored, as unknown fields are on the wire.
    """
    stripped = tuple(column.strip().lstrip("\ufeff") for column in columns)
    known = set(stripped)
    place = "header" if line is None else f"line {line}"
    faults = [
        Fault(place, f"column {column!r} stands twice", "give each column once")
        for column in (*COLUMNS, "q")
        if stripped.count(column) > 1
    ]
    faults += [
        Fault(place, f"no column {column!r}", f"the header must name {', '.join(KEY_FIELDS)}")
        for column in KEY_FIELDS
        if column not in known
    ]
    if known.intersection(_STATE_OR_Q) or not known.intersection(CAP_FIELDS):
        faults += _missing_state(known, place)
    if faults:
        raise InputError(name, tuple(faults))
    return stripped


def _missing_state(known: set[str], place: str) -> list[Fault]:
    needed = list(rules.POSITION_FIELDS)
    if "q" not in known:
        needed += rules.ATTITUDE_FIELDS
    mend = f"samples need {', '.join(rules.POSITION_FIELDS)} and roll, pitch, yaw_deg or q"
    return [
        Fault(place, f"no column {column!r}", mend) for column in needed if column not in known
    ]


def records_from_row(row: Mapping[str, object]) -> tuple[CaptureStatus | RelativeSample, ...]:
    """Give the records of one row.

    Parameters
    ----------
    row : mapping of str to object
        Cells by column name: text, or the typed values of a Parquet file. Empty text, ``None``
        and a float NaN are absent fields (the text ``nan`` is not: it is rejected). Unknown
        columns are ignored.

    Returns
    -------
    tuple of records
        One record, or two of the same time, the capture status first: a row that reports contact
        is the contact, and nothing is judged from there on.

    Raises
    ------
    WireError
        The row is rejected, by the rules of the wire.
    """
    fields = _filled(row, _READ_FIELDS)
    source = rules.source_name(_source_text(row.get("source")))
    has_capture = any(name in fields for name in CAP_FIELDS)
    has_state = any(name in fields for name in _STATE_OR_Q)
    if not has_capture:
        has_state = has_state or "valid" in fields
    records: list[CaptureStatus | RelativeSample] = []
    if has_capture or not has_state:
        records.append(rules.capture_status(source, fields))
    if has_state:
        records.append(rules.relative_sample(source, fields))
    return tuple(records)


def capture_from_row(row: Mapping[str, object]) -> CaptureStatus:
    """Give the capture status of a row alone, for a row whose other half is known to be clean.

    Raises
    ------
    WireError
        The capture fields are rejected, by the rules of the wire.
    """
    source = rules.source_name(_source_text(row.get("source")))
    return rules.capture_status(source, _filled(row, _CAPTURE_ROW_FIELDS))


def row_from_record(record: RelativeSample | CaptureStatus) -> dict[str, str]:
    """Give the filled cells of a record's row, to be read back to an equal record.

    Floats are written in the shortest form that reads back to the same bits, ``t`` as seconds.
    """
    return {
        name: _cell_text(value)
        for name in record.__struct_fields__
        if (value := getattr(record, name)) is not None
    }


_READ_FIELDS = ("seq", "t", *REL_FIELDS, *CAP_FIELDS)
_CAPTURE_ROW_FIELDS = ("seq", "t", *CAP_FIELDS)


def _filled(row: Mapping[str, object], names: Sequence[str]) -> dict[str, object]:
    return {
        name: value_of(name, cell)
        for name in names
        if (cell := row.get(name)) is not None and not is_empty(cell)
    }


def _source_text(cell: object) -> str:
    if cell is None or is_empty(cell):
        raise rejected(Reason.MISSING, "source")
    if not isinstance(cell, str):
        raise rejected(Reason.MISTYPED, f"source = {cell!r}, must be text")
    return cell.strip()


def _cell_text(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, tuple):
        return ";".join(_cell_text(item) for item in value)
    return value if isinstance(value, str) else repr(value)
