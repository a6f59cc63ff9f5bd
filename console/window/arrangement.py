"""Where the Watch view's parts stand: four arrangements by how much text fits the window.

``WIDE`` is the usual one. ``SHORT`` moves the exceedances below the lanes, so that the right
column keeps a usable port plane. ``TALL`` is for large text: headline and exceedances stay in
sight, the rest stands in one column that scrolls. ``COLUMN`` is for the largest text in a small
window: the headline scrolls as well. Plain arithmetic, no widget.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import Enum


class Arrangement(Enum):
    """One of the ways to place the parts."""

    WIDE = "wide"
    SHORT = "short"
    TALL = "tall"
    COLUMN = "column"


class Part(Enum):
    """A part of the view, in the order the keyboard goes through them."""

    HEADLINE = "headline"
    EXCEEDANCES = "exceedances"
    CALLS = "calls"
    LEDGER = "ledger"
    MAIN = "main"
    PORT_PLANE = "port plane"
    TIME_STRIP = "time strip"
    REPLAY = "replay"
    ENTRY = "entry"
    STATUS = "status"


WIDE_FROM_EM = 96.0
WIDE_HIGH_EM = 66.0
SHORT_HIGH_EM = 51.0
"""So little that the watch of a rehearsal, above its keys at 1280 by 720, does not scroll."""
LEFT_SHARE = {Arrangement.WIDE: 0.525, Arrangement.SHORT: 0.5}
_REST = (
    Part.STATUS, Part.CALLS, Part.LEDGER, Part.MAIN, Part.PORT_PLANE, Part.TIME_STRIP,
)  # fmt: skip
SCROLLED: Mapping[Arrangement, tuple[Part, ...]] = {
    Arrangement.TALL: _REST,
    Arrangement.COLUMN: (Part.HEADLINE, *_REST),
}
"""What scrolls, from top to bottom: first how link and recording stand."""
LEAST_BODY_EM = 6.0
"""With less room than this between headline and exceedances the headline scrolls as well."""
PORT_SHARE = 0.5
TALL_EM = {Part.MAIN: 38.0, Part.PORT_PLANE: 24.0}

Need = Callable[[float], float]
"""Gives the height a part needs at a width, px."""


@dataclass(frozen=True, slots=True)
class Place:
    """A rectangle, px."""

    x: float
    y: float
    width: float
    height: float


@dataclass(slots=True)
class Places:
    """Where each part stands; in tall and column some stand inside what scrolls."""

    arrangement: Arrangement = Arrangement.WIDE
    fixed: dict[Part, Place] = field(default_factory=dict)
    scrolled: dict[Part, Place] = field(default_factory=dict)
    viewport: Place | None = None
    scrolled_height: float = 0.0


def arrangement_of(em: float, width: float, height: float) -> Arrangement:
    """Choose by the window's size counted in body text sizes of ``em`` px."""
    wide, high = width / em, height / em
    if wide < WIDE_FROM_EM or high < SHORT_HIGH_EM:
        return Arrangement.TALL
    return Arrangement.WIDE if high >= WIDE_HIGH_EM else Arrangement.SHORT


def places(
    arrangement: Arrangement,
    width: float,
    height: float,
    em: float,
    needs: Mapping[Part, Need],
) -> Places:
    """Place every part in a window of ``width`` by ``height`` px.

    What is given back names the arrangement: a tall one without room becomes a column.

    The replay's bar has a place only where ``needs`` names it.
    """
    gap = float(round(0.5 * em))
    inner = width - 2.0 * gap
    made = Places()
    y = gap
    scrolls = arrangement in SCROLLED
    if Part.HEADLINE not in SCROLLED.get(arrangement, ()):
        head = needs[Part.HEADLINE](inner)
        made.fixed[Part.HEADLINE] = Place(gap, y, inner, head)
        y += head + gap
    feet = (
        (Part.EXCEEDANCES, Part.REPLAY, Part.ENTRY)
        if scrolls
        else (Part.TIME_STRIP, Part.REPLAY, Part.ENTRY, Part.STATUS)
    )
    bottom = height - round(0.3 * gap)
    for part in reversed([part for part in feet if part in needs]):
        need = needs[part](inner)
        made.fixed[part] = Place(gap, bottom - need, inner, need)
        bottom -= need + (gap if part in (Part.TIME_STRIP, Part.EXCEEDANCES) else 0.0)
        bottom -= round(0.5 * gap) if part is Part.REPLAY else 0.0
    if arrangement is Arrangement.TALL and bottom - y < LEAST_BODY_EM * em:
        return places(Arrangement.COLUMN, width, height, em, needs)
    made.arrangement = arrangement
    body = Place(gap, y, inner, max(bottom - y, 1.0))
    if scrolls:
        _stack(made, body, gap, em, needs)
    else:
        _columns(made, arrangement, body, gap, needs)
    return made


def _columns(
    made: Places,
    arrangement: Arrangement,
    body: Place,
    gap: float,
    needs: Mapping[Part, Need],
) -> None:
    left_width = float(round(LEFT_SHARE[arrangement] * (body.width - gap)))
    right_x = body.x + left_width + gap
    right_width = body.width - left_width - gap
    ledger = needs[Part.LEDGER](right_width)
    is_wide = arrangement is Arrangement.WIDE
    listed = needs[Part.EXCEEDANCES](right_width if is_wide else left_width)
    bottom = body.y + body.height
    main_height = body.height - (0.0 if is_wide else listed + gap)
    made.fixed[Part.MAIN] = Place(body.x, body.y, left_width, main_height)
    if is_wide:
        made.fixed[Part.EXCEEDANCES] = Place(right_x, bottom - listed, right_width, listed)
        bottom -= listed + gap
    else:
        top = body.y + main_height + gap
        made.fixed[Part.EXCEEDANCES] = Place(body.x, top, left_width, listed)
    made.fixed[Part.LEDGER] = Place(right_x, bottom - ledger, right_width, ledger)
    upper = bottom - ledger - gap - body.y
    port_width = float(round(PORT_SHARE * (right_width - gap)))
    made.fixed[Part.PORT_PLANE] = Place(right_x, body.y, port_width, upper)
    calls_x = right_x + port_width + gap
    made.fixed[Part.CALLS] = Place(calls_x, body.y, right_width - port_width - gap, upper)


def _stack(made: Places, body: Place, gap: float, em: float, needs: Mapping[Part, Need]) -> None:
    made.viewport = body
    width = body.width - 1.5 * gap
    y = 0.0
    for part in SCROLLED[made.arrangement]:
        need = TALL_EM[part] * em if part in TALL_EM else needs[part](width)
        made.scrolled[part] = Place(0.0, y, width, need)
        y += need + gap
    made.scrolled_height = y
