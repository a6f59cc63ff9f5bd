"""Margins over range: a small plot for each of the limits that came nearest."""

from __future__ import annotations

import math

import numpy as np

from console.debrief.drawing import LIMIT_HATCH, SMALL_PT, TRACE_PT, Canvas, range_axis, root
from console.debrief.figure_lanes import outer_range_m
from console.debrief.margin import LimitMargin
from console.debrief.review import Debrief
from console.debrief.written import metres, share
from console.present.text import number
from console.present.tone import mark_of

MOST = 8
COLUMNS = 2
LOWEST = -1.0
"""A margin farther below its limit than the limit's own size is drawn at the foot."""
_LEFT, _RIGHT, _TOP, _BOTTOM = 0.56, 0.1, 0.22, 0.42
_PLOT_IN, _GAP_IN, _BETWEEN_IN = 0.82, 0.4, 0.55


def height_in(d: Debrief) -> float:
    """Give how high the figure stands, inches."""
    rows = max(-(-len(_shown(d)) // COLUMNS), 1)
    return _TOP + rows * _PLOT_IN + (rows - 1) * _GAP_IN + _BOTTOM


def draw(d: Debrief, canvas: Canvas) -> None:
    """Draw the plots in two columns, the least margin first."""
    shown = _shown(d)
    if not shown:
        canvas.words(0.0, canvas.height - 0.3, "no limit was applied")
        return
    outer_m = outer_range_m(d)
    width = (canvas.width - _LEFT - _RIGHT - _BETWEEN_IN) / COLUMNS
    last_row = (len(shown) - 1) // COLUMNS
    for i, one in enumerate(shown):
        row, column = divmod(i, COLUMNS)
        left = _LEFT + column * (width + _BETWEEN_IN)
        bottom = canvas.height - _TOP - _PLOT_IN - row * (_PLOT_IN + _GAP_IN)
        is_lowest = row == last_row or i + COLUMNS >= len(shown)
        _plot(canvas, one, (left, bottom, width), outer_m, with_words=is_lowest)
    canvas.words(
        canvas.width - _RIGHT, 0.06, "range to contact, m (square-root axis)", ha="right",
        color=canvas.theme.text_quiet,
    )  # fmt: skip


def _shown(d: Debrief) -> list[LimitMargin]:
    finite = [m for m in d.margins if m.least is not None and math.isfinite(m.least.share)]
    return finite[:MOST]


def _plot(
    canvas: Canvas,
    one: LimitMargin,
    place: tuple[float, float, float],
    outer_m: float,
    *,
    with_words: bool,
) -> None:
    left, bottom, width = place
    axes = canvas.axes(left, bottom, width, _PLOT_IN)
    theme, least = canvas.theme, one.least
    assert least is not None
    ranges = np.asarray([r for r, _ in one.over_range])
    shares = np.asarray([max(s, LOWEST) for _, s in one.over_range])
    low = -0.25 if least.share >= 0.0 else LOWEST * 1.1
    axes.set_ylim(low, 1.05)
    axes.axhspan(
        low, 0.0, facecolor=theme.band, edgecolor=theme.hairline, hatch=LIMIT_HATCH, linewidth=0.0
    )
    axes.axhline(0.0, color=theme.text, linewidth=0.9)
    axes.plot(root(ranges), shares, color=theme.trace_a, linewidth=TRACE_PT)
    is_out = least.share < 0.0
    axes.plot(
        root([least.range_m]), [max(least.share, LOWEST)], marker="v" if is_out else "D",
        markersize=6.0 if is_out else 4.5, linestyle="",
        color=theme.warning if is_out else theme.trace_a,
        markerfacecolor=theme.warning if is_out else theme.panel, zorder=5,
    )  # fmt: skip
    axes.set_yticks([y for y in (-1.0, 0.0, 0.5, 1.0) if y >= low])
    axes.set_yticklabels([f"{number(y * 100.0, 0)} %" for y in (-1.0, 0.0, 0.5, 1.0) if y >= low])
    range_axis(axes, outer_m, with_words=with_words, apart=0.09)
    name = f"{mark_of(one.limit.level)} {one.limit.id}".strip()
    canvas.words(left, bottom + _PLOT_IN + 0.06, name, weight="bold")
    canvas.words(
        left + width, bottom + _PLOT_IN + 0.06, f"{share(least.share)} at {metres(least.range_m)}",
        ha="right", color=theme.text_quiet, size=SMALL_PT,
    )  # fmt: skip
