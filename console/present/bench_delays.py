"""The histogram of delays from a true fault to what told of it, before and after."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from console.present.plot_axis import Scale, nice_above, tick_step
from console.present.plot_label import elided
from console.present.plot_legend import Entry, head
from console.present.plot_scene import (
    Bar,
    Box,
    Ink,
    Label,
    Meter,
    Scene,
    Series,
    Stroke,
    level_line,
    series,
    upright,
)
from console.present.text import number

TITLES = ("Time from true fault to told", "From fault to told")
NONE = "No known fault with a time: mark passes with M."
MOST_BINS = 24


def delays_scene(
    width: float,
    height: float,
    meter: Meter,
    before_s: Sequence[float],
    after_s: Sequence[float],
) -> Scene:
    """Lay the histogram out: wide quiet bars before, narrow ones after, over the same bins."""
    scene, line, pad = Scene(), meter.height, 0.5 * meter.height
    row = Box(pad, pad, width - 2.0 * pad, line)
    entries = [
        Entry(Stroke.SOLID, "as opened", Ink.BAR),
        Entry(Stroke.SOLID, "draft", Ink.TRACE_A),
    ]
    scene.add(*head(TITLES, entries, row, meter).marks)
    both = [*before_s, *after_s]
    if not both:
        words = elided(NONE, width - 2.0 * pad, meter)
        scene.add(Label(words, Box(pad, 2.5 * line, meter.width(words), line)))
        return scene
    edges = bin_edges(both)
    was, becomes = np.histogram(before_s, edges)[0], np.histogram(after_s, edges)[0]
    most = nice_above(float(max(was.max(), becomes.max(), 4)))
    left = pad + meter.width(number(most, 0)) + 0.9 * line
    top, bottom = pad + 1.5 * line, height - pad - 2.6 * line
    plot = Box(
        left, top, max(width - pad - meter.width("0") - left, 10.0), max(bottom - top, 10.0)
    )
    across = Scale(float(edges[0]), float(edges[-1]), plot.left, plot.right)
    up = Scale(0.0, most, plot.bottom, plot.top)
    for low, high, old, new in zip(edges[:-1], edges[1:], was, becomes, strict=True):
        x0, x1 = across.px(float(low)), across.px(float(high))
        wide = max(x1 - x0 - 2.0, 1.0)
        _bar(scene, x0 + 1.0, wide, up, int(old), Ink.BAR, 0.45)
        _bar(scene, x0 + 1.0 + 0.3 * wide, max(0.4 * wide, 1.0), up, int(new), Ink.TRACE_A)
    _axes(scene, plot, across, up, meter)
    return scene


def bin_edges(delays_s: Sequence[float]) -> Series:
    """Give the edges of round bins from 0 that hold all delays."""
    longest = max(*delays_s, 1.0)
    step = tick_step(longest, MOST_BINS)
    return series([step * n for n in range(int(longest // step) + 2)])


def delays_words(before_s: Sequence[float], after_s: Sequence[float]) -> str:
    """Say the histogram in words."""
    if not before_s and not after_s:
        return NONE
    return f"{len(before_s)} known faults told as opened, {len(after_s)} by the draft"


def _bar(
    scene: Scene, left: float, wide: float, up: Scale, count: int, ink: Ink, opacity: float = 1.0
) -> None:
    if count:
        top = up.px(float(count))
        scene.add(Bar(Box(left, top, wide, up.low_px - top), ink, opacity=opacity))


def _axes(scene: Scene, plot: Box, across: Scale, up: Scale, meter: Meter) -> None:
    line = meter.height
    scene.add(level_line(plot.bottom, plot.left, plot.right, Ink.EDGE))
    scene.add(upright(plot.left, plot.top, plot.bottom, Ink.EDGE))
    for tick in up.ticks(2.0 * line):
        if abs(tick.value - round(tick.value)) < 1e-9:
            width = meter.width(tick.text)
            box = Box(plot.left - 8.0 - width, tick.px - line / 2.0, width, line)
            scene.add(Label(tick.text, box))
    for tick in across.ticks(4.0 * line):
        width = meter.width(tick.text)
        scene.add(upright(tick.px, plot.bottom, plot.bottom + 4.0, Ink.EDGE))
        box = Box(tick.px - width / 2.0, plot.bottom + 0.35 * line, width, line)
        scene.add(Label(tick.text, box))
    words = "seconds; passes upward"
    width = meter.width(words)
    left = plot.left + (plot.width - width) / 2.0
    scene.add(Label(words, Box(left, plot.bottom + 1.4 * line, width, line)))
