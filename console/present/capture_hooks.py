"""The hooks: each a small gauge with its number, filled as far as it is closed."""

from __future__ import annotations

import math

from console.approach.snapshot import CaptureNow
from console.present.plot_label import longest_that_fits
from console.present.plot_scene import Bar, Box, Ink, Label, Meter, Scene
from console.present.tone import CAUTION_MARK

NOT_RECEIVED = "not yet received"


def draw_hooks(
    scene: Scene, head_row: Box, area: Box, capture: CaptureNow | None, meter: Meter
) -> None:
    """Draw the gauges of however many hooks there are, in as many rows as they need."""
    hooks = None if capture is None else capture.status.hooks
    words = longest_that_fits(hooks_words(capture), head_row.width, meter)
    scene.add(Label(words, Box(head_row.left, head_row.top, meter.width(words), meter.height)))
    used = _say_lagging(scene, head_row, meter.width(words), capture, meter)
    _say_ready(scene, head_row, used, capture, meter)
    if not hooks:
        return
    lagging = () if capture is None else capture.lagging_hooks
    for i, (value, cell) in enumerate(zip(hooks, cells(len(hooks), area, meter), strict=True)):
        _draw_hook(scene, i + 1, value, cell, meter, lags=i + 1 in lagging)


def hooks_words(capture: CaptureNow | None) -> tuple[str, ...]:
    """Give wordings of how many hooks are closed, the longest first."""
    if capture is None or capture.hooks_closed is None or capture.hooks_total is None:
        return (f"Hooks  {NOT_RECEIVED}", "Hooks")
    count = f"{capture.hooks_closed} of {capture.hooks_total}"
    return (f"Hooks  {count} closed", f"Hooks {count}")


def lagging_words(capture: CaptureNow | None) -> tuple[str, ...]:
    """Give wordings that name the hooks that lag, the longest first; none where none does."""
    if capture is None or not capture.lagging_hooks:
        return ()
    numbers = capture.lagging_hooks
    named = ", ".join(str(number) for number in numbers)
    verb = "lags" if len(numbers) == 1 else "lag"
    return (f"{CAUTION_MARK} {named} {verb}", f"{CAUTION_MARK} {len(numbers)} {verb}")


def _say_lagging(
    scene: Scene, row: Box, used: float, capture: CaptureNow | None, meter: Meter
) -> float:
    """Name what lags behind the count of hooks; give how much of the row is used then."""
    room = row.width - used - meter.height
    words = next((w for w in lagging_words(capture) if meter.width(w, bold=True) <= room), "")
    if not words:
        return used
    width = meter.width(words, bold=True)
    box = Box(row.left + used + meter.height, row.top, width, meter.height)
    scene.add(Label(words, box, Ink.CAUTION, bold=True))
    return used + meter.height + width


def _say_ready(
    scene: Scene, row: Box, used: float, capture: CaptureNow | None, meter: Meter
) -> None:
    ready = None if capture is None else capture.status.ready_to_hook
    if not ready:
        return
    words = f"ready to hook {sum(ready)} of {len(ready)}"
    width = meter.width(words)
    if used + meter.height + width <= row.width:
        scene.add(Label(words, Box(row.right - width, row.top, width, meter.height)))


def cells(count: int, area: Box, meter: Meter) -> list[Box]:
    """Give each hook a cell, numbered ones side by side, rows of equal length."""
    narrowest = meter.width(str(count)) + meter.height * 0.4
    per_row = max(min(int(area.width / narrowest), count), 1)
    rows = math.ceil(count / per_row)
    per_row = math.ceil(count / rows)
    wide, tall = area.width / per_row, area.height / rows
    return [
        Box(area.left + (i % per_row) * wide, area.top + (i // per_row) * tall, wide, tall)
        for i in range(count)
    ]


def _draw_hook(
    scene: Scene, number: int, value: float, cell: Box, meter: Meter, *, lags: bool
) -> None:
    """Draw a gauge: full when closed, empty when open; an unknown value is hatched."""
    line = meter.height
    wide = min(cell.width * 0.45, 1.2 * line)
    tall = max(cell.height - line - 4.0, 4.0)
    left = cell.left + (cell.width - wide) / 2.0
    gauge = Box(left, cell.top, wide, tall)
    if math.isfinite(value):
        share = min(max(value, 0.0), 1.0)
        fill = Box(left, gauge.bottom - share * tall, wide, share * tall)
        scene.add(Bar(gauge, Ink.BAR_GROUND), Bar(fill, Ink.BAR))
    else:
        scene.add(Bar(gauge, Ink.STALE, hatched=True))
    width = meter.width(str(number), bold=lags)
    middle = cell.left + cell.width / 2.0
    box = Box(middle - width / 2.0, gauge.bottom + 2.0, width, line)
    scene.add(Label(str(number), box, Ink.CAUTION if lags else Ink.QUIET, bold=lags))
