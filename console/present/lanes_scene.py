"""The lanes' standing marks: bands, limits, plan, range marks, axes and their words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from console.envelope.limits import Level, Limit, LimitsFile
from console.envelope.quantity import Quantity
from console.present.envelope_band import Edges, edges, limit_line, sampled_ranges, select
from console.present.lane_spec import LaneSpec
from console.present.lanes import LaneFrame, LanesFrame
from console.present.lanes_marks import draw_contact, draw_marks
from console.present.plot_axis import Tick, decimals_of, range_ticks
from console.present.plot_label import longest_that_fits
from console.present.plot_legend import Entry, head
from console.present.plot_scene import (
    Area,
    Box,
    Ink,
    Label,
    Line,
    Meter,
    Scene,
    Series,
    Stroke,
    level_line,
    series,
    upright,
)
from console.present.text import number
from console.present.tone import WARNING_MARK

RANGE_TITLES = (
    "Range to contact (m), square-root scale, contact at the right edge",
    "Range to contact (m), square-root scale",
    "Range to contact (m)",
    "Range (m)",
)
_TICKS_M = (0.0, 200.0, 50.0, 20.0, 5.0, 100.0, 10.0, 2.0, 150.0, 70.0, 30.0, 15.0, 7.0, 4.0, 3.0,
            1.0, 0.5, 12.0, 0.2, 0.1)  # fmt: skip
_FAR_TICKS_M = (0.0, 100000.0, 20000.0, 5000.0, 1000.0, 500.0, 200.0, 50000.0, 10000.0, 2000.0,
                100.0, 50.0, 20.0)  # fmt: skip
_FAR_FROM_M = 200.0
_THIN = 0.55


@dataclass(frozen=True, slots=True)
class LimitLine:
    """A limit as it is drawn in a lane while it is exceeded."""

    limit: Limit
    lane: int
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class StandingLanes:
    """The standing marks, and what the changing ones must know of them.

    Attributes
    ----------
    mark_labels : dict
        Box of each range mark's name that found a place, by range, m.
    head_ends : tuple of float
        Where the words of each lane's head end, px.
    """

    scene: Scene
    limit_lines: tuple[LimitLine, ...]
    mark_labels: dict[float, Box]
    head_ends: tuple[float, ...]


def standing(
    frame: LanesFrame, limits: LimitsFile | None, meter: Meter, beside: str = ""
) -> StandingLanes:
    """Give all marks that do not change from snapshot to snapshot.

    Parameters
    ----------
    beside : str
        Name of a second pass that is laid over the lanes; empty for none.
    """
    scene = Scene()
    for lane in frame.lanes:
        _draw_band(scene, frame, lane, limits)
    marks = draw_marks(scene, frame, limits, meter)
    limit_lines: list[LimitLine] = []
    heads: list[float] = []
    for i, lane in enumerate(frame.lanes):
        _draw_plan(scene, frame, lane, limits)
        _draw_edges(scene, frame, lane, limits)
        limit_lines += _lane_limits(frame, i, lane, limits)
        _draw_axis(scene, lane, meter)
        heads.append(_draw_head(scene, lane, limits, meter, "" if i else beside))
    draw_contact(scene, frame, limits)
    _draw_range_axis(scene, frame, meter)
    return StandingLanes(scene, tuple(limit_lines), marks, tuple(heads))


def _draw_band(
    scene: Scene, frame: LanesFrame, lane: LaneFrame, limits: LimitsFile | None
) -> None:
    region = edges(limits, lane.spec.banded, Level.WARNING, frame.ranges.outer_m)
    if region.is_open:
        return
    x = frame.ranges.px_of(region.ranges_m)
    for part in _runs(region):
        top, bottom = _sides(lane, region, part)
        scene.add(
            Area(
                np.concatenate([x[part], x[part][::-1]]),
                np.concatenate([top, bottom[::-1]]),
                Ink.BAND,
                clip=lane.plot,
            )
        )


def _runs(region: Edges) -> list[slice]:
    """Give the stretches of range in which either side is limited."""
    limited = ~(np.isnan(region.low) & np.isnan(region.high))
    turns = np.flatnonzero(np.diff(limited.astype(np.int8), prepend=0, append=0))
    return [slice(int(a), int(b)) for a, b in zip(turns[::2], turns[1::2], strict=True)]


def _sides(lane: LaneFrame, region: Edges, part: slice) -> tuple[Series, Series]:
    """Give upper and lower side of the band in px; an open side is the lane's own."""
    high, low = region.high[part], region.low[part]
    if lane.spec.two_sided:
        low = -high
    top = np.where(np.isnan(high), lane.plot.top, lane.values.px_of(high))
    bottom = np.where(np.isnan(low), lane.plot.bottom, lane.values.px_of(low))
    return top, bottom


def _draw_edges(
    scene: Scene, frame: LanesFrame, lane: LaneFrame, limits: LimitsFile | None
) -> None:
    """Draw the tightest warning limit as the band's edge, the tightest caution as a thin line.

    A further quantity's warning limit is a dotted line, named in the lane's head.
    """
    spec = lane.spec
    kinds = [(spec.banded, Level.CAUTION, Stroke.SOLID, _THIN)]
    kinds += [((quantity,), Level.WARNING, Stroke.DOTTED, _THIN) for quantity in spec.lined]
    kinds += [(spec.banded, Level.WARNING, Stroke.SOLID, 1.0)]
    for quantities, level, stroke, opacity in kinds:
        region = edges(limits, quantities, level, frame.ranges.outer_m)
        sides = (region.high, -region.high) if spec.two_sided else (region.low, region.high)
        x = frame.ranges.px_of(region.ranges_m)
        for side in sides:
            if not np.isnan(side).all():
                y = lane.values.px_of(side)
                scene.add(Line(x, y, Ink.EDGE, 1.0, stroke, opacity, lane.plot))


def _lane_limits(
    frame: LanesFrame, index: int, lane: LaneFrame, limits: LimitsFile | None
) -> list[LimitLine]:
    """Give each limit's own line, drawn only while it is exceeded."""
    drawn = []
    for level in (Level.CAUTION, Level.WARNING):
        for limit in select(limits, lane.spec.quantities, level):
            ranges = sampled_ranges((limit,), frame.ranges.outer_m)
            values = limit_line(limit, ranges)
            sides = (values, -values) if lane.spec.two_sided else (values,)
            x = frame.ranges.px_of(ranges)
            lines = (Line(x, lane.values.px_of(v), Ink.EDGE, 2.0, clip=lane.plot) for v in sides)
            drawn.append(LimitLine(limit, index, tuple(lines)))
    return drawn


def _draw_plan(
    scene: Scene, frame: LanesFrame, lane: LaneFrame, limits: LimitsFile | None
) -> None:
    if limits is None or Quantity.CLOSING_RATE not in lane.spec.banded:
        return
    curve = limits.glide_slope.curve
    even = frame.ranges.outer_m * np.linspace(0.0, 1.0, 121) ** 2
    ranges = np.unique(np.concatenate([even, series(curve.ranges_m)]))
    values = series([math.nan if (v := curve.at(float(r))) is None else v for r in ranges])
    scene.add(
        Line(
            frame.ranges.px_of(ranges), lane.values.px_of(values), Ink.PLAN, 1.0, Stroke.DASHED,
            0.8, lane.plot,
        )
    )  # fmt: skip


def _draw_axis(scene: Scene, lane: LaneFrame, meter: Meter) -> None:
    plot = lane.plot
    scene.add(
        upright(plot.left + 0.5, plot.top, plot.bottom, Ink.HAIRLINE),
        level_line(round(plot.bottom) + 0.5, plot.left, plot.right, Ink.HAIRLINE),
    )
    if lane.values.low < 0.0:
        zero = round(lane.values.px(0.0)) + 0.5
        scene.add(level_line(zero, plot.left, plot.right, Ink.EDGE, opacity=0.35))
    for tick in _value_ticks(lane, meter):
        y = round(tick.px) + 0.5
        scene.add(level_line(y, plot.left - 3.0, plot.left + 1.0, Ink.EDGE))
        width = meter.width(tick.text)
        box = Box(plot.left - 6.0 - width, y - meter.height / 2.0, width, meter.height)
        scene.add(Label(tick.text, box))


def _value_ticks(lane: LaneFrame, meter: Meter) -> tuple[Tick, ...]:
    """Give round values, or in a low lane the ends of its axis and zero."""
    ticks = lane.values.ticks(meter.height * 1.35)
    if len(ticks) >= 3:
        return ticks
    scale = lane.values
    wanted = sorted({scale.low, 0.0, scale.high})
    decimals = max(decimals_of(abs(value)) if value else 0 for value in wanted)
    return tuple(Tick(v, scale.px(v), number(v, decimals)) for v in wanted)


def _draw_head(
    scene: Scene, lane: LaneFrame, limits: LimitsFile | None, meter: Meter, beside: str
) -> float:
    """Name the lane, its traces and the lines in it; give where the words end."""
    reserve = meter.width(WARNING_MARK, bold=True) + meter.height
    spec = lane.spec
    titles = (f"{spec.title}  {spec.unit}", spec.title)
    entries = _legend(spec, limits)
    if beside:
        entries.insert(0, _second_pass(beside, lane, meter, reserve + meter.width(titles[0])))
    made = head(titles, entries, lane.head, meter, reserve)
    scene.add(*made.marks)
    return made.right


def _second_pass(beside: str, lane: LaneFrame, meter: Meter, taken: float) -> Entry:
    """Give the entry of a second pass, its name cut at the end where it has no room."""
    room = lane.head.width - taken - 5.0 * meter.height
    names = [beside, *(beside[:n] + "…" for n in range(len(beside) - 1, 4, -1))]
    return Entry(Stroke.CHAIN, longest_that_fits(names, room, meter) or "second pass", Ink.TRACE_A)


def _legend(spec: LaneSpec, limits: LimitsFile | None) -> list[Entry]:
    """Give what the lane's head explains, its own traces first."""
    entries = [Entry(trace.shape, trace.name, trace.ink) for trace in spec.traces if trace.name]
    if limits is not None and Quantity.CLOSING_RATE in spec.banded:
        entries.append(Entry(Stroke.DASHED, "glide slope", Ink.PLAN))
    if spec.traces[0].path is not None and not spec.traces[0].name:
        entries.append(Entry(Stroke.DOTTED, "predicted", Ink.PLAN))
    entries += [
        Entry(Stroke.DOTTED, f"{quantity.value} limit", Ink.EDGE)
        for quantity in spec.lined
        if select(limits, (quantity,), Level.WARNING)
    ]
    return entries


def _draw_range_axis(scene: Scene, frame: LanesFrame, meter: Meter) -> None:
    far = frame.view.step_m > _FAR_FROM_M
    known: Sequence[float] = _FAR_TICKS_M if far else _TICKS_M
    wanted = [m for m in known if m <= frame.ranges.outer_m]
    for tick in range_ticks(frame.ranges, wanted, frame.ticks_row, meter):
        scene.add(upright(tick.px, frame.bottom, frame.bottom + 4.0, Ink.EDGE))
        width = meter.width(tick.text)
        box = Box(tick.px - width / 2.0, frame.ticks_row.top, width, meter.height)
        scene.add(Label(tick.text, box))
    words = longest_that_fits(RANGE_TITLES, frame.title_row.width, meter)
    width = meter.width(words)
    middle = frame.title_row.left + frame.title_row.width / 2.0
    scene.add(Label(words, Box(middle - width / 2.0, frame.title_row.top, width, meter.height)))
