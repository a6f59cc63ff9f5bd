"""The capture plots' standing picture: what the mechanism did since contact.

Left, against one time axis: remaining relative motion, and the ring. Right: the hooks, and the
vestibule's pressure against its own, longer time axis. Axes change by steps only.
"""

from __future__ import annotations

from dataclasses import dataclass

from console.present.capture_spec import PANELS, CaptureView, PanelSpec
from console.present.plot_axis import Scale, Tick, clock_step
from console.present.plot_label import longest_that_fits
from console.present.plot_legend import head
from console.present.plot_scene import (
    Box,
    Ink,
    Label,
    Meter,
    Scene,
    level_line,
    upright,
)
from console.present.text import duration

_TWO_COLUMNS_FROM = 34.0
"""Width in line heights from which the plots stand in two columns."""
_ONE_COLUMN_HIGH = 28.0
"""Height in line heights one column needs."""
_HOOKS_SHARE = 0.28
_LEAK_LINES = 3
_LEAK_FROM = 13.0
"""Height in line heights below the hooks from which the leak check has all its lines."""
TIME_TITLES = ("Time since contact", "since contact")


@dataclass(frozen=True, slots=True)
class PanelFrame:
    """One plot's place."""

    spec: PanelSpec
    head: Box
    plot: Box
    values: Scale
    time: Scale


@dataclass(frozen=True, slots=True)
class CaptureFrame:
    """Where everything of the capture plots stands, px.

    Attributes
    ----------
    early_names, late_names : Box
        Rows for the names of what happened, above the plots of each time axis.
    early_ticks, late_ticks : Box
        Labels of each time axis, its title below them.
    leak : Box
        Lines of the leak check, above the pressure.
    """

    view: CaptureView
    panels: tuple[PanelFrame, ...]
    early_names: Box
    late_names: Box
    early_ticks: Box
    late_ticks: Box
    hooks_head: Box
    hooks: Box
    leak: Box

    def side(self, *, is_late: bool) -> tuple[PanelFrame, ...]:
        """Give the plots of one time axis, top to bottom."""
        return tuple(p for p in self.panels if p.spec.is_late is is_late)


def lay_out_capture(width: float, height: float, meter: Meter, view: CaptureView) -> CaptureFrame:
    """Give the capture plots their places in a widget of a size, px."""
    line = meter.height
    pad = round(line * 0.5)
    if width >= _TWO_COLUMNS_FROM * line or height < _ONE_COLUMN_HIGH * line:
        half = (width - 3.0 * pad) / 2.0
        left = Box(pad, pad, half, height - 1.5 * pad)
        right = Box(2.0 * pad + half, pad, half, height - 1.5 * pad)
    else:
        upper = (height - 2.5 * pad) * 0.56
        left = Box(pad, pad, width - 2.0 * pad, upper)
        right = Box(pad, left.bottom + pad, width - 2.0 * pad, height - 1.5 * pad - upper - pad)
    early = _stack(left, meter, view, is_late=False)
    hooks_tall = max(right.height * _HOOKS_SHARE, 3.5 * line)
    hooks_head = Box(right.left, right.top, right.width, line)
    hooks = Box(right.left, hooks_head.bottom + 4.0, right.width, hooks_tall - line - 4.0)
    leak_top = hooks.bottom + pad
    rows = _LEAK_LINES if right.bottom - leak_top > _LEAK_FROM * line else _LEAK_LINES - 1
    leak = Box(right.left, leak_top, right.width, rows * line)
    rest_top = leak.bottom + round(0.3 * line)
    rest = Box(right.left, rest_top, right.width, right.bottom - rest_top)
    late = _stack(rest, meter, view, is_late=True)
    return CaptureFrame(
        view,
        (*early.panels, *late.panels),
        early.names,
        late.names,
        early.ticks,
        late.ticks,
        hooks_head,
        hooks,
        leak,
    )


def _below(meter: Meter) -> float:
    """Give the room under a plot that the label of its lowest value may take."""
    return round(meter.height * 0.27)


@dataclass(frozen=True, slots=True)
class _Stack:
    panels: tuple[PanelFrame, ...]
    names: Box
    ticks: Box


def _stack(area: Box, meter: Meter, view: CaptureView, *, is_late: bool) -> _Stack:
    """Stack the plots of one time axis, with a row of names above and the axis below."""
    line = meter.height
    gutter = round(meter.width("0.000")) + 8.0
    left, right = area.left + gutter, area.right - line * 0.5
    names = Box(left, area.top, right - left, line)
    ticks = Box(area.left, area.bottom - 2.0 * line, area.width, 2.0 * line)
    specs = [(i, spec) for i, spec in enumerate(PANELS) if spec.is_late is is_late]
    first, last = names.bottom + 2.0, ticks.top - 5.0
    tall = (last - first) / len(specs)
    time = Scale(0.0, view.late_s if is_late else view.early_s, left, right)
    panels = []
    for k, (i, spec) in enumerate(specs):
        top = round(first + k * tall)
        head_row = Box(area.left, top, right - area.left, line)
        plot_top = head_row.bottom + 2.0
        bottom = round(first + (k + 1) * tall) - _below(meter)
        plot = Box(left, plot_top, right - left, max(bottom - plot_top, 8.0))
        inset = min(line * 0.5, plot.height * 0.2)
        values = Scale(0.0, view.tops[i], plot.bottom - inset * 0.6, plot.top + inset)
        panels.append(PanelFrame(spec, head_row, plot, values, time))
    return _Stack(tuple(panels), names, ticks)


def standing_capture(frame: CaptureFrame, meter: Meter) -> Scene:
    """Give the marks that do not change from snapshot to snapshot."""
    scene = Scene()
    for panel in frame.panels:
        _draw_axes(scene, panel, meter)
        scene.add(*head((title_of(panel, meter),), (), panel.head, meter).marks)
    for is_late, ticks in ((False, frame.early_ticks), (True, frame.late_ticks)):
        _draw_time_axis(scene, frame.side(is_late=is_late), ticks, meter)
    return scene


def title_of(panel: PanelFrame, meter: Meter) -> str:
    """Give the longest title that leaves room for the newest value, or the shortest there is."""
    room = panel.head.width - _reserve(panel, meter)
    return longest_that_fits(panel.spec.titles, room, meter) or panel.spec.titles[-1]


def _reserve(panel: PanelFrame, meter: Meter) -> float:
    """Give the room the newest value takes at the right of a head."""
    widest = f"{'0' * (panel.spec.decimals + 4)}. {panel.spec.unit}"
    widest += "  00.0 °C" if panel.spec.is_late else ""
    return meter.width(widest, bold=True) + meter.height


def _draw_axes(scene: Scene, panel: PanelFrame, meter: Meter) -> None:
    plot = panel.plot
    scene.add(
        upright(plot.left + 0.5, plot.top, plot.bottom, Ink.HAIRLINE),
        level_line(round(plot.bottom) + 0.5, plot.left, plot.right, Ink.HAIRLINE),
    )
    for tick in panel.values.ticks(meter.height * (2.2 if panel.spec.is_late else 1.5)):
        y = round(tick.px) + 0.5
        width = meter.width(tick.text)
        box = Box(plot.left - 6.0 - width, y - meter.height / 2.0, width, meter.height)
        if box.bottom <= plot.bottom + _below(meter) and box.top >= plot.top - 2.0:
            scene.add(level_line(y, plot.left - 3.0, plot.left + 1.0, Ink.EDGE))
            scene.add(Label(tick.text, box))


def _draw_time_axis(scene: Scene, panels: tuple[PanelFrame, ...], row: Box, meter: Meter) -> None:
    lowest = panels[-1].plot
    said_to = -meter.height
    for tick in time_ticks(panels[-1].time, lowest, meter):
        scene.add(upright(tick.px, lowest.bottom, lowest.bottom + 4.0, Ink.EDGE))
        width = meter.width(tick.text)
        box = Box(min(tick.px - width / 2.0, row.right - width), row.top, width, meter.height)
        if box.left > said_to + meter.height * 0.5:
            said_to = box.right
            scene.add(Label(tick.text, box))
    title = longest_that_fits(TIME_TITLES, lowest.width, meter)
    width = meter.width(title)
    left = lowest.left + (lowest.width - width) / 2.0
    scene.add(Label(title, Box(left, row.top + meter.height, width, meter.height)))


def time_ticks(time: Scale, plot: Box, meter: Meter) -> list[Tick]:
    """Give ticks in whole clock units since contact."""
    apart = meter.width("0:00:00" if time.high >= 3600.0 else "00:00") + meter.height
    step = clock_step(time.high, int(plot.width / apart))
    count = int(time.high / step)
    return [Tick(i * step, time.px(i * step), duration(i * step)) for i in range(count + 1)]
