"""Range over time, and below it what stood when."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from console.approach.event import Phase
from console.approach.snapshot import ExceedanceNow
from console.debrief.drawing import (
    BODY_PT,
    GAP_HATCH,
    LIMIT_HATCH,
    SMALL_PT,
    TRACE_PT,
    Canvas,
    value_ticks,
    with_gaps,
)
from console.debrief.review import Debrief
from console.envelope.limits import Level
from console.present import text
from console.present.plot_axis import CLOCK_STEPS_S
from console.present.theme import Theme

if TYPE_CHECKING:
    from matplotlib.axes import Axes

ROWS_MOST = 8
_LEFT, _RIGHT, _TOP, _BOTTOM = 1.75, 0.35, 0.34, 0.42
_PLOT_IN, _ROW_IN, _GAP_IN = 1.35, 0.155, 0.12
_NAMED = {
    Phase.CONTACT: "contact", Phase.DOCKED: "docked", Phase.ABORT: "abort",
    Phase.RETREAT: "retreat", Phase.DATA_LOST: "data lost", Phase.HOLD: "hold",
    Phase.HANDS_OFF: "hands-off", Phase.HARD_CAPTURE: "hard capture",
}  # fmt: skip
"""Phases named above the plot; where two have no room, the one named first here is."""
_LETTER, _SPARE = 0.0125, 0.02
"""Room a letter of a name takes, and between two names, as shares of the plot's width."""


def height_in(d: Debrief) -> float:
    """Give how high the figure stands, inches."""
    rows = len(_shown(d))
    strip = _GAP_IN + rows * _ROW_IN if rows else 0.0
    return _TOP + _PLOT_IN + strip + _BOTTOM


def draw(d: Debrief, canvas: Canvas) -> None:
    """Draw range over time with the names of phases, and the strip of exceedances."""
    rows = _shown(d)
    strip_in = len(rows) * _ROW_IN
    width = canvas.width - _LEFT - _RIGHT
    bottom = _BOTTOM + (strip_in + _GAP_IN if rows else 0.0)
    axes = canvas.axes(_LEFT, bottom, width, _PLOT_IN)
    _range(axes, d, canvas.theme)
    _phases(axes, d, canvas.theme)
    if rows:
        strip = canvas.axes(_LEFT, _BOTTOM, width, strip_in)
        _strip(strip, d, rows, canvas.theme)
        _clock_axis(strip, d)
        axes.set_xticklabels([])
    hidden = _worth_showing(d) - len(rows)
    if hidden:
        canvas.words(0.0, 0.06, f"+{hidden} more in the table", color=canvas.theme.text_quiet)
    canvas.words(
        _LEFT + width, 0.06, "time of day, UTC", ha="right", color=canvas.theme.text_quiet
    )
    canvas.words(_LEFT, canvas.height - 0.13, "Range, m", size=BODY_PT, weight="bold")


def _shown(d: Debrief) -> list[ExceedanceNow]:
    """Give the exceedances that get a bar: the worst levels first, then in the order raised."""
    told = [e for e in d.exceedances if e.level is not Level.ADVISORY]
    told.sort(key=lambda e: -e.level)
    return sorted(told[:ROWS_MOST], key=lambda e: (-e.level, e.raised))


def _worth_showing(d: Debrief) -> int:
    return sum(e.level is not Level.ADVISORY for e in d.exceedances)


def _span(d: Debrief) -> tuple[float, float]:
    first, last = d.course.t_first, d.course.t_last
    if math.isnan(first):
        return 0.0, 1.0
    return first, max(last, first + 1.0)


def _range(axes: Axes, d: Debrief, theme: Theme) -> None:
    path = d.course.path
    values = with_gaps(path["t"], path["range_m"], d.limits.data.stale_after_s)
    axes.plot(path["t"], values, color=theme.trace_a, linewidth=TRACE_PT)
    axes.set_ylim(min(0.0, float(path["range_m"].min())) if path["t"].size else 0.0)
    value_ticks(axes)
    for gap in d.data.gaps:
        end = _span(d)[1] if gap.t_end is None else gap.t_end
        axes.axvspan(
            gap.t_start, end, facecolor="none", edgecolor=theme.stale, hatch=GAP_HATCH,
            linewidth=0.0,
        )  # fmt: skip
    _clock_axis(axes, d)


def _clock_axis(axes: Axes, d: Debrief) -> None:
    first, last = _span(d)
    axes.set_xlim(first, last)
    step = next((s for s in CLOCK_STEPS_S if (last - first) / s <= 6), CLOCK_STEPS_S[-1])
    begin = math.ceil(first / step)
    ticks = [i * step for i in range(begin, math.floor(last / step) + 1)]
    axes.set_xticks(ticks)
    axes.set_xticklabels([text.clock(t) for t in ticks])


def _phases(axes: Axes, d: Debrief, theme: Theme) -> None:
    """Draw a line where each phase worth a word began, and name those there is room for."""
    first, last = _span(d)
    ranked = list(_NAMED)
    stages = [stage for stage in d.stages if stage.phase in _NAMED]
    taken: list[tuple[float, float]] = []
    for stage in sorted(stages, key=lambda stage: (ranked.index(stage.phase), stage.t)):
        axes.axvline(stage.t, color=theme.text_quiet, linewidth=0.7, linestyle=(0, (2, 2)))
        name, place = _NAMED[stage.phase], (stage.t - first) / (last - first)
        room = _LETTER * len(name) + _SPARE
        is_right = place + room > 1.0
        box = (place - room, place) if is_right else (place, place + room)
        if any(box[0] < other[1] and other[0] < box[1] for other in taken):
            continue
        taken.append(box)
        axes.text(
            stage.t, 1.02, name, transform=axes.get_xaxis_transform(), size=SMALL_PT,
            ha="right" if is_right else "left", va="bottom", color=theme.text_quiet,
        )  # fmt: skip


def _strip(axes: Axes, d: Debrief, rows: list[ExceedanceNow], theme: Theme) -> None:
    last = _span(d)[1]
    names = []
    for i, e in enumerate(rows):
        end = last if e.cleared is None else e.cleared
        is_warning = e.level is Level.WARNING
        ink = theme.warning if is_warning else theme.caution
        axes.barh(
            i, max(end - e.raised, 0.0), left=e.raised, height=0.62,
            facecolor=ink if is_warning else theme.panel, edgecolor=ink,
            hatch="" if is_warning else LIMIT_HATCH, linewidth=0.8,
        )  # fmt: skip
        names.append(e.id if e.source is None else f"{e.id} {e.source}")
    axes.set_ylim(len(rows) - 0.5, -0.5)
    axes.set_yticks(range(len(rows)))
    axes.set_yticklabels(names)
    axes.tick_params(axis="y", length=0)
