"""What the capture plots say of damping and of the leak check: envelope, settling, verdicts.

The fitted envelope is dashed like everything planned or foreseen; the time to settle is a line in
the band of its bounds. A verdict that asks for attention carries its mark and its level's colour.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from console.approach.capture_now import DampingChannel, DampingVerdict, LeakNow, LeakState
from console.approach.capture_words import bounds, figures, needed_words
from console.approach.snapshot import CaptureNow
from console.present.capture_hooks import NOT_RECEIVED
from console.present.capture_plots import PanelFrame
from console.present.plot_label import elided, longest_that_fits
from console.present.plot_scene import (
    Area,
    Box,
    Ink,
    Label,
    Line,
    Meter,
    Scene,
    Stroke,
    level_line,
    series,
    upright,
)
from console.present.tone import CAUTION_MARK, WARNING_MARK

_POINTS = 60
_LEAST_PX = 4.0
"""A level nearer to the axis than this is not drawn."""
_ROOM = 0.85
"""Share of a plot's width that its verdict may take."""


@dataclass(frozen=True, slots=True)
class Said:
    """One line: its wordings, the longest first."""

    wordings: tuple[str, ...]
    ink: Ink = Ink.QUIET
    bold: bool = False


def channel_of(capture: CaptureNow | None, unit: str) -> DampingChannel | None:
    """Give the damping of one unit's motion, None where nothing is said of it."""
    if capture is None or capture.damping is None:
        return None
    return next((c for c in capture.damping.channels if c.unit == unit), None)


def draw_damping(
    scene: Scene, panel: PanelFrame, channel: DampingChannel, origin_t: float, meter: Meter
) -> None:
    """Draw a motion's level, fitted envelope and time to settle."""
    plot = panel.plot
    y = panel.values.px(channel.level)
    if y < plot.bottom - _LEAST_PX * meter.unit:
        scene.add(level_line(round(y) + 0.5, plot.left, plot.right, Ink.EDGE))
    decay_s, first_t = channel.decay_s.best, channel.t_first
    if channel.amplitude is None or decay_s is None or first_t is None:
        return
    begin = max(first_t - origin_t, 0.0)
    since = np.linspace(begin, max(panel.time.high, begin), _POINTS)
    values = channel.amplitude * np.exp(-(since + origin_t - first_t) / decay_s)
    xs = [panel.time.px(s) for s in since.tolist()]
    ys = [panel.values.px(value) for value in values.tolist()]
    scene.add(
        Line(series(xs), series(ys), Ink.PLAN, 1.5, Stroke.DASHED, clip=plot),
        *_settling(panel, channel, origin_t),
    )


def _settling(panel: PanelFrame, channel: DampingChannel, origin_t: float) -> list[Line | Area]:
    settles, plot = channel.t_settles, panel.plot
    if settles.best is None or settles.low is None:
        return []
    best, low = (panel.time.px(t - origin_t) for t in (settles.best, settles.low))
    high = plot.right if settles.high is None else panel.time.px(settles.high - origin_t)
    marks: list[Line | Area] = []
    left, right = max(low, plot.left), min(high, plot.right)
    if left < right:
        xs, ys = [left, right, right, left], [plot.top, plot.top, plot.bottom, plot.bottom]
        marks.append(Area(series(xs), series(ys), Ink.BAND, clip=plot))
    if plot.left < best <= plot.right:
        line = upright(best, plot.top, plot.bottom, Ink.PLAN)
        marks.append(Line(line.x, line.y, Ink.PLAN, 1.0, Stroke.DOTTED, clip=plot))
    return marks


def damping_lines(channel: DampingChannel, t: float) -> list[Said]:
    """Say a motion's verdict, decay time and time to settle."""
    verdict = channel.verdict
    mark = f"{CAUTION_MARK} " if verdict is DampingVerdict.NOT_SETTLING else ""
    ink = Ink.CAUTION if mark else Ink.TEXT
    full = f"{mark}{verdict.value}"
    lines = [Said((f"{full}: {channel.reason}", full) if channel.reason else (full,), ink, True)]
    if channel.decay_s.best is not None:
        short = f"decay {figures(channel.decay_s.best)} s"
        lines.append(Said((f"decay time {bounds(channel.decay_s, 's')}", short)))
    settles = channel.t_settles
    if verdict is DampingVerdict.SETTLING and settles.best is not None:
        words = f"settles in {max(settles.best - t, 0.0):.0f} s"
        late = "open" if settles.high is None else f"{max(settles.high - t, 0.0):.0f}"
        early = max((settles.low or t) - t, 0.0)
        lines.append(Said((f"{words} ({early:.0f} to {late})", words)))
    return lines


def draw_damping_lines(
    scene: Scene, panel: PanelFrame, channel: DampingChannel, t: float, meter: Meter
) -> None:
    """Write the verdict at the upper right of its plot, where a dying motion leaves room."""
    plot, line = panel.plot, meter.height
    rows = min(int((plot.height - 0.5 * line) / line), 3)
    top = plot.top + 1.0
    for said in damping_lines(channel, t)[: max(rows, 0)]:
        words = _fitting(said, _ROOM * plot.width, meter)
        width = meter.width(words, bold=said.bold)
        box = Box(plot.right - width - 2.0, top, width, line)
        scene.add(Label(words, box, said.ink, bold=said.bold, patch=True))
        top += line


def leak_lines(capture: CaptureNow | None) -> list[Said]:
    """Say the leak check: verdict, the leak with its bounds, and what is still needed."""
    leak = None if capture is None else capture.leak
    if leak is None:
        return [Said((f"Leak check  {NOT_RECEIVED}", "Leak check"))]
    mark = f"{WARNING_MARK} " if leak.state is LeakState.FAILS else ""
    full = f"{mark}Leak check {leak.state.value}"
    ink = Ink.WARNING if mark else Ink.TEXT
    if leak.state is LeakState.REFUSED or leak.loss_kg_per_day.best is None:
        # nothing is measured: the reason has a line to itself, however narrow the plot
        return [Said((full,), ink, True), *([Said((leak.reason,))] if leak.reason else [])]
    wordings = (f"{full}: {leak.reason}", full) if leak.reason else (full,)
    lines = [Said(wordings, ink, True)]
    best = f"{figures(leak.loss_kg_per_day.best)} kg/day"
    bounded = bounds(leak.loss_kg_per_day, "kg/day")
    limit = f"limit {figures(leak.limit_kg_per_day)}"
    lines.append(Said((f"{bounded}, {limit}", bounded, best)))
    return [*lines, Said(_last_line(leak))]


def _last_line(leak: LeakNow) -> tuple[str, ...]:
    """Say what is still needed, or the leak in the other units once nothing is."""
    needed = needed_words(leak)
    if needed:
        return (needed, needed.split(",", maxsplit=1)[0].split(":", maxsplit=1)[0])
    pascal = bounds(leak.loss_pa_per_h, "Pa/h")
    flow = leak.loss_pa_m3_per_s.best
    if flow is None:
        return (pascal,)
    return (f"{pascal}, {figures(flow)} Pa·m³/s", pascal)


def draw_leak_lines(scene: Scene, box: Box, capture: CaptureNow | None, meter: Meter) -> None:
    """Write the leak check's lines into the rows kept for them."""
    line = meter.height
    for row, said in enumerate(leak_lines(capture)[: int(box.height / line + 0.01)]):
        words = _fitting(said, box.width, meter)
        width = meter.width(words, bold=said.bold)
        place = Box(box.left, box.top + row * line, width, line)
        scene.add(Label(words, place, said.ink, bold=said.bold))


def _fitting(said: Said, width: float, meter: Meter) -> str:
    room = width * (meter.width("0") / meter.width("0", bold=True)) if said.bold else width
    found = longest_that_fits(said.wordings, room, meter)
    return found or elided(said.wordings[-1], width, meter, bold=said.bold)
