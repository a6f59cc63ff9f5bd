"""What a debrief says, as plain blocks: the one content of HTML, PDF and the screen.

A block knows words and numbers already written, never a widget and never a file.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TypeAlias


class Figure(StrEnum):
    """A picture of a debrief; the value is its key."""

    COURSE = "course"
    LANES = "lanes"
    MARGINS = "margins"
    PREDICTED = "predicted"
    CAPTURE = "capture"


@dataclass(frozen=True, slots=True)
class Line:
    """A line of text; ``mark`` doubles its level by a shape."""

    text: str
    mark: str = ""


@dataclass(frozen=True, slots=True)
class Lines:
    """Lines below each other."""

    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Facts:
    """Names and what they are."""

    caption: str
    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table; numbers are set to the right."""

    name: str
    is_number: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a table; ``t`` is a moment of the pass one may look at, UTC s."""

    cells: tuple[str, ...]
    t: float | None = None
    is_strong: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """A table; where it has no rows, ``nothing`` stands in its place."""

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    nothing: str = "none"


@dataclass(frozen=True, slots=True)
class Picture:
    """A place for a figure, with what it shows in words."""

    figure: Figure
    caption: str
    description: str


Block: TypeAlias = Lines | Facts | Table | Picture


@dataclass(frozen=True, slots=True)
class Section:
    """A part of a debrief under one heading."""

    key: str
    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Chapter:
    """One pass: what it is called, and its sections."""

    key: str
    title: str
    subtitle: str
    sections: tuple[Section, ...]
