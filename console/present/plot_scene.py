"""What a plot shows, as plain marks in pixels: the layout's last word, which the window only inks.

Positions are in pixels of the widget, x right and y down. A colour is named by its part in the
theme, so that the same scene is drawn in either theme.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Protocol, TypeAlias

import numpy as np
from numpy.typing import NDArray

from console.envelope.limits import Level

Series: TypeAlias = NDArray[np.float64]
Numbers: TypeAlias = NDArray[np.float32] | NDArray[np.float64]


class Ink(StrEnum):
    """A colour by its part; the value is the name of the theme's field."""

    GROUND = "ground"
    PANEL = "panel"
    HAIRLINE = "hairline"
    TEXT = "text"
    QUIET = "text_quiet"
    BAND = "band"
    EDGE = "band_edge"
    PLAN = "plan"
    TRACE_A = "trace_a"
    TRACE_B = "trace_b"
    TRACE_C = "trace_c"
    BAR = "bar"
    BAR_GROUND = "bar_ground"
    CAUTION = "caution"
    WARNING = "warning"
    STALE = "stale"


INK_OF_LEVEL: dict[Level, Ink] = {
    Level.ADVISORY: Ink.TEXT,
    Level.CAUTION: Ink.CAUTION,
    Level.WARNING: Ink.WARNING,
}


class Stroke(StrEnum):
    """How a line is broken."""

    SOLID = "solid"
    DASHED = "dashed"
    DOTTED = "dotted"
    CHAIN = "chain"
    """Dash and dot: what belongs to another pass."""


class Shape(StrEnum):
    """A marker's outline; three of them tell traces of one lane apart without colour."""

    DISC = "disc"
    DIAMOND = "diamond"
    TRIANGLE = "triangle"
    CROSS = "cross"
    UP = "up"
    """Beyond the upper end of the axis."""
    DOWN = "down"
    LEFT = "left"
    """Beyond the outer end of the range axis."""


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle."""

    left: float
    top: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Its right side."""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """Its lower side."""
        return self.top + self.height

    @property
    def middle(self) -> float:
        """Height of its centre."""
        return self.top + self.height / 2.0

    def overlaps(self, other: Box, gap: float = 0.0, gap_down: float = 0.0) -> bool:
        """Tell whether the two come nearer than ``gap`` across and ``gap_down`` down."""
        return (
            self.left < other.right + gap
            and other.left < self.right + gap
            and self.top < other.bottom + gap_down
            and other.top < self.bottom + gap_down
        )

    def inside(self, outer: Box) -> bool:
        """Tell whether it lies wholly within another."""
        return (
            self.left >= outer.left
            and self.right <= outer.right
            and self.top >= outer.top
            and self.bottom <= outer.bottom
        )

    def grown(self, by: float) -> Box:
        """Give the box with every side moved outward."""
        return Box(self.left - by, self.top - by, self.width + 2 * by, self.height + 2 * by)


class Meter(Protocol):
    """What layout must know of a font, and of the scale that goes with it."""

    @property
    def unit(self) -> float:
        """Pixels of what is one pixel at text scale 1: for markers and lines."""
        ...

    @property
    def height(self) -> float:
        """Height of a line of text, px."""
        ...

    def width(self, text: str, *, bold: bool = False) -> float:
        """Width of a text, px."""
        ...


@dataclass(frozen=True, slots=True)
class Line:
    """A polyline; a NaN breaks it."""

    x: Series
    y: Series
    ink: Ink
    width: float = 1.0
    stroke: Stroke = Stroke.SOLID
    opacity: float = 1.0
    clip: Box | None = None


@dataclass(frozen=True, slots=True)
class Area:
    """A filled polygon."""

    x: Series
    y: Series
    ink: Ink
    opacity: float = 1.0
    clip: Box | None = None


@dataclass(frozen=True, slots=True)
class Ring:
    """A circle or ellipse, not filled.

    ``turn_rad`` turns it counter-clockwise as seen on the screen.
    """

    x: float
    y: float
    half_width: float
    half_height: float
    ink: Ink
    width: float = 1.0
    stroke: Stroke = Stroke.SOLID
    turn_rad: float = 0.0
    clip: Box | None = None


@dataclass(frozen=True, slots=True)
class Bar:
    """A filled rectangle, hatched instead where told."""

    box: Box
    ink: Ink
    hatched: bool = False
    opacity: float = 1.0


@dataclass(frozen=True, slots=True)
class Marker:
    """A sign at a point; ``stale`` draws it hollow and hatched."""

    x: float
    y: float
    shape: Shape
    size: float
    ink: Ink
    stale: bool = False
    hollow: bool = False


@dataclass(frozen=True, slots=True)
class Label:
    """A text in the box that was kept free for it; ``patch`` hides what lies under it."""

    text: str
    box: Box
    ink: Ink = Ink.QUIET
    bold: bool = False
    patch: bool = False


Mark: TypeAlias = Line | Area | Ring | Bar | Marker | Label


@dataclass(slots=True)
class Scene:
    """Marks in the order they are drawn, later ones on top."""

    marks: list[Mark] = field(default_factory=list)

    def add(self, *marks: Mark) -> None:
        """Put marks on top."""
        self.marks.extend(marks)

    @property
    def labels(self) -> tuple[Label, ...]:
        """Its texts."""
        return tuple(m for m in self.marks if isinstance(m, Label))

    @property
    def lines(self) -> tuple[Line, ...]:
        """Its polylines."""
        return tuple(m for m in self.marks if isinstance(m, Line))

    @property
    def markers(self) -> tuple[Marker, ...]:
        """Its markers."""
        return tuple(m for m in self.marks if isinstance(m, Marker))

    def words(self) -> str:
        """Give all its texts, one a line."""
        return "\n".join(label.text for label in self.labels)


def series(values: Sequence[float]) -> Series:
    """Give numbers as an array of floats."""
    return np.asarray(values, np.float64)


def upright(
    x: float, top: float, bottom: float, ink: Ink, width: float = 1.0,
    stroke: Stroke = Stroke.SOLID, opacity: float = 1.0,
) -> Line:  # fmt: skip
    """Give a vertical line."""
    return Line(series((x, x)), series((top, bottom)), ink, width, stroke, opacity)


def level_line(
    y: float, left: float, right: float, ink: Ink, width: float = 1.0,
    stroke: Stroke = Stroke.SOLID, opacity: float = 1.0,
) -> Line:  # fmt: skip
    """Give a horizontal line."""
    return Line(series((left, right)), series((y, y)), ink, width, stroke, opacity)
