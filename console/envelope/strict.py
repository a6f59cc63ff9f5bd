"""Read a TOML file strictly: every key known, every value checked, all faults told at once.

A caller asks for each key it knows, in any order, and says what is allowed there; at the end
:meth:`Reader.finish` adds the keys nobody asked for and raises one
:class:`~console.core.errors.InputError` that holds every fault with its line::

    reader = Reader(data, "limits.toml")
    hands_off = reader.root.table("hands_off")
    range_m = hands_off.number("range_m", bounds=POSITIVE)
    axis = reader.root.choice("axis", words_of(PortAxis), PortAxis.V_PLUS)
    reader.finish()                                   # raises if anything was wrong
    return HandsOff(range_m, axis)

Until ``finish`` returns, a value that was refused is stood for by a placeholder (NaN, an empty
text, the first choice), so that one fault does not hide the next. Placeholders never leave: a
caller builds its result from them, and ``finish`` raises before it is handed out. NaN also keeps
a refused number from failing comparisons made with it, so a fault is told once.

Numbers: an integer stands for a float, a boolean for nothing, NaN and infinities are refused.
"""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Iterable
from typing import Any

from console.core.errors import Fault, InputError
from console.envelope.strict_table import Table, close_word
from console.envelope.toml_lines import Path, key_lines

LONGEST_BYTES = 4 << 20
"""Longer files were never written as settings; reading them would take seconds and much memory."""
MOST_KEY_PARTS = 64

# The standard library's reader takes time by the square of a dotted key's parts. Keys begin where
# a line does or behind a bracket, brace or comma; nothing here looks at a place twice.
_KEY = r"""(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')"""
_LONG_KEY = re.compile(
    rf"(?:^|[\[{{,])[ \t]*+{_KEY}(?:[ \t]*+\.[ \t]*+{_KEY}){{{MOST_KEY_PARTS},}}", re.MULTILINE
)
_DECODER_PLACE = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")


class Reader:
    """One TOML file being read.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        What errors call it.

    Attributes
    ----------
    root : Table
        The file's outermost table: start here.
    text : str
        The file's text, as it is.
    sha256 : str
        Of ``data``, lower-case hex.

    Raises
    ------
    InputError
        At once, if the file is not UTF-8 or not TOML: then there is nothing else to check.
    """

    def __init__(self, data: bytes, name: str) -> None:
        self.name = name
        self.sha256 = hashlib.sha256(data).hexdigest()
        self.text = _decoded(data, name)
        content, self._lines = _parsed(self.text, name)
        self._faults: list[tuple[int, Fault]] = []
        self._tables: list[Table] = []
        self.root = Table(self, (), content)

    def enter(self, table: Table) -> None:
        """Remember a table that is being read, so that ``finish`` finds its unknown keys."""
        self._tables.append(table)

    def line(self, path: Path) -> int:
        """Give the line of a key, or of the innermost thing round it that stands in the file."""
        while path and path not in self._lines:
            path = path[:-1]
        return self._lines.get(path, 0)

    def refuse(self, path: Path, shown: str, found: str, mend: str) -> None:
        """Note a fault.

        Parameters
        ----------
        path : tuple
            Key path the line is looked up by.
        shown : str
            The same path as the user should read it.
        found, mend : str
            What stands there, and what is allowed.
        """
        line = self.line(path)
        place = ", ".join(part for part in (f"line {line}" if line else "", shown) if part)
        self._faults.append((line, Fault(place, found, mend)))

    def finish(self) -> None:
        """Refuse the keys nobody asked for, and raise if there is any fault.

        Raises
        ------
        InputError
            With all faults, in the order of their lines.
        """
        for table in self._tables:
            for key in table.unknown():
                self.refuse(
                    (*table.path, key),
                    table.shown(key),
                    "unknown key",
                    _known_keys(key, table.known),
                )
        if self._faults:
            ordered = sorted(self._faults, key=lambda item: item[0])
            raise InputError(self.name, tuple(fault for _, fault in ordered))


def _known_keys(key: str, known: Iterable[str]) -> str:
    names = sorted(known)
    if not names:
        return "nothing may stand here"
    return close_word(key, names) + "allowed: " + ", ".join(names)


def _decoded(data: bytes, name: str) -> str:
    if len(data) > LONGEST_BYTES:
        raise InputError.of(
            name, "", f"{len(data)} bytes, at most {LONGEST_BYTES}", "is it the right file?"
        )
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        found = f"byte 0x{data[error.start]:02x} is not UTF-8"
        raise InputError.of(name, f"line {line}", found, "save the file as UTF-8") from None
    if text.startswith("\ufeff"):
        raise InputError.of(
            name, "line 1", "a byte order mark", "save the file as UTF-8 without one"
        )
    return text


def _parsed(text: str, name: str) -> tuple[dict[str, Any], dict[Path, int]]:
    if long_key := _LONG_KEY.search(text):
        long_line = text.count("\n", 0, long_key.start()) + 1
        found = f"a key of more than {MOST_KEY_PARTS} parts"
        raise InputError.of(name, f"line {long_line}", found, "write it with fewer dots")
    try:
        content = tomllib.loads(text)
        return content, key_lines(text.replace("\r\n", "\n"))
    except RecursionError:
        raise InputError.of(name, "", "values nested too deeply", "write it flatter") from None
    except ValueError as error:  # TOMLDecodeError, or an integer of thousands of digits
        message = str(error)
        place = _DECODER_PLACE.search(message)
        line = place.group(1) if place else None
        if place and line is None:
            line = str(text.count("\n") + 1)
        what = _DECODER_PLACE.sub("", message)
        where = f"line {line}" if line else ""
        raise InputError.of(name, where, f"not TOML: {what}", "see toml.io for the form") from None
