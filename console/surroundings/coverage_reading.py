"""Read a coverage plan: CSV, strict, every fault told with its line.

``start,end,link,kind,note``; times in UTC with a ``Z``, half-open; kind ``coverage``, ``outage``
or ``event``. Rows need not be in order. Lines that begin with ``#`` and empty ones are skipped.
"""

from __future__ import annotations

import csv
import io
from difflib import get_close_matches

from console.core.errors import Fault, InputError
from console.core.utc import parse_utc
from console.surroundings.coverage import Coverage, Window, WindowKind
from console.surroundings.interval import Interval

COLUMNS = ("start", "end", "link", "kind", "note")
REQUIRED = COLUMNS[:4]
MOST_ROWS = 100_000
_EXAMPLE = "2031-04-10T09:40:00Z"


def parse_coverage(data: bytes, name: str) -> Coverage:
    """Read a coverage plan.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        What errors and notes call it.

    Raises
    ------
    InputError
        With every fault found, each with its line.
    """
    rows = _rows(_text(data, name), name)
    if not rows:
        raise InputError.of(name, "", "empty", "begin with the line " + ",".join(COLUMNS))
    number, header = rows[0]
    faults: list[Fault] = []
    places = _places(header, number, faults)
    if faults:
        raise InputError(name, tuple(faults))
    if len(rows) - 1 > MOST_ROWS:
        raise InputError.of(name, "", f"{len(rows) - 1} windows", f"at most {MOST_ROWS}")
    windows = [_window(row, line, places, faults) for line, row in rows[1:]]
    if faults:
        raise InputError(name, tuple(faults))
    return Coverage(tuple(window for window in windows if window is not None), name)


def _text(data: bytes, name: str) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        found = f"byte 0x{data[error.start]:02x} is not UTF-8"
        raise InputError.of(name, f"line {line}", found, "save the file as UTF-8") from None


def _rows(text: str, name: str) -> list[tuple[int, list[str]]]:
    """Give the rows that say something, each with its line number."""
    reader = csv.reader(io.StringIO(text), strict=True)
    found: list[tuple[int, list[str]]] = []
    try:
        for row in reader:
            cells = [cell.strip() for cell in row]
            if any(cells) and not cells[0].startswith("#"):
                found.append((reader.line_num, cells))
    except csv.Error as error:
        raise InputError.of(
            name, f"line {reader.line_num}", f"not CSV: {error}", "comma between five values"
        ) from None
    return found


def _places(header: list[str], line: int, faults: list[Fault]) -> dict[str, int]:
    names = [cell.lower() for cell in header]
    for cell in names:
        if cell not in COLUMNS:
            near = get_close_matches(cell, COLUMNS, n=1)
            hint = f'did you mean "{near[0]}"? ' if near else ""
            mend = f"{hint}the columns are {', '.join(COLUMNS)}"
            faults.append(Fault(f"line {line}", f'unknown column "{cell}"', mend))
        elif names.count(cell) > 1:
            faults.append(Fault(f"line {line}", f'column "{cell}" twice', "keep one"))
    faults.extend(
        Fault(f"line {line}", f'no column "{wanted}"', f"the columns are {', '.join(COLUMNS)}")
        for wanted in REQUIRED
        if wanted not in names
    )
    return {cell: place for place, cell in enumerate(names)}


def _window(
    row: list[str], line: int, places: dict[str, int], faults: list[Fault]
) -> Window | None:
    if len(row) != len(places):
        found = f"{len(row)} values under {len(places)} headings"
        faults.append(Fault(f"line {line}", found, "give each column one value"))
        return None
    before = len(faults)
    cell = {name: row[place] for name, place in places.items()}
    kind = _kind(cell["kind"], line, faults)
    start = _time(cell["start"], line, "start", faults)
    end = _time(cell["end"], line, "end", faults)
    if not cell["link"] and kind is not WindowKind.EVENT:
        faults.append(Fault(f"line {line}, link", "empty", "name the link"))
    if start is not None and end is not None and kind is not None:
        _check_order(cell, line, start, end, kind, faults)
    if len(faults) > before or start is None or end is None or kind is None:
        return None
    return Window(Interval(start, end), cell["link"], kind, cell.get("note", ""))


def _check_order(
    cell: dict[str, str],
    line: int,
    start: float,
    end: float,
    kind: WindowKind,
    faults: list[Fault],
) -> None:
    """Refuse a window that ends before it begins; an event alone may be a moment."""
    if end < start or (end == start and kind is not WindowKind.EVENT):
        found = f"{cell['end']} is not after the start {cell['start']}"
        faults.append(Fault(f"line {line}, end", found, "a window ends after it begins"))


def _kind(text: str, line: int, faults: list[Fault]) -> WindowKind | None:
    if text in set(WindowKind):
        return WindowKind(text)
    allowed = ", ".join(WindowKind)
    faults.append(Fault(f"line {line}, kind", f'found "{text}"', f"allowed: {allowed}"))
    return None


def _time(text: str, line: int, column: str, faults: list[Fault]) -> float | None:
    try:
        return parse_utc(text)
    except ValueError as error:
        found = str(error) if text else "empty"
        mend = f"a UTC time such as {_EXAMPLE}"
        faults.append(Fault(f"line {line}, {column}", found, mend))
        return None
