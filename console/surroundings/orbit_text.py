"""An orbit message's text to its fields: the form is told by its first characters.

A single-object OMM (CCSDS 502.0-B-3, orbit mean-elements message) comes as XML, CSV, JSON or KVN
(``KEYWORD = value``); a two-line element set as two lines, or three with a name. The form is told
here and not left to a library: fed KVN, a CSV reader gives nonsense without an error.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterable
from enum import Enum
from xml.etree import ElementTree as ET

from console.core.errors import InputError

_MEND = "give an OMM (XML, CSV, KVN or JSON) or a two-line element set of one object"
_TLE_LINE = re.compile(r"[12] [ 0-9A-Z]{5}")
_KVN_LINE = re.compile(r"([A-Z][A-Z0-9_]*)\s*=\s*(.*?)\s*(?:\[[^\]]*\])?\s*")
_KVN_VERSION = "CCSDS_OMM_VERS"
TLE_LINE_LENGTH = 69
_TLE_NUMBER = slice(2, 7)


class Form(Enum):
    """In which form the message is written."""

    TLE = "two-line element set"
    KVN = "OMM in KVN"
    XML = "OMM in XML"
    CSV = "OMM in CSV"
    JSON = "OMM in JSON"


Fields = dict[str, str]


def sniff(text: str, name: str) -> Form:
    """Tell the form of a message.

    Raises
    ------
    InputError
        It is none of those known.
    """
    lines = [line for line in text.splitlines() if line.strip()]
    first = lines[0].lstrip() if lines else ""
    if first.startswith("<"):
        return Form.XML
    if first.startswith(("{", "[")):
        return Form.JSON
    if any(_TLE_LINE.match(line) for line in lines[:2]):
        return Form.TLE
    if any(line.lstrip().startswith(_KVN_VERSION) for line in lines):
        return Form.KVN
    if "," in first and "MEAN_MOTION" in first.upper():
        return Form.CSV
    found = f"begins with {first[:30]!r}" if first else "is empty"
    raise InputError.of(name, "line 1" if first else "", found, _MEND)


def tle_lines(text: str, name: str) -> tuple[str, str]:
    """Give the two lines of the only element set, their lengths and checksums verified.

    Raises
    ------
    InputError
        Not exactly one set, lines of two objects, a line too short or long, or a checksum that
        does not add up.
    """
    numbered = [
        (n, line.rstrip()) for n, line in enumerate(text.splitlines(), 1) if _TLE_LINE.match(line)
    ]
    if [line[0] for _, line in numbered] != ["1", "2"]:
        raise InputError.of(
            name, "", f"{len(numbered)} element lines", "give line 1 and line 2 of one object"
        )
    for n, line in numbered:
        if len(line) != TLE_LINE_LENGTH:
            raise InputError.of(
                name, f"line {n}", f"{len(line)} characters", f"must be {TLE_LINE_LENGTH}"
            )
        total = sum(int(c) if c.isdigit() else c == "-" for c in line[:-1]) % 10
        if line[-1] != str(total):
            raise InputError.of(
                name, f"line {n}", f"checksum {line[-1]} where the line adds up to {total}",
                "copy the element set again",
            )  # fmt: skip
    (_, first), (n, second) = numbered
    if first[_TLE_NUMBER].strip().lstrip("0") != second[_TLE_NUMBER].strip().lstrip("0"):
        found = f"object {second[_TLE_NUMBER]} below line 1 of object {first[_TLE_NUMBER]}"
        raise InputError.of(name, f"line {n}", found, "give line 1 and line 2 of one object")
    return first, second


def omm_fields(text: str, form: Form, name: str) -> Fields:
    """Give keyword and value of the only object in an OMM.

    Raises
    ------
    InputError
        Not of the form it looks like, not exactly one object, or a keyword given twice.
    """
    read = {Form.KVN: _kvn, Form.XML: _xml, Form.CSV: _csv, Form.JSON: _json}[form]
    objects = read(text, name)
    if len(objects) != 1:
        raise InputError.of(
            name, "", f"{len(objects)} objects", "keep the outpost's message alone"
        )
    return objects[0]


def _kvn(text: str, name: str) -> list[Fields]:
    objects: list[Fields] = []
    for n, raw in enumerate(text.splitlines(), 1):
        line = raw.strip()
        if not line or line.split()[0] == "COMMENT":
            continue
        match = _KVN_LINE.fullmatch(line)
        if match is None:
            raise InputError.of(name, f"line {n}", f"found {line[:30]!r}", "KEYWORD = value")
        if match[1] == _KVN_VERSION or not objects:
            objects.append({})
        if match[1] in objects[-1]:
            raise InputError.of(name, f"line {n}", f"{match[1]} stands twice", "keep one")
        objects[-1][match[1]] = match[2]
    return objects


def _xml(text: str, name: str) -> list[Fields]:
    if "<!DOCTYPE" in text or "<!ENTITY" in text:
        raise InputError.of(name, "", "a document type with entities", "leave it out")
    try:
        root = ET.fromstring(text)
    except ET.ParseError as error:
        line = error.position[0]
        raise InputError.of(name, f"line {line}", f"not XML: {error}", _MEND) from None
    objects = [_leaves(segment, name) for segment in root.iter() if _tag(segment) == "segment"]
    if not objects:
        raise InputError.of(name, "", f"<{_tag(root)}> without a <segment>", _MEND)
    return objects


def _tag(element: ET.Element) -> str:
    """Give an element's name without its name space."""
    return element.tag.rsplit("}", 1)[-1]


def _leaves(segment: ET.Element, name: str) -> Fields:
    pairs = [
        (_tag(element) + element.get("parameter", ""), (element.text or "").strip())
        for element in segment.iter()
        if len(element) == 0 and _tag(element) != "COMMENT"
    ]
    return _each_once(pairs, name)


def _each_once(pairs: Iterable[tuple[str, str]], name: str) -> Fields:
    """Give keywords with their values, refused where one stands twice."""
    fields: Fields = {}
    for key, value in pairs:
        if key in fields:
            raise InputError.of(name, key, "stands twice", "keep one")
        fields[key] = value
    return fields


def _csv(text: str, name: str) -> list[Fields]:
    reader = csv.reader(io.StringIO(text), strict=True)
    try:
        rows = [row for row in reader if any(cell.strip() for cell in row)]
    except csv.Error as error:
        raise InputError.of(name, f"line {reader.line_num}", str(error), _MEND) from None
    header = [cell.strip().upper() for cell in rows[0]]
    for row in rows[1:]:
        if len(row) != len(header):
            found = f"{len(row)} values under {len(header)} headings"
            raise InputError.of(name, "", found, "as many values as headings")
    return [
        _each_once(zip(header, (cell.strip() for cell in row), strict=True), name)
        for row in rows[1:]
    ]


def _json(text: str, name: str) -> list[Fields]:
    try:
        content = json.loads(text, object_pairs_hook=_Pairs)
    except (ValueError, RecursionError) as error:
        line = getattr(error, "lineno", 1)
        raise InputError.of(name, f"line {line}", f"not JSON: {error}", _MEND) from None
    objects = [content] if isinstance(content, _Pairs) else content
    if not isinstance(objects, list) or not all(isinstance(one, _Pairs) for one in objects):
        raise InputError.of(name, "", "values that are no object", _MEND)
    return [
        _each_once(
            ((key.upper(), "" if value is None else str(value)) for key, value in one.pairs), name
        )
        for one in objects
    ]


class _Pairs:
    """An object of JSON as it is written, a key that stands twice included."""

    def __init__(self, pairs: list[tuple[str, object]]) -> None:
        self.pairs = pairs

    def __repr__(self) -> str:
        return "an object"
