"""Take entries out of an array of TOML tables and put others in, line by line.

A comment belongs to the entry it stands directly above, which only the lines of a text show: that
is why entries are moved as lines, before values are changed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from console.envelope.toml_lines import key_lines


class Entry(NamedTuple):
    """One element of an array of tables: what tells it apart, and its keys."""

    name: str
    values: Mapping[str, Any]


def arranged(text: str, array: str, key: str, old: Sequence[Entry], new: Sequence[Entry]) -> str:
    """Give a text whose array of tables has the new entries, in their order.

    Parameters
    ----------
    text : str
        TOML in which ``array`` has the old entries.
    array, key : str
        Name of the array, and the key that tells its entries apart.
    old, new : sequence of Entry
        An entry with the same name in both is left as it stands: its values are not looked at.
    """
    wanted = {entry.name for entry in new}
    lines = text.splitlines(keepends=True)
    for place in reversed(range(len(old))):
        if old[place].name not in wanted:
            first, last = _span(lines, array, place)
            after = last + 1 if last < len(lines) and not lines[last].strip() else last
            del lines[first:after]
    names = [entry.name for entry in old if entry.name in wanted]
    for place, entry in enumerate(new):
        if entry.name not in names:
            _insert(lines, array, place, len(names), _written(array, key, entry))
            names.insert(place, entry.name)
    return "".join(lines)


def _span(lines: Sequence[str], array: str, place: int) -> tuple[int, int]:
    """Give the first line of an entry, comments directly above included, and the one after it."""
    known = key_lines("".join(lines).replace("\r\n", "\n"))
    header = known[array, place] - 1
    own = [line for path, line in known.items() if path[:2] == (array, place)]
    later = [line - 1 for line in known.values() if line > max(own)]
    last = min(later, default=len(lines))
    # what stands between the last key and the next table belongs to the next
    while last > header + 1 and _is_idle(lines[last - 1]):
        last -= 1
    first = header
    while first > 0 and lines[first - 1].lstrip().startswith("#"):
        first -= 1
    return first, last


def _is_idle(line: str) -> bool:
    return not line.strip() or line.lstrip().startswith("#")


def _insert(lines: list[str], array: str, place: int, count: int, block: list[str]) -> None:
    """Put a block behind the entry before it, or at the end of the text where there is none."""
    if count:
        at = _span(lines, array, place - 1)[1] if place else _span(lines, array, 0)[0]
    else:
        at = len(lines)
        while at > 0 and not lines[at - 1].strip():
            at -= 1
    if at and not lines[at - 1].endswith("\n"):
        lines[at - 1] += "\n"
    is_first = bool(count) and not place
    lines[at:at] = [*block, "\n"] if is_first else ["\n", *block]


def _written(array: str, key: str, entry: Entry) -> list[str]:
    import tomlkit

    values = {key: entry.values[key], **entry.values}
    body = (f"{name} = {tomlkit.item(value).as_string()}\n" for name, value in values.items())
    return [f"[[{array}]]\n", *body]
