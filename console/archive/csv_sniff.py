"""Look at the begin of a CSV file: its leading comments, separator and header."""

from __future__ import annotations

import codecs
import csv
import re
from dataclasses import dataclass
from pathlib import Path

from console.archive.column_units import FIELDS
from console.archive.mapping import Mapping
from console.core.errors import InputError
from console.wire.cells import number_value
from console.wire.table import preamble

HEAD_BYTES = 1 << 20
BLOCK_BYTES = 8 << 20
SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab"}

_OTHER_MARKS = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_DECIMAL_COMMA = re.compile(r"\s*[+-]?\d+,\d+(?:[eE][+-]?\d+)?\s*")
_OTHER_SEPARATOR = re.compile(r"[|^~]|\s+(?=\S+\s)")
_ROWS_LOOKED_AT = 50


@dataclass(frozen=True, slots=True)
class CsvHead:
    """How a CSV file begins.

    Attributes
    ----------
    notes : dict of str to str
        The leading ``# key: value`` lines.
    header : tuple of str
        Column names without blanks at their ends.
    separator : str
    header_line : int
        Line of the header, from 1.
    data_offset : int
        Byte at which the first data row begins.
    """

    notes: dict[str, str]
    header: tuple[str, ...]
    separator: str
    header_line: int
    data_offset: int


def sniff_csv(path: Path, mapping: Mapping | None = None) -> CsvHead:
    """Read the begin of a CSV file.

    Raises
    ------
    InputError
        It cannot be read, is not text in UTF-8, has no header, or writes its numbers with a
        decimal comma.
    """
    name = str(path)
    data = _head_of(path)
    mark = len(codecs.BOM_UTF8) if data.startswith(codecs.BOM_UTF8) else 0
    refuse_other_text(path)
    lines = _lines(data[mark:])
    notes, count = preamble(lines)
    line = count + 1
    if len(data) == HEAD_BYTES and line >= len(lines):
        raise InputError.of(
            name, f"line {line}", "the begin of the table is too long", "is it a table at all?"
        )
    if line > len(lines):
        raise InputError.of(name, "", "no header row", "begin the table with its column names")
    by_separator = {mark: cells_of(lines[count], mark, name, line) for mark in SEPARATORS}
    separator = _separator(by_separator, mapping)
    header = tuple(cell.strip() for cell in by_separator[separator])
    _refuse_no_header(header, lines[count], name, line)
    rows = lines[count + 1 : count + 1 + _ROWS_LOOKED_AT]
    _refuse_decimal_comma(rows, separator, name, line + 1)
    offset = mark + sum(len(text.encode("utf-8")) for text in lines[:line])
    return CsvHead(notes, header, separator, line, offset)


def cells_of(line: str, separator: str, name: str, number: int) -> list[str]:
    """Split one line into its cells.

    Raises
    ------
    InputError
        It holds what no table should, such as a cell of more than 128 KiB.
    """
    try:
        return next(csv.reader([line.rstrip("\r\n")], delimiter=separator), [])
    except csv.Error as error:
        raise InputError.of(name, f"line {number}", str(error), "save it as CSV anew") from None


def refuse_other_text(path: Path) -> None:
    """Refuse a file that is not UTF-8 from begin to end, with the first line that is not.

    Raises
    ------
    InputError
        Another encoding, or the file cannot be read.
    """
    decoder = codecs.getincrementaldecoder("utf-8")()
    lines = 1
    try:
        with path.open("rb") as file:
            while block := file.read(BLOCK_BYTES):
                decoder.decode(block)
                lines += block.count(b"\n")
            decoder.decode(b"", final=True)
    except UnicodeDecodeError as error:
        # What the error holds begins with this block, or with a character cut before it.
        line = lines + error.object.count(b"\n", 0, error.start)
        raise _not_utf8(str(path), line, error.object[error.start]) from None
    except OSError as error:
        raise _unreadable(path, error) from None


def _unreadable(path: Path, error: OSError) -> InputError:
    reason = error.strerror or str(error)
    return InputError.of(str(path), "", f"cannot be read: {reason}", "check its rights")


def _head_of(path: Path) -> bytes:
    name = str(path)
    try:
        with path.open("rb") as file:
            data = file.read(HEAD_BYTES)
    except FileNotFoundError:
        raise InputError.of(name, "", "no such file", "check the name") from None
    except OSError as error:
        raise _unreadable(path, error) from None
    if data.startswith(_OTHER_MARKS):
        raise InputError.of(name, "", "UTF-16 text", "save the table as UTF-8")
    if b"\0" in data:
        raise InputError.of(name, "", "not a text file", "give a CSV, Parquet file or recording")
    if not data.strip():
        raise InputError.of(name, "", "empty", "begin the table with its column names")
    return data


def _lines(data: bytes) -> list[str]:
    """Give whole lines with their ends; the last may be cut where the file is longer."""
    # A character cut at the end is no fault: the whole text has been checked.
    text, _ = codecs.utf_8_decode(data, "strict", False)
    # Only these end a line in a table; str.splitlines knows more.
    return [line for line in re.split(r"(?<=\n)|(?<=\r)(?!\n)", text) if line]


def _not_utf8(name: str, line: int, byte: int) -> InputError:
    found = f"byte 0x{byte:02x} is not UTF-8"
    return InputError.of(name, f"line {line}", found, "save the table as UTF-8")


def _separator(by_separator: dict[str, list[str]], mapping: Mapping | None) -> str:
    """Choose the separator under which most columns are known, then the one that splits most."""
    wanted = {*FIELDS, *(rule.column for rule in (mapping.rules if mapping else ()))}

    def merit(separator: str) -> tuple[int, int]:
        cells = by_separator[separator]
        return sum(cell.strip() in wanted for cell in cells), len(cells)

    return max(by_separator, key=merit)


def _refuse_no_header(header: tuple[str, ...], text: str, name: str, line: int) -> None:
    other = _OTHER_SEPARATOR.search(text) if len(header) == 1 else None
    if other:
        raise InputError.of(
            name,
            f"line {line}",
            f"columns separated by {other.group()!r}",
            "separate them by commas, semicolons or tabs",
        )
    if any(isinstance(number_value(cell), float) for cell in header):
        raise InputError.of(
            name, f"line {line}", "no header row", "begin the table with its column names"
        )


def _refuse_decimal_comma(rows: list[str], separator: str, name: str, first_line: int) -> None:
    if separator == ",":
        return
    for number, row in enumerate(rows, start=first_line):
        for cell in cells_of(row, separator, name, number):
            if _DECIMAL_COMMA.fullmatch(cell):
                raise InputError.of(
                    name,
                    f"line {number}",
                    f"{cell.strip()} is written with a decimal comma",
                    "write numbers with a decimal point",
                )
