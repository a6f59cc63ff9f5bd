"""The limit's curve over all passes' traces: axes, the two curves, handles, what is gained."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from console.approach.words import DECIMALS, LABEL
from console.envelope.limits import Allow, Curve, Level, Limit
from console.envelope.quantity import UNIT
from console.present.plot_axis import RangeScale, Scale, nice_above, range_ticks
from console.present.plot_clear import clear_of
from console.present.plot_label import Wish, longest_that_fits, place
from console.present.plot_legend import Entry, head
from console.present.plot_scene import (
    INK_OF_LEVEL,
    Area,
    Box,
    Ink,
    Label,
    Line,
    Marker,
    Meter,
    Scene,
    Series,
    Shape,
    Stroke,
    level_line,
    series,
    upright,
)
from console.present.text import number

STEPS_M = (2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 40.0, 50.0, 75.0, 100.0, 150.0, 200.0, 500.0, 1000.0)
_TICKS_M = (
    0.0, 1000.0, 500.0, 200.0, 100.0, 50.0, 20.0, 10.0, 5.0, 2.0, 1.0, 25.0, 15.0, 150.0, 30.0,
    3.0, 0.5, 7.0, 0.2, 4.0,
)  # fmt: skip
_BREAK = float("nan")
HANDLE_PX = 9.0
GRAB_PX = 14.0
MOST_MARKS = 200
NAME_STEPS = (0.0, 1.0, 2.0, 3.5, 5.0)
"""How far off the chosen point its figures may go to be clear of curves and marks, lines."""
NAME_CLEAR = 0.3
"""Room between them and those, lines."""


@dataclass(frozen=True, slots=True)
class CurveView:
    """What part of the plane is shown: ranges from contact outward, values from low to high."""

    outer_m: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class CurveFrame:
    """A laid out plot."""

    plot: Box
    head: Box
    ticks_row: Box
    title_row: Box
    ranges: RangeScale
    values: Scale

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Give range and value at a pixel."""
        share = (y - self.values.low_px) / (self.values.high_px - self.values.low_px)
        value = self.values.low + share * (self.values.high - self.values.low)
        return self.ranges.range_at(x), value


@dataclass(frozen=True, slots=True)
class Touch:
    """Where something is gained or lost: range and value at the peak."""

    range_m: float
    value: float


@dataclass(frozen=True, slots=True)
class CurveNow:
    """What changes while a curve is dragged."""

    opened: Limit
    draft: Limit
    point: int
    revision: int
    gained: Sequence[Touch] = ()
    lost: Sequence[Touch] = ()
    has_focus: bool = False


def view_of(limit: Limit, span: tuple[float, float] | None, outermost_m: float) -> CurveView:
    """Choose what is shown: all passes' ranges where the curve reaches, both curve and traces."""
    reach = min(limit.curve.ranges_m[-1], outermost_m) if outermost_m else limit.curve.ranges_m[-1]
    outer_m = next((step for step in STEPS_M if step >= 0.98 * reach), STEPS_M[-1])
    return view_at(limit, span, outer_m)


def view_at(limit: Limit, span: tuple[float, float] | None, outer_m: float) -> CurveView:
    """Give the view of a stretch of range."""
    ranges_m = [r for r in limit.curve.ranges_m if r <= outer_m] + [outer_m]
    edges = [value for r in ranges_m if (value := limit.curve.at(r)) is not None]
    low, high = span if span is not None else (0.0, 0.0)
    high = max(high, 1.12 * max(edges, default=0.0))
    low = min(low, min(edges, default=0.0) * 1.12, 0.0)
    return CurveView(outer_m, -nice_above(-low) if low < 0.0 else 0.0, nice_above(high))


def lay_out(width: float, height: float, meter: Meter, view: CurveView) -> CurveFrame:
    """Place head, plot and axes so that no tick label is cut."""
    line, pad = meter.height, 0.5 * meter.height
    widest = max(meter.width(number(v, _decimals(view))) for v in (view.low, view.high))
    left, top = pad + widest + 0.9 * line, pad + 1.5 * line
    right = width - pad - meter.width("0")
    plot = Box(left, top, max(right - left, 20.0), max(height - top - 3.1 * line - pad, 20.0))
    under = plot.bottom + 0.55 * line
    return CurveFrame(
        plot=plot,
        head=Box(pad, pad, width - 2.0 * pad, line),
        ticks_row=Box(0.0, under, width, line),
        title_row=Box(left, under + 1.1 * line, plot.width, line),
        ranges=RangeScale(view.outer_m, plot.left, plot.right),
        values=Scale(view.low, view.high, plot.bottom, plot.top),
    )


def standing(frame: CurveFrame, limit: Limit, meter: Meter, passes: int, lines: bool) -> Scene:
    """Give axes, names and legend: what stands still while a curve is dragged."""
    scene, plot, line = Scene(), frame.plot, meter.height
    title = f"{LABEL[limit.quantity]}  {UNIT[limit.quantity]}  {limit.basis.value}"
    shown = "each pass a line" if lines else f"density of {passes} passes"
    ink = INK_OF_LEVEL[limit.level]
    entries = [
        Entry(Stroke.SOLID, "draft", Ink.TEXT),
        Entry(Stroke.DASHED, "as opened", Ink.QUIET),
        Entry(Stroke.SOLID, shown, Ink.TRACE_A),
        Entry(Shape.DIAMOND, f"{limit.level.word} gained", ink),
        Entry(Shape.CROSS, "lost", Ink.QUIET),
    ]
    scene.add(*head((title, LABEL[limit.quantity]), entries, frame.head, meter).marks)
    for tick in frame.values.ticks(3.0 * line):
        scene.add(level_line(tick.px, plot.left - 4.0, plot.left, Ink.EDGE))
        width = meter.width(tick.text)
        box = Box(plot.left - 8.0 - width, tick.px - line / 2.0, width, line)
        scene.add(Label(tick.text, box))
    for tick in range_ticks(frame.ranges, _wanted(frame), frame.ticks_row, meter):
        scene.add(upright(tick.px, plot.bottom, plot.bottom + 4.0, Ink.EDGE))
        width = meter.width(tick.text)
        scene.add(Label(tick.text, Box(tick.px - width / 2.0, frame.ticks_row.top, width, line)))
    scene.add(level_line(plot.bottom, plot.left, plot.right, Ink.EDGE))
    scene.add(upright(plot.left, plot.top, plot.bottom, Ink.EDGE))
    words = longest_that_fits(
        ("Range to contact, m (square-root scale, contact at the right)", "Range to contact, m"),
        frame.title_row.width,
        meter,
    )
    width = meter.width(words)
    row = frame.title_row
    scene.add(Label(words, Box(row.left + (row.width - width) / 2.0, row.top, width, line)))
    return scene


def forbidden(frame: CurveFrame, limit: Limit) -> Area | None:
    """Give the region the draft does not allow, None where the curve is not in view."""
    x, y = _course(limit.curve, frame)
    if len(x) < 2:
        return None
    plot = frame.plot
    edge = plot.top if limit.allow is Allow.BELOW else plot.bottom
    return Area(
        np.concatenate([x, x[::-1]]),
        np.concatenate([y, np.full(len(y), edge)]),
        Ink.BAND,
        clip=plot,
    )


def changing(frame: CurveFrame, now: CurveNow, meter: Meter) -> Scene:
    """Give both curves, the handles, what is gained and lost, and the chosen point's figures."""
    scene, plot, unit = Scene(), frame.plot, meter.unit
    ink = INK_OF_LEVEL[now.draft.level]
    if now.opened.curve != now.draft.curve:
        scene.add(_line(now.opened.curve, frame, Ink.QUIET, 1.0, Stroke.DASHED))
    scene.add(
        *_crosses(frame, now.lost, 3.5 * unit), *_diamonds(frame, now.gained, 4.0 * unit, ink)
    )
    scene.add(_line(now.draft.curve, frame, Ink.TEXT, 2.0, Stroke.SOLID))
    for at, (x, y) in enumerate(points_px(frame, now.draft.curve)):
        if not plot.grown(1.0).left <= x <= plot.grown(1.0).right:
            continue
        chosen = at == now.point
        scene.add(Marker(x, y, Shape.DISC, HANDLE_PX * unit * 1.2, Ink.PANEL))
        size = HANDLE_PX * unit * (1.25 if chosen else 1.0)
        scene.add(Marker(x, y, Shape.DISC, size, Ink.TEXT, hollow=not chosen))
    _name_point(scene, frame, now, meter)
    return scene


def points_px(frame: CurveFrame, curve: Curve) -> list[tuple[float, float]]:
    """Give where a curve's points stand; one beyond the plot's top or foot is held at its rim."""
    plot = frame.plot
    return [
        (frame.ranges.px(r), min(max(frame.values.px(v), plot.top), plot.bottom))
        for r, v in zip(curve.ranges_m, curve.values, strict=True)
    ]


def point_near(frame: CurveFrame, curve: Curve, x: float, y: float, unit: float) -> int | None:
    """Give the point within reach of a pixel, the nearest; None where there is none."""
    reach = GRAB_PX * unit
    distances = [
        (((px - x) ** 2 + (py - y) ** 2) ** 0.5, at)
        for at, (px, py) in enumerate(points_px(frame, curve))
    ]
    distance, at = min(distances, default=(reach + 1.0, 0))
    return at if distance <= reach else None


def _name_point(scene: Scene, frame: CurveFrame, now: CurveNow, meter: Meter) -> None:
    """Write the chosen point's range and value near it, off the rim, the curves and the marks."""
    points = points_px(frame, now.draft.curve)
    x, y = points[now.point]
    r, v = now.draft.curve.ranges_m[now.point], now.draft.curve.values[now.point]
    unit = UNIT[now.draft.quantity]
    decimals = DECIMALS[now.draft.quantity]
    text = f"{number(r, 2 if r != round(r, 1) else 1)} m   {number(v, decimals)} {unit}"
    width, line, gap = meter.width(text, bold=True), meter.height, 0.8 * meter.height
    x = min(max(x, frame.plot.left), frame.plot.right)
    lefts = (x + gap, x - width / 2.0, x - gap - width)
    slots = [
        Box(left, top, width, line)
        for away in (gap + line * step for step in NAME_STEPS)
        for top in (y - away - line, y + away)
        for left in lefts
    ]
    courses = [_course(curve, frame) for curve in (now.draft.curve, now.opened.curve)]
    marks = _places(frame, [*now.gained, *now.lost])
    clear = clear_of(slots, courses, marks, NAME_CLEAR * line)
    placed = place([Wish("point", (*clear, *slots))], frame.plot)
    if "point" in placed:
        scene.add(Label(text, placed["point"].box, Ink.TEXT, bold=True, patch=True))


def _line(curve: Curve, frame: CurveFrame, ink: Ink, width: float, stroke: Stroke) -> Line:
    x, y = _course(curve, frame)
    return Line(x, y, ink, width, stroke, clip=frame.plot)


def _course(curve: Curve, frame: CurveFrame) -> tuple[Series, Series]:
    """Give the curve's course in pixels: straight over range is bent on a square-root axis."""
    outer_m, first_m = frame.ranges.outer_m, curve.ranges_m[0]
    last_m = min(curve.ranges_m[-1], outer_m)
    if last_m < first_m:
        return series(()), series(())
    roots = np.linspace(first_m**0.5, last_m**0.5, 80) ** 2 if first_m >= 0.0 else series(())
    inner = np.array([r for r in curve.ranges_m if first_m <= r <= last_m])
    ranges_m = np.unique(np.clip(np.concatenate([roots, inner]), first_m, last_m))
    values = np.interp(ranges_m, curve.ranges_m, curve.values)
    return frame.ranges.px_of(ranges_m), frame.values.px_of(values)


def _places(frame: CurveFrame, touches: Sequence[Touch]) -> tuple[Series, Series]:
    plot = frame.plot
    x = frame.ranges.px_of(series([touch.range_m for touch in touches]))
    y = frame.values.px_of(series([touch.value for touch in touches]))
    return np.clip(x, plot.left, plot.right), np.clip(y, plot.top, plot.bottom)


def _figures(
    places: tuple[Series, Series], corners: Sequence[tuple[float, float]], half: float
) -> tuple[Series, Series]:
    """Give one figure at each place, as one course with breaks: much faster than one by one."""
    across, up = (np.array([corner[axis] for corner in corners]) for axis in (0, 1))
    x, y = places
    return (x[:, None] + half * across).ravel(), (y[:, None] + half * up).ravel()


def _diamonds(
    frame: CurveFrame, touches: Sequence[Touch], half: float, ink: Ink
) -> tuple[Area, ...]:
    if not touches:
        return ()
    corners = ((-1.0, 0.0), (0.0, -1.0), (1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (_BREAK, _BREAK))
    return (Area(*_figures(_places(frame, touches), corners, half), ink),)


def _crosses(frame: CurveFrame, touches: Sequence[Touch], half: float) -> tuple[Line, ...]:
    if not touches:
        return ()
    corners = (
        (-1.0, -1.0), (1.0, 1.0), (_BREAK, _BREAK), (-1.0, 1.0), (1.0, -1.0), (_BREAK, _BREAK),
    )  # fmt: skip
    return (Line(*_figures(_places(frame, touches), corners, half), Ink.QUIET, 1.0),)


def _wanted(frame: CurveFrame) -> list[float]:
    outer_m = frame.ranges.outer_m
    return [outer_m, *(r for r in _TICKS_M if r < outer_m)]


def _decimals(view: CurveView) -> int:
    return 2 if view.high - view.low < 2.0 else 1 if view.high - view.low < 20.0 else 0


def spoken(now: CurveNow, level: Level) -> str:
    """Say the curve in words: the limit, the chosen point, what is gained and lost."""
    r, v = now.draft.curve.ranges_m[now.point], now.draft.curve.values[now.point]
    unit = UNIT[now.draft.quantity]
    count = len(now.draft.curve.ranges_m)
    return (
        f"{now.draft.id}, {level.word}. Point {now.point + 1} of {count}: range {r:g} m, "
        f"{v:g} {unit}. {len(now.gained)} gained, {len(now.lost)} lost."
    )
