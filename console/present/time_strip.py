"""The time strip's standing picture: minutes behind and ahead, now at a fixed place.

Time runs through a still frame: ticks count from now. The span changes by steps only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from console.approach.snapshot import Snapshot
from console.core.units import S_PER_H
from console.present.plot_axis import Scale, Steps, clock_step
from console.present.plot_scene import (
    Box,
    Ink,
    Label,
    Meter,
    Scene,
    level_line,
    upright,
)
from console.present.text import MINUS, duration

AHEAD_S = Steps((240.0, 600.0, 1800.0, 3600.0, 7200.0, 14400.0), 0.8, 0.95)
"""Spans ahead of now; contact with its late bound must lie within."""
START_AHEAD_S = 600.0
BEHIND_SHARE = 2.0 / 3.0
"""Span behind now as a share of that ahead: now stands at two fifths of the width."""
ROWS = ("marks", "link", "light")
NOW = "now"


def needed_ahead_s(snapshot: Snapshot | None) -> float | None:
    """Give how far ahead contact may be, None where nothing is known of it."""
    if snapshot is None:
        return None
    contact = snapshot.to_contact
    known = [s for s in (contact.best_s, contact.high_s) if s is not None and math.isfinite(s)]
    return max(known, default=None)


@dataclass(frozen=True, slots=True)
class StripFrame:
    """Where everything of the time strip stands, px.

    Attributes
    ----------
    plot : Box
        All rows together, without their names and without the ticks' labels.
    names : Box
        Rows of event names: ``name_rows`` of them.
    spans : Box
        Where the 95 % spans of countdowns lie.
    """

    gutter: float
    plot: Box
    name_rows: int
    names: Box
    spans: Box
    link: Box
    light: Box
    ticks_row: Box
    time: Scale

    @property
    def now_px(self) -> float:
        """Where now stands."""
        return round(self.time.px(0.0)) + 0.5


def lay_out_strip(width: float, height: float, meter: Meter, ahead_s: float) -> StripFrame:
    """Give the time strip its places in a widget of a size, px."""
    line = meter.height
    pad = round(line * 0.5)
    gutter = pad + max(meter.width(name) for name in ROWS) + pad
    right = max(width - pad, gutter + 20.0)
    ticks = Box(0.0, height - line - 2.0, width, line)
    light = Box(gutter, ticks.top - 3.0 - line - 2.0, right - gutter, line + 2.0)
    link = Box(gutter, light.top - line - 2.0, right - gutter, line)
    top = 3.0
    room = link.top - 1.0 - top
    rows = 2 if room >= 2.0 * line + 5.0 else 1
    spans_tall = max(min(room - rows * line, 11.0 * meter.unit), 3.0)
    names = Box(gutter, top, right - gutter, max(link.top - 1.0 - spans_tall - top, line))
    spans = Box(gutter, names.bottom, right - gutter, spans_tall)
    behind = ahead_s * BEHIND_SHARE
    return StripFrame(
        gutter,
        Box(gutter, top, right - gutter, light.bottom - top),
        rows,
        names,
        spans,
        link,
        light,
        ticks,
        Scale(-behind, ahead_s, gutter, right),
    )


def standing_strip(frame: StripFrame, meter: Meter) -> Scene:
    """Give the marks that do not change from snapshot to snapshot."""
    scene = Scene()
    plot = frame.plot
    tops = (frame.names.top, frame.link.middle - meter.height / 2.0,
            frame.light.middle - meter.height / 2.0)  # fmt: skip
    for name, top in zip(ROWS, tops, strict=True):
        width = meter.width(name)
        left = frame.gutter - round(meter.height * 0.5) - width
        scene.add(Label(name, Box(left, top, width, meter.height)))
    scene.add(
        upright(plot.left - 0.5, plot.top, plot.bottom, Ink.HAIRLINE),
        level_line(round(plot.bottom) + 0.5, plot.left, plot.right, Ink.HAIRLINE),
    )
    for at_s, text in _ticks(frame, meter):
        x = round(frame.time.px(at_s)) + 0.5
        width = meter.width(text)
        box = Box(x - width / 2.0, frame.ticks_row.top, width, meter.height)
        scene.add(upright(x, plot.bottom, plot.bottom + 3.0, Ink.EDGE))
        if box.inside(frame.ticks_row):
            scene.add(Label(text, box))
    return scene


def _ticks(frame: StripFrame, meter: Meter) -> list[tuple[float, str]]:
    """Give ticks in whole clock units from now, with signs."""
    span = frame.time.high - frame.time.low
    widest = "+0:00:00" if span >= S_PER_H else "+00:00"
    apart = meter.width(widest) + 1.5 * meter.height
    step = clock_step(span, int(frame.plot.width / apart))
    first, last = math.ceil(frame.time.low / step), math.floor(frame.time.high / step)
    return [(i * step, signed_clock(i * step)) for i in range(first, last + 1)]


def signed_clock(seconds: float) -> str:
    """Write a time from now: ``−1:00``, ``0:00``, ``+2:30``."""
    sign = "" if seconds == 0 else ("+" if seconds > 0 else MINUS)
    return sign + duration(abs(seconds))
