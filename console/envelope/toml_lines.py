"""Find on which line of a TOML text each key stands.

The standard library's reader gives values without their places, so the text is walked a second
time, for places alone. The walk trusts that the text is valid TOML 1.0 (the reader has accepted
it) and needs no care for anything else.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from typing import TypeAlias

Path: TypeAlias = tuple[str | int, ...]
"""Keys from the root inward; an ``int`` counts the elements of an array from 0."""

_BLANK = re.compile(r"(?:[ \t\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_KEY = re.compile(r"""[A-Za-z0-9_-]+|"(?:[^"\\\n]|\\.)*"|'[^'\n]*'""")
_SCALAR = re.compile(
    r'''
      """(?:[^"\\]|\\.|"{1,2}(?!"))*"{3,5}
    | \'\'\'(?:[^']|'{1,2}(?!'))*'{3,5}
    | "(?:[^"\\\n]|\\.)*"
    | '[^'\n]*'
    | [^,\]}\#\n]+
    ''',
    re.VERBOSE | re.DOTALL,
)


def key_lines(text: str) -> dict[Path, int]:
    r"""Give the line, counted from 1, of every key, table and array element of a TOML text.

    Parameters
    ----------
    text : str
        Valid TOML with ``\n`` line ends.

    Returns
    -------
    dict
        From key path to line. A table stands where its header first names it, an element of an
        array where it begins.
    """
    return _Walk(text).lines


class _Walk:
    """One pass over a text, from statement to statement."""

    def __init__(self, text: str) -> None:
        self.lines: dict[Path, int] = {}
        self._text = text
        self._at = 0
        self._ends = [found.start() for found in re.finditer("\n", text)]
        self._elements: dict[Path, int] = {}
        table: Path = ()
        while self._skip(_BLANK) < len(text):
            if text[self._at] == "[":
                table = self._header()
            else:
                self._pair(table)

    def _skip(self, blank: re.Pattern[str]) -> int:
        found = blank.match(self._text, self._at)
        self._at = found.end() if found else self._at
        return self._at

    def _note(self, path: Path) -> None:
        self.lines.setdefault(path, bisect_right(self._ends, self._at - 1) + 1)

    def _keys(self) -> list[str]:
        """Read a dotted key and what blanks follow it."""
        keys: list[str] = []
        while found := _KEY.match(self._text, self._skip(_SPACE)):
            raw = found.group()
            quoted = raw[0] in "\"'"
            keys.append(tomllib.loads(f"key = {raw}")["key"] if quoted else raw)
            self._at = found.end()
            if self._text[self._skip(_SPACE)] != ".":
                break
            self._at += 1
        return keys

    def _header(self) -> Path:
        """Read ``[table]`` or ``[[table]]``; inside an array of tables its newest one is meant."""
        start = self._at
        opens_element = self._text.startswith("[[", start)
        self._at += 2 if opens_element else 1
        keys = self._keys()
        end = self._at + (2 if opens_element else 1)
        self._at = start
        path: Path = ()
        for position, key in enumerate(keys, start=1):
            path = (*path, key)
            self._note(path)
            if opens_element and position == len(keys):
                self._elements[path] = self._elements.get(path, 0) + 1
            if path in self._elements:
                path = (*path, self._elements[path] - 1)
                self._note(path)
        self._at = end
        return path

    def _pair(self, table: Path) -> None:
        """Read ``key = value``."""
        start = self._at
        keys = self._keys()
        after_equals = self._at + 1
        self._at = start
        for count in range(1, len(keys) + 1):
            self._note((*table, *keys[:count]))
        self._at = after_equals
        self._skip(_SPACE)
        self._value((*table, *keys))

    def _value(self, path: Path) -> None:
        opening = self._text[self._at]
        if opening == "[":
            self._array(path)
        elif opening == "{":
            self._inline_table(path)
        else:
            self._skip(_SCALAR)

    def _array(self, path: Path) -> None:
        self._at += 1
        count = 0
        while self._text[self._skip(_BLANK)] != "]":
            if self._text[self._at] == ",":
                self._at += 1
                continue
            self._note((*path, count))
            self._value((*path, count))
            count += 1
        self._at += 1

    def _inline_table(self, path: Path) -> None:
        self._at += 1
        while self._text[self._skip(_BLANK)] != "}":
            if self._text[self._at] == ",":
                self._at += 1
                continue
            self._pair(path)
        self._at += 1
