"""The lanes' standing picture: three quantities against range on one shared axis.

Laid out once for a size, a zoom step, the value axes' steps and a limits file; what changes with
every snapshot is in `console.present.lanes_now`. The axis changes by steps only.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from console.envelope.limits import Level, LimitsFile
from console.present.envelope_band import edges
from console.present.lane_spec import LANES, Here, LaneSpec
from console.present.plot_axis import RangeScale, Scale, Steps, nice_above
from console.present.plot_scene import Box, Meter
from console.present.trail import Channel

ZOOM = Steps((5.0, 20.0, 50.0, 200.0, 1000.0, 5000.0, 20000.0, 100000.0), 1.0, 1.05, 1.015)
"""Ranges at the left edge, m. The approach uses the first four; the rest serve a far start."""
ROOM_OUTSIDE = 1.10
"""Range at the very left, as a multiple of the step: the step's own label fits, and a vehicle
that holds at the step's range is not on the edge."""
ROOM_BEYOND_CONTACT = 0.03
HEADROOM = 1.12
_TOP_STEPS = tuple(2.0**k for k in range(12))
_BOTTOM_STEPS = (0.06, 0.5, *_TOP_STEPS)


Extremes: TypeAlias = Callable[[float], Mapping[Channel, tuple[float, float]]]
"""From a zoom step, m, to the least and greatest value of each channel within it."""


@dataclass(frozen=True, slots=True)
class ValueRange:
    """Lowest and highest value of a lane's axis."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class LanesView:
    """Which steps the axes stand at."""

    step_m: float
    values: tuple[ValueRange, ...]


@dataclass(frozen=True, slots=True)
class LaneFrame:
    """One lane's place."""

    spec: LaneSpec
    head: Box
    plot: Box
    values: Scale


@dataclass(frozen=True, slots=True)
class LanesFrame:
    """Where everything of the lanes stands, px.

    Attributes
    ----------
    marks_row : Box
        Names of the lines that cross all lanes.
    gutter : Box
        The value axes' labels.
    ticks_row, title_row : Box
        Below the lanes: labels of the range axis, and its title.
    """

    width: float
    height: float
    view: LanesView
    marks_row: Box
    gutter: Box
    lanes: tuple[LaneFrame, ...]
    ticks_row: Box
    title_row: Box
    ranges: RangeScale

    @property
    def top(self) -> float:
        """Upper end of the lines that cross all lanes."""
        return self.lanes[0].plot.top

    @property
    def bottom(self) -> float:
        """Lower end of the lines that cross all lanes."""
        return self.lanes[-1].plot.bottom


class LanesAxes:
    """Keeps the axes at their steps from frame to frame."""

    def __init__(self) -> None:
        self._limits: LimitsFile | None = None
        self._view: LanesView | None = None
        self._bases: dict[float, tuple[float, ...]] = {}
        self._beside: Extremes | None = None

    def set_beside(self, beside: Extremes | None) -> None:
        """Take a second pass that the value axes must have room for, too."""
        self._beside = beside
        if self._view is not None:
            self._view = LanesView(self._view.step_m, self._value_ranges(self._view.step_m, None))

    def set_limits(self, limits: LimitsFile | None) -> None:
        """Take the limits that the value axes must have room for."""
        self._limits = limits
        self._bases.clear()
        if self._view is not None:
            self._view = LanesView(self._view.step_m, self._value_ranges(self._view.step_m, None))

    def advance(self, where: Here | None) -> LanesView:
        """Give the steps to draw at, for where the vehicle is (None: they stay)."""
        view = self._view
        needed = None if where is None else max(where.range_m, 0.0)
        step = ZOOM.next(None if view is None else view.step_m, needed)
        if view is None and where is None:
            step = 200.0
        if view is None or step != view.step_m:
            view = LanesView(step, self._value_ranges(step, None))
        if where is not None:
            values = self._value_ranges(step, view, where)
            if values != view.values:
                view = LanesView(step, values)
        self._view = view
        return view

    def _value_ranges(
        self, step_m: float, view: LanesView | None, where: Here | None = None
    ) -> tuple[ValueRange, ...]:
        ranges = []
        if step_m not in self._bases:
            self._bases[step_m] = tuple(base_value(s, self._limits, step_m) for s in LANES)
        for i, (spec, base) in enumerate(zip(LANES, self._bases[step_m], strict=True)):
            present = None if view is None else view.values[i]
            drawn = [] if where is None else [where.values[t.channel] for t in spec.traces]
            if self._beside is not None:
                drawn += [v for t in spec.traces for v in self._beside(step_m)[t.channel]]
            ranges.append(_stepped(spec, base, present, drawn))
        return tuple(ranges)


def _stepped(
    spec: LaneSpec, base: float, present: ValueRange | None, drawn: list[float]
) -> ValueRange:
    """Give the axis that holds the values drawn, in steps of the base's multiples."""
    tops = Steps(tuple(base * k for k in _TOP_STEPS), 0.9, 1.0)
    high = max((v for v in drawn if math.isfinite(v)), default=0.0)
    low = min((v for v in drawn if math.isfinite(v)), default=0.0)
    if spec.two_sided:
        half = tops.next(None if present is None else present.high, max(high, -low))
        return ValueRange(-half, half)
    top = tops.next(None if present is None else present.high, high)
    bottoms = Steps(tuple(base * k for k in _BOTTOM_STEPS), 0.8, 1.0)
    kept = None if present is None else (-present.low or bottoms.sizes[0])
    bottom = bottoms.next(kept, max(-low, 0.0))
    return ValueRange(0.0 if bottom == bottoms.sizes[0] else -bottom, top)


def base_value(spec: LaneSpec, limits: LimitsFile | None, step_m: float) -> float:
    """Give the highest value a lane shows at a zoom step: room for its limits and the plan.

    It follows from the limits file alone, so that the axis does not move with the data.
    """
    outer = step_m * ROOM_OUTSIDE
    bounds = [edges(limits, spec.banded, level, outer) for level in (Level.WARNING, Level.CAUTION)]
    lines = [edges(limits, (q,), Level.WARNING, outer) for q in spec.lined]
    highs = [float(np.nanmax(e.high)) for e in bounds + lines if not np.isnan(e.high).all()]
    highs += [float(np.nanmax(e.low)) for e in bounds if not np.isnan(e.low).all()]
    if limits is not None and any(t.channel is Channel.CLOSING_MPS for t in spec.traces):
        plan = limits.glide_slope.curve
        highs += [v for r, v in zip(plan.ranges_m, plan.values, strict=True) if r <= outer]
        highs += [v for v in (plan.at(outer),) if v is not None]
    largest = max((h for h in highs if math.isfinite(h)), default=0.0)
    return nice_above(largest * HEADROOM) if largest > 0.0 else spec.default


def lay_out(width: float, height: float, meter: Meter, view: LanesView) -> LanesFrame:
    """Give the lanes their places in a widget of a size, px."""
    line = meter.height
    pad = round(line * 0.5)
    left = pad + round(meter.width("−0.000")) + pad
    right = max(width - pad, left + 10.0)
    title = Box(left, height - pad * 0.5 - line, right - left, line)
    ticks = Box(0.0, title.top - line - 2.0, width, line)
    marks = Box(left, pad * 0.5, right - left, line)
    first, last = marks.bottom + 2.0, ticks.top - pad * 0.5
    tall = (last - first) / len(LANES)
    lanes = []
    for i, (spec, values) in enumerate(zip(LANES, view.values, strict=True)):
        top = round(first + i * tall)
        head = Box(left, top + 2.0, right - left, line)
        plot = Box(left, head.bottom + 2.0, right - left, 0.0)
        bottom = round(first + (i + 1) * tall)
        plot = Box(left, plot.top, right - left, max(bottom - plot.top - 4.0, 8.0))
        inset = min(line * 0.5, plot.height * 0.2)
        scale = Scale(values.low, values.high, plot.bottom - inset, plot.top + inset)
        lanes.append(LaneFrame(spec, head, plot, scale))
    contact = right - max((right - left) * ROOM_BEYOND_CONTACT, pad)
    ranges = RangeScale(view.step_m * ROOM_OUTSIDE, left, round(contact) + 0.5)
    gutter = Box(0.0, first, left, last - first)
    return LanesFrame(width, height, view, marks, gutter, tuple(lanes), ticks, title, ranges)
