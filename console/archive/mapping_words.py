"""A column mapping given on the command line, read by the rules of the mapping file.

``FIELD=COLUMN`` with options behind commas: ``unit=mm``, ``sign=-1``, ``slant``, ``epoch=TIME``.
A column whose own name holds a comma needs the file.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence

from console.archive.column_units import FIELDS
from console.archive.mapping import Mapping, parse_mapping
from console.core.errors import InputError

COLUMN, ABSENT = "--column", "--absent"
COLUMN_FORM = "FIELD=COLUMN[,unit=UNIT][,sign=-1][,slant][,epoch=TIME]"
ABSENT_FORM = "source=NAME or seq=count"

_LINE = re.compile(r"\(?\bline \d+(?:, column \d+)?\)?[,:]? ?")


def mapping_of_words(columns: Sequence[str], absent: Sequence[str]) -> Mapping | None:
    """Read a mapping from the command line's words; None where there are none.

    Parameters
    ----------
    columns : sequence of str
        Such as ``range_m=Distance,unit=mm,slant``.
    absent : sequence of str
        ``source=NAME`` and ``seq=count`` for a table that has no such columns.

    Raises
    ------
    InputError
        A word has not that form, or what it says is refused as it would be in a file.
    """
    if not columns and not absent:
        return None
    lines = ["format = 1", "[columns]"]
    lines += [_column_line(words) for words in columns]
    lines.append("[absent]")
    for words in absent:
        key, value = _pair(words, ABSENT, ABSENT_FORM)
        lines.append(f"{_text(key)} = {_text(value)}")
    try:
        return parse_mapping("\n".join(lines).encode(), f"{COLUMN}/{ABSENT}")
    except InputError as error:
        # the lines are ours, not the user's
        told = "; ".join(_LINE.sub("", str(fault)) for fault in error.faults)
        raise InputError.of(f"{COLUMN}/{ABSENT}", "", told, f"the form is {COLUMN_FORM}") from None


def _column_line(words: str) -> str:
    field, rest = _pair(words, COLUMN, COLUMN_FORM)
    if field not in FIELDS:
        raise InputError.of(COLUMN, field, "no such field", "one of " + ", ".join(FIELDS))
    column, *options = rest.split(",")
    parts = [f"column = {_text(column)}"]
    for option in options:
        key, _, value = option.partition("=")
        if key.strip() == "slant" and not value:
            parts.append("slant = true")
        elif key.strip() == "sign":
            parts.append(f"sign = {value if value in ('1', '-1') else _text(value)}")
        else:
            parts.append(f"{_text(key.strip())} = {_text(value)}")
    return f"{_text(field)} = {{ {', '.join(parts)} }}"


def _pair(words: str, option: str, form: str) -> tuple[str, str]:
    key, sign, value = words.partition("=")
    if not sign or not key.strip() or not value.strip():
        raise InputError.of(option, "", f"found {words!r}", f"the form is {form}")
    return key.strip(), value


def _text(words: str) -> str:
    """Give a TOML string; JSON's escapes are among TOML's."""
    return json.dumps(words, ensure_ascii=False).replace("\x7f", "\\u007F")
