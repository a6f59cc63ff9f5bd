"""The head of a plot: its title, and samples of what is drawn in it, as many as have room."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from console.present.plot_label import longest_that_fits
from console.present.plot_scene import (
    Bar,
    Box,
    Ink,
    Label,
    Mark,
    Marker,
    Meter,
    Shape,
    Stroke,
    level_line,
)

_GAPS = (1.2, 0.8, 0.5)
_SIGN_PX = 7.0
_SAMPLE_PX = 22.0
_PAD_PX = 5.0


@dataclass(frozen=True, slots=True)
class Entry:
    """One explained sign: a marker's shape or a line's stroke, its name, its ink."""

    sample: Shape | Stroke
    name: str
    ink: Ink


@dataclass(frozen=True, slots=True)
class Head:
    """A laid out head: its marks, and where its words end, px."""

    marks: tuple[Mark, ...]
    right: float


def head(
    titles: Sequence[str], entries: Sequence[Entry], row: Box, meter: Meter, reserve: float = 0.0
) -> Head:
    """Set a title and its legend from the left of a row.

    Parameters
    ----------
    titles : sequence of str
        Wordings of the title, the longest first.
    entries : sequence of Entry
        The most needed first; the last are left out where the row is short. The title gives
        way to the traces' signs.
    reserve : float
        Room at the right end to leave free, px.
    """
    room = row.width - reserve
    signs = [entry for entry in entries if isinstance(entry.sample, Shape)]
    needed = sum(_width(entry, meter) + _GAPS[-1] * meter.height for entry in signs)
    title = longest_that_fits(titles, room - needed, meter) or titles[-1]
    start = Label(title, Box(row.left, row.top, meter.width(title), meter.height))
    wide = start.box.width + sum(_width(entry, meter) for entry in entries)
    gap = next((g for g in _GAPS if wide + g * meter.height * len(entries) <= room), _GAPS[-1])
    marks: list[Mark] = [start]
    right = start.box.right
    for entry in entries:
        left = right + gap * meter.height
        if left + _width(entry, meter) > row.left + room:
            break
        right = left + _width(entry, meter)
        marks += _entry(entry, left, row, meter)
    ground = Bar(Box(row.left, row.top, right - row.left, row.height), Ink.PANEL)
    return Head((ground, *marks), right)


def _sign_px(entry: Entry) -> float:
    return _SIGN_PX if isinstance(entry.sample, Shape) else _SAMPLE_PX


def _width(entry: Entry, meter: Meter) -> float:
    return (_sign_px(entry) + _PAD_PX) * meter.unit + meter.width(entry.name)


def _entry(entry: Entry, left: float, row: Box, meter: Meter) -> tuple[Mark, Mark]:
    wide = _sign_px(entry) * meter.unit
    middle = row.middle + 0.5
    sign: Mark
    if isinstance(entry.sample, Shape):
        sign = Marker(left + wide / 2.0, middle, entry.sample, wide, entry.ink)
    else:
        sign = level_line(middle, left, left + wide, entry.ink, stroke=entry.sample)
    text_left = left + wide + _PAD_PX * meter.unit
    box = Box(text_left, row.top, meter.width(entry.name), meter.height)
    return sign, Label(entry.name, box)
