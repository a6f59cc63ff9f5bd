"""One table of a TOML file that is read strictly: what :mod:`console.envelope.strict` hands out.

Every accessor marks its key as known, checks what stands there, notes a fault and gives a
placeholder if it is refused. A key without a default is required. A key of a table that is
itself missing is not told again: the missing table was.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from difflib import get_close_matches
from enum import StrEnum
from typing import Protocol, TypeVar

from console.envelope.strict_value import (
    INTEGER_BITS,
    Bounds,
    finite_number,
    kind_of,
    shown_key,
    shown_value,
)
from console.envelope.toml_lines import Path

T = TypeVar("T")
E = TypeVar("E", bound=StrEnum)

ANY = Bounds()


class FaultBook(Protocol):
    """What a table needs of the reader it belongs to."""

    def enter(self, table: Table) -> None:
        """Remember a table whose unknown keys must be found in the end."""

    def refuse(self, path: Path, shown: str, found: str, mend: str) -> None:
        """Note a fault at a key path."""


def words_of(kind: type[E]) -> dict[str, E]:
    """Give an enumeration of texts in the form :meth:`Table.choice` wants."""
    return {member.value: member for member in kind}


def close_word(word: str, allowed: Iterable[str]) -> str:
    """Give ``did you mean "x"? `` for a word that is nearly an allowed one, else nothing."""
    near = get_close_matches(word.lower(), list(allowed), n=1)
    return f'did you mean "{near[0]}"? ' if near else ""


class Table:
    """One table of the file.

    Attributes
    ----------
    path : tuple
        Keys from the root; an element of an array of tables by its number from 0.
    known : dict
        The keys that have been asked for (an ordered set).
    is_absent : bool
        Whether the file has no such table.
    """

    def __init__(
        self, book: FaultBook, path: Path, content: Mapping[str, object] | None, shown: str = ""
    ) -> None:
        self.path = path
        self.known: dict[str, None] = {}
        self.is_absent = content is None
        self._refused: set[str] = set()
        self._book = book
        self._content = content or {}
        self._shown = shown
        book.enter(self)

    # -- what stands here ------------------------------------------------------------------

    def shown(self, key: str = "") -> str:
        """Give the key path as a user reads it, such as ``limit[closing-fast].curve``."""
        return ".".join(part for part in (self._shown, shown_key(key) if key else "") if part)

    def has(self, key: str) -> bool:
        """Tell whether a key stands in the file; it counts as known from then on."""
        self.known.setdefault(key)
        return key in self._content

    def holds_table(self, key: str) -> bool:
        """Tell whether a key holds a table, where a number would do as well."""
        return self.has(key) and isinstance(self._content[key], dict)

    def holds_list(self, key: str) -> bool:
        """Tell whether a key holds a list, where a number would do as well."""
        return self.has(key) and isinstance(self._content[key], list)

    def names(self) -> tuple[str, ...]:
        """Give all keys that stand here, known or not, in the order of the file."""
        return tuple(self._content)

    def unknown(self) -> tuple[str, ...]:
        """Give the keys that stand here and that nobody asked for."""
        return tuple(key for key in self._content if key not in self.known)

    def refuse(self, key: str, found: str, mend: str, *inside: int) -> None:
        """Note a fault the caller found, at a key or, by numbers from 0, inside its list."""
        self._refused.add(key)
        shown = self.shown(key) + "".join(f"[{number + 1}]" for number in inside)
        path = (*self.path, *((key,) if key else ()), *inside)
        self._book.refuse(path, shown, found, mend)

    def was_refused(self, key: str) -> bool:
        """Tell whether a fault was noted at a key, so that it need not be told in other words."""
        return key in self._refused

    # -- single values ---------------------------------------------------------------------

    def number(self, key: str, default: float | None = None, bounds: Bounds = ANY) -> float:
        """Read a finite number within bounds; NaN stands for a refused one."""
        if not self._stands(key, required=default is None, wanted=bounds.words("a number")):
            return math.nan if default is None else default
        value = self._within(key, self._content[key], bounds)
        return math.nan if value is None else value

    def number_or_none(self, key: str, bounds: Bounds = ANY) -> float | None:
        """Read a number that may be absent."""
        return self.number(key, bounds=bounds) if self.has(key) else None

    def integer(self, key: str, default: int | None = None, *, least: int | None = None) -> int:
        """Read an integer; 0 stands for a refused one."""
        wanted = "an integer" if least is None else f"an integer of at least {least}"
        if not self._stands(key, required=default is None, wanted=wanted):
            return default or 0
        value = self._content[key]
        if type(value) is not int or (least is not None and value < least):
            self._wrong(key, wanted)
        elif value.bit_length() >= INTEGER_BITS:
            self._wrong(key, f"an integer of at most {INTEGER_BITS} bits")
        else:
            return value
        return 0

    def text(self, key: str, default: str | None = None, *, may_be_empty: bool = True) -> str:
        """Read a text; the empty one stands for a refused one."""
        wanted = "a text" if may_be_empty else "a text that is not empty"
        if not self._stands(key, required=default is None, wanted=wanted):
            return default or ""
        value = self._content[key]
        if isinstance(value, str) and (may_be_empty or value.strip()):
            return value
        self._wrong(key, wanted)
        return ""

    def flag(self, key: str, default: bool | None = None) -> bool:
        """Read a boolean; False stands for a refused one."""
        if not self._stands(key, required=default is None, wanted="true or false"):
            return bool(default)
        value = self._content[key]
        if isinstance(value, bool):
            return value
        self._wrong(key, "true or false")
        return False

    def choice(self, key: str, allowed: Mapping[str, T], default: T | None = None) -> T:
        """Read one of some words and give what it stands for (the first, if refused)."""
        first = next(iter(allowed.values()))
        wanted = "allowed: " + ", ".join(allowed)
        if not self._stands(key, required=default is None, wanted=wanted):
            return first if default is None else default
        value = self._content[key]
        if isinstance(value, str) and value in allowed:
            return allowed[value]
        hint = close_word(value, allowed) if isinstance(value, str) else ""
        self.refuse(key, f"found {shown_value(value)}", hint + wanted)
        return first

    # -- lists -----------------------------------------------------------------------------

    def numbers(
        self,
        key: str,
        default: Sequence[float] | None = None,
        bounds: Bounds = ANY,
        *,
        count: int | None = None,
    ) -> tuple[float, ...]:
        """Read a list of numbers, of a given length if one is given."""
        wanted = bounds.words("a list of numbers" if count is None else f"{count} numbers")
        values = self._list(key, required=default is None, wanted=wanted)
        if values is None:
            return tuple(default or ())
        if count is not None and len(values) != count:
            self.refuse(key, f"found {len(values)} of them", f"must be {wanted}")
            return tuple(default or (math.nan,) * count)
        read = (self._within(key, value, bounds, n) for n, value in enumerate(values))
        return tuple(math.nan if value is None else value for value in read)

    def texts(self, key: str, default: Sequence[str] | None = None) -> tuple[str, ...]:
        """Read a list of texts."""
        values = self._list(key, required=default is None, wanted="a list of texts")
        if values is None:
            return tuple(default or ())
        for n, value in enumerate(values):
            if not isinstance(value, str):
                self.refuse(key, f"found {shown_value(value)}", "must be a text", n)
        return tuple(value for value in values if isinstance(value, str))

    def points(
        self, key: str, bounds: Bounds = ANY, *, least: int = 1
    ) -> tuple[tuple[float, float], ...]:
        """Read a curve: a list of pairs of numbers whose first ones strictly increase."""
        wanted = "a list of at least " + ("1 point" if least == 1 else f"{least} points")
        values = self._list(key, required=True, wanted=f"{wanted} [x, y]")
        if values is None:
            return ()
        if len(values) < least:
            self.refuse(key, f"found {len(values)}", f"must be {wanted} [x, y]")
        points = tuple(self._point(key, n, value, bounds) for n, value in enumerate(values))
        for n in range(1, len(points)):
            before, here = points[n - 1][0], points[n][0]
            if here <= before:
                found = f"found {here:g} after {before:g}"
                self.refuse(key, found, "the first numbers of the points must increase", n)
        return points

    # -- tables ----------------------------------------------------------------------------

    def table(self, key: str, *, required: bool = True) -> Table:
        """Enter a table; one that is absent gives its keys' defaults."""
        content = self._mapping(key, required=required)
        return Table(self._book, (*self.path, key), content, self.shown(key))

    def tables(self, key: str, name_key: str = "") -> tuple[Table, ...]:
        """Enter an array of tables, which may be absent.

        Parameters
        ----------
        key : str
            Its name, as in ``[[limit]]``.
        name_key : str
            The text key that names an element in errors; without one its number, from 1.
        """
        wanted = f"an array of tables, each headed [[{key}]]"
        values = self._list(key, required=False, wanted=wanted)
        found: list[Table] = []
        for n, value in enumerate(values or ()):
            if not isinstance(value, dict):
                self.refuse(key, f"found {shown_value(value)}", f"must be {wanted}", n)
                continue
            name = value.get(name_key)
            label = name if isinstance(name, str) and name else str(n + 1)
            shown = f"{self.shown(key)}[{label}]"
            found.append(Table(self._book, (*self.path, key, n), value, shown))
        return tuple(found)

    def named_tables(self, key: str) -> dict[str, Table]:
        """Enter tables under names the file chooses, as in ``[source.optical]``."""
        outer = self.table(key, required=False)
        return {name: outer.table(name) for name in outer.names()}

    # -- how it is done --------------------------------------------------------------------

    def _stands(self, key: str, *, required: bool, wanted: str) -> bool:
        if self.has(key):
            return True
        if required and not self.is_absent:
            self.refuse(
                key, "missing", wanted if wanted.startswith("allowed") else f"add {wanted}"
            )
        return False

    def _wrong(self, key: str, wanted: str) -> None:
        self.refuse(key, f"found {shown_value(self._content[key])}", f"must be {wanted}")

    def _within(self, key: str, value: object, bounds: Bounds, *inside: int) -> float | None:
        number = finite_number(value)
        if number is not None and bounds.hold(number):
            return number
        noun = "a finite number" if isinstance(value, float) and number is None else "a number"
        self.refuse(key, f"found {shown_value(value)}", f"must be {bounds.words(noun)}", *inside)
        return None

    def _point(self, key: str, n: int, value: object, bounds: Bounds) -> tuple[float, float]:
        if not isinstance(value, list) or len(value) != 2:
            self.refuse(key, f"found {shown_value(value)}", "a point is [x, y]", n)
            return math.nan, math.nan
        x, y = finite_number(value[0]), finite_number(value[1])
        if x is None or y is None:
            self.refuse(key, f"found {shown_value(value)}", "a point is two finite numbers", n)
            return math.nan, math.nan
        if not (bounds.hold(x) and bounds.hold(y)):
            mend = "must be each " + bounds.words("a number")
            self.refuse(key, f"found {shown_value(value)}", mend, n)
            return math.nan, math.nan
        return x, y

    def _list(self, key: str, *, required: bool, wanted: str) -> list[object] | None:
        if not self._stands(key, required=required, wanted=wanted):
            return None
        value = self._content[key]
        if isinstance(value, list):
            return value
        self.refuse(key, f"found {kind_of(value)}", f"must be {wanted}")
        return None

    def _mapping(self, key: str, *, required: bool) -> dict[str, object] | None:
        wanted = f"a table, headed [{self.shown(key)}]"
        if not self._stands(key, required=required, wanted=wanted):
            return None
        value = self._content[key]
        if isinstance(value, dict):
            return value
        self.refuse(key, f"found {kind_of(value)}", f"must be {wanted}")
        return None
