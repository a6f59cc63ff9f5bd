"""Write records as a CSV pass that reads back to equal records."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Mapping
from pathlib import Path

from console.archive.whole_file import whole_file
from console.core.records import CaptureStatus, RelativeSample
from console.wire.table import CAP_FIELDS, COLUMNS, row_from_record

_LINE_ENDS = re.compile(r"[\r\n]+")  # what ends a line of a table, and nothing else


def write_csv_pass(
    path: Path,
    records: Iterable[RelativeSample | CaptureStatus],
    header: Mapping[str, str] | None = None,
    *,
    with_capture: bool = True,
) -> int:
    """Write a pass.

    Parameters
    ----------
    path : Path
        Written whole or not at all; what stands there is replaced.
    records : iterable of records
        One row each, in this order; floats in the shortest form that reads back to the same bits.
    header : mapping of str to str, optional
        Leading ``# key: value`` lines.
    with_capture : bool
        False leaves the columns of the capture statuses away, for passes that have none.

    Returns
    -------
    int
        Number of rows.

    Raises
    ------
    InputError
        The file cannot be written.
    """
    names = [name for name in COLUMNS if with_capture or name not in CAP_FIELDS]
    count = 0
    with whole_file(path) as part, part.open("w", encoding="utf-8", newline="") as file:
        for key, value in (header or {}).items():
            file.write(f"# {_one_line(key)}: {_one_line(value)}\n")
        writer = csv.DictWriter(file, names, restval="", lineterminator="\n")
        writer.writeheader()
        for record in records:
            writer.writerow(row_from_record(record))
            count += 1
    return count


def _one_line(text: str) -> str:
    return _LINE_ENDS.sub(" ", text).strip()
