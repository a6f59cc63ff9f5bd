"""Where labels go: never on each other, never over the edge, not hopping about."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from console.present.plot_scene import Box, Meter

SHY_PX = 8.0
"""Extra room a label needs to appear where it was not shown a moment ago."""


@dataclass(frozen=True, slots=True)
class Wish:
    """A label that wants a place.

    Attributes
    ----------
    key : str
        What it belongs to, so that it is known again in the next frame.
    slots : tuple of Box
        Places that would do, the best first; may be empty.
    own : Box or None
        One of the taken places, which it may lie close to: that of the line it names.
    """

    key: str
    slots: tuple[Box, ...]
    own: Box | None = None


@dataclass(frozen=True, slots=True)
class Placed:
    """The place a wish got: which of its slots, and the box."""

    slot: int
    box: Box


def place(
    wishes: Sequence[Wish],
    area: Box,
    *,
    taken: Sequence[Box] = (),
    previous: Mapping[str, int] | None = None,
    gap: float = 4.0,
    gap_down: float = 0.0,
) -> dict[str, Placed]:
    """Give each wish a place, the first ones first; who finds none is left out.

    Parameters
    ----------
    wishes : sequence of Wish
        In order of importance.
    area : Box
        No label leaves it.
    taken : sequence of Box
        Places that are not free.
    previous : mapping, optional
        Slot of each label in the frame before; None: there was none. A label keeps its slot
        while that is free; a new or changed one needs ``SHY_PX`` more room.
    gap, gap_down : float
        Least distance between labels, across and down, px.
    """
    filled: list[Box] = []
    placed: dict[str, Placed] = {}
    for wish in wishes:
        for slot in _order(wish, previous):
            box = wish.slots[slot]
            keeps = previous is None or previous.get(wish.key) == slot
            room = gap if keeps else gap + SHY_PX
            others = [*filled, *(other for other in taken if other != wish.own)]
            if box.inside(area) and not any(
                box.overlaps(other, room, gap_down) for other in others
            ):
                placed[wish.key] = Placed(slot, box)
                filled.append(box)
                break
    return placed


def _order(wish: Wish, previous: Mapping[str, int] | None) -> list[int]:
    slots = list(range(len(wish.slots)))
    kept = None if previous is None else previous.get(wish.key)
    if kept is not None and kept < len(slots):
        slots.remove(kept)
        slots.insert(0, kept)
    return slots


def beside(
    text: str, x: float, top: float, meter: Meter, *, bold: bool = False, pad: float = 4.0
) -> tuple[Box, Box]:
    """Give the places right and left of an upright line."""
    width = meter.width(text, bold=bold)
    return (
        Box(x + pad, top, width, meter.height),
        Box(x - pad - width, top, width, meter.height),
    )


def longest_that_fits(texts: Sequence[str], width: float, meter: Meter) -> str:
    """Give the first of several wordings, longest first, that fits a width; else none."""
    return next((text for text in texts if meter.width(text) <= width), "")


def elided(text: str, width: float, meter: Meter, *, bold: bool = False) -> str:
    """Give a text, its end cut with an ellipsis where it is too wide."""
    if meter.width(text, bold=bold) <= width:
        return text
    for end in range(len(text) - 1, 0, -1):
        short = text[:end].rstrip() + "…"
        if meter.width(short, bold=bold) <= width:
            return short
    return ""
