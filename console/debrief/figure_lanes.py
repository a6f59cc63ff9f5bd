"""The lanes over range: closing rate, lateral offset and misalignment with their envelope."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from console.approach.snapshot import ExceedanceNow
from console.approach.words import plain
from console.debrief.drawing import (
    BODY_PT,
    BROKEN,
    SHAPES,
    SMALL_PT,
    TRACE_PT,
    Canvas,
    Series,
    range_axis,
    root,
    value_ticks,
    with_gaps,
)
from console.debrief.review import Debrief
from console.envelope.limits import Level
from console.envelope.quantity import Quantity
from console.present.envelope_band import Edges, edges
from console.present.lane_spec import LANES, LaneSpec
from console.present.theme import Theme
from console.present.trail import Channel

if TYPE_CHECKING:
    from matplotlib.axes import Axes

HEIGHT_IN = 5.2
_LEFT, _RIGHT, _TOP, _BOTTOM, _GAP = 0.62, 0.12, 0.3, 0.42, 0.3
_COLUMN = {
    Channel.CLOSING_MPS: "closing_rate_mps",
    Channel.Y_M: "y_m",
    Channel.Z_M: "z_m",
    Channel.PITCH_DEG: "pitch_deg",
    Channel.YAW_DEG: "yaw_deg",
    Channel.ROLL_DEG: "roll_deg",
}
MARKS_A_TRACE = 9
ROOM_FOR_NAME = 0.17
"""Share of the axis that the name of the hands-off point takes."""


def draw(d: Debrief, canvas: Canvas) -> None:
    """Draw the three lanes below each other on one range axis."""
    outer_m = outer_range_m(d)
    count = len(LANES)
    height = (canvas.height - _TOP - _BOTTOM - _GAP * (count - 1)) / count
    width = canvas.width - _LEFT - _RIGHT
    for i, spec in enumerate(LANES):
        bottom = _BOTTOM + (count - 1 - i) * (height + _GAP)
        axes = canvas.axes(_LEFT, bottom, width, height)
        _lane(axes, spec, d, outer_m, canvas.theme)
        range_axis(axes, outer_m, with_words=i == count - 1)
        canvas.words(
            _LEFT, bottom + height + 0.07, f"{spec.title}, {spec.unit}", size=BODY_PT,
            weight="bold",
        )  # fmt: skip
    canvas.words(
        _LEFT + width, 0.06, "range to contact, m (square-root axis)", ha="right",
        color=canvas.theme.text_quiet,
    )  # fmt: skip


def outer_range_m(d: Debrief) -> float:
    """Give where the range axis begins: a little outside the farthest sample."""
    ranges = d.course.path["range_m"]
    return max(float(ranges.max()) * 1.03, 1.0) if ranges.size else 20.0


def _lane(axes: Axes, spec: LaneSpec, d: Debrief, outer_m: float, theme: Theme) -> None:
    band = edges(d.limits, spec.banded, Level.WARNING, outer_m)
    inner = edges(d.limits, spec.banded, Level.CAUTION, outer_m)
    low, high = _value_range(spec, d, band)
    axes.set_ylim(low, high)
    value_ticks(axes)
    _band(axes, spec, band, theme)
    _caution(axes, spec, inner, theme)
    if spec.at_contact is Quantity.CLOSING_RATE:
        _glide_slope(axes, d, outer_m, theme)
    _upright_lines(axes, spec, d, outer_m, theme)
    _traces(axes, spec, d, theme)
    for e in d.exceedances:
        if e.quantity in spec.quantities:
            _raised(axes, spec, d, e, theme)


def _value_range(spec: LaneSpec, d: Debrief, band: Edges) -> tuple[float, float]:
    columns = [d.course.path[_COLUMN[trace.channel]] for trace in spec.traces]
    sizes = [float(np.abs(column).max()) for column in columns if column.size]
    inside = band.high[band.ranges_m <= 5.0]
    if inside.size and not np.isnan(inside).all():
        sizes.append(float(np.nanmin(inside)))
    half = 1.2 * max([*sizes, 0.1 * spec.default])
    if spec.two_sided:
        return -half, half
    lowest = min([float(column.min()) for column in columns if column.size], default=0.0)
    return min(0.0, 1.2 * lowest), half


def _band(axes: Axes, spec: LaneSpec, band: Edges, theme: Theme) -> None:
    x, floor = root(band.ranges_m), axes.get_ylim()[0]
    high = np.where(np.isnan(band.high), axes.get_ylim()[1], band.high)
    low = -high if spec.two_sided else np.where(np.isnan(band.low), floor, band.low)
    is_set = ~(np.isnan(band.high) & np.isnan(band.low))
    axes.fill_between(x, low, high, where=is_set.tolist(), color=theme.band, linewidth=0.0)
    edges_drawn = (band.high, -band.high) if spec.two_sided else (band.high, band.low)
    for edge in edges_drawn:
        axes.plot(x, edge, color=theme.band_edge, linewidth=0.9)


def _caution(axes: Axes, spec: LaneSpec, inner: Edges, theme: Theme) -> None:
    x = root(inner.ranges_m)
    drawn = (inner.high, -inner.high) if spec.two_sided else (inner.high, inner.low)
    for edge in drawn:
        axes.plot(x, edge, color=theme.band_edge, linewidth=0.7, linestyle=(0, (1, 2)))


def _glide_slope(axes: Axes, d: Debrief, outer_m: float, theme: Theme) -> None:
    curve = d.limits.glide_slope.curve
    ranges = np.linspace(0.0, np.sqrt(outer_m), 80) ** 2
    planned: Series = np.asarray([curve.at(float(r)) for r in ranges], dtype=np.float64)
    axes.plot(root(ranges), planned, color=theme.plan, linewidth=0.9, linestyle=(0, (7, 3)))


def _upright_lines(axes: Axes, spec: LaneSpec, d: Debrief, outer_m: float, theme: Theme) -> None:
    hands_off_m = d.limits.hands_off.range_m
    axes.axvline(0.0, color=theme.text, linewidth=0.8)
    if hands_off_m >= outer_m:
        return
    x = float(root([hands_off_m])[0])
    axes.axvline(x, color=theme.text_quiet, linewidth=0.8, linestyle=(0, (2, 2)))
    if spec is LANES[0]:
        is_far_right = -x < ROOM_FOR_NAME * outer_m**0.5
        axes.annotate(
            f"hands-off {plain(hands_off_m)} m", (x, 0.05),
            xycoords=axes.get_xaxis_transform(), xytext=(-4 if is_far_right else 4, 0),
            textcoords="offset points", size=SMALL_PT, ha="right" if is_far_right else "left",
            color=theme.text_quiet, bbox={"facecolor": theme.panel, "edgecolor": "none", "pad": 1},
        )  # fmt: skip


def _traces(axes: Axes, spec: LaneSpec, d: Debrief, theme: Theme) -> None:
    path = d.course.path
    t, x = path["t"], root(path["range_m"])
    inks = (theme.trace_a, theme.trace_b, theme.trace_c)
    every = max(t.size // MARKS_A_TRACE, 1)
    for i, trace in enumerate(spec.traces):
        values = with_gaps(t, path[_COLUMN[trace.channel]], d.limits.data.stale_after_s)
        axes.plot(
            x, values, color=inks[i], linewidth=TRACE_PT, linestyle=BROKEN[i],
            marker=SHAPES[i] if trace.name else "", markersize=3.0,
            markevery=(i * every // 3, every), markerfacecolor=theme.panel,
            label=trace.name or "flown",
        )  # fmt: skip
    if spec.at_contact is Quantity.CLOSING_RATE:
        axes.plot([], [], color=theme.plan, linewidth=0.9, linestyle=(0, (7, 3)), label="planned")
    axes.legend(
        loc="lower right", bbox_to_anchor=(1.0, 0.985), ncols=3, frameon=False,
        fontsize=SMALL_PT, handlelength=3.2, borderpad=0.1, labelcolor=theme.text,
    )  # fmt: skip


def _raised(axes: Axes, spec: LaneSpec, d: Debrief, e: ExceedanceNow, theme: Theme) -> None:
    """Mark where an exceedance was raised, on the trace that lies farthest out there."""
    at_m = d.course.range_at(e.raised)
    if at_m is None:
        return
    path = d.course.path
    values = [
        float(np.interp(e.raised, path["t"], path[_COLUMN[trace.channel]]))
        for trace in spec.traces
    ]
    is_warning = e.level is Level.WARNING
    axes.plot(
        root([at_m]), [max(values, key=abs)], marker="v", markersize=7.0,
        color=theme.warning if is_warning else theme.caution,
        fillstyle="full" if is_warning else "left", markerfacecoloralt=theme.panel,
        markeredgecolor=theme.warning if is_warning else theme.caution, linestyle="",
        zorder=5,
    )  # fmt: skip
