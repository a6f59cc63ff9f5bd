"""Contact predicted and measured, and what followed it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from console.approach.event import Phase
from console.approach.words import LABEL
from console.bench.outcome import CONTACT_FIELD
from console.core.normal import Z_95
from console.debrief.drawing import (
    BODY_PT,
    BROKEN,
    SMALL_PT,
    TRACE_PT,
    Canvas,
    Series,
    value_ticks,
)
from console.debrief.review import Debrief
from console.envelope.quantity import UNIT, Quantity
from console.present import text
from console.present.capture_verdicts import channel_of
from console.present.plot_axis import CLOCK_STEPS_S
from console.tracking.outlook import Spread

if TYPE_CHECKING:
    from matplotlib.axes import Axes

PREDICTED_IN = 2.15
HEIGHT_IN = 3.7
SHOWN = (Quantity.CLOSING_RATE, Quantity.LATERAL_OFFSET, Quantity.PITCH_YAW)
_LEFT, _RIGHT, _TOP, _BOTTOM, _BETWEEN = 0.55, 0.1, 0.28, 0.42, 0.6
_HOOK_SHARE = "hooks"
SPARE_S = 10.0
"""A stage is shown to its end and so much longer."""


def draw_predicted(d: Debrief, canvas: Canvas) -> None:
    """Draw three quantities: predicted from each range with 95 % bounds, and as measured."""
    count = len(SHOWN)
    width = (canvas.width - _LEFT - _RIGHT - _BETWEEN * (count - 1)) / count
    height = canvas.height - _TOP - _BOTTOM
    for i, quantity in enumerate(SHOWN):
        left = _LEFT + i * (width + _BETWEEN)
        axes = canvas.axes(left, _BOTTOM, width, height)
        _predicted(axes, d, quantity, canvas)
        title = f"{LABEL[quantity]}, {UNIT[quantity]}"
        canvas.words(left, canvas.height - 0.16, title, size=BODY_PT, weight="bold")
    canvas.words(
        canvas.width - _RIGHT, 0.06, "predicted as the vehicle passed this range, m",
        ha="right", color=canvas.theme.text_quiet,
    )  # fmt: skip


def _predicted(axes: Axes, d: Debrief, quantity: Quantity, canvas: Canvas) -> None:
    theme = canvas.theme
    spreads = [_spread(d, i, quantity) for i in range(len(d.predictions))]
    values = [s.mean for s in spreads if s is not None]
    halves = [Z_95 * s.sigma for s in spreads if s is not None]
    contact = d.outcome["contact"]
    measured = None if contact is None else contact[CONTACT_FIELD[quantity]]
    limit = next((n for n in d.limits.contact_limits if n.quantity is quantity), None)
    ends = [v + h for v, h in zip(values, halves, strict=True)]
    ends += [] if limit is None or limit.maximum is None else [limit.maximum]
    ends += [] if measured is None else [measured]
    lows = [0.0] if limit is None or limit.minimum is None else [limit.minimum]
    lows += [v - h for v, h in zip(values, halves, strict=True)]
    span = max([*ends, 1e-6]) - min(lows)
    low, high = min(lows) - 0.12 * span, max([*ends, 1e-6]) + 0.12 * span
    axes.set_ylim(low, high)
    if limit is not None:
        bottom = low if limit.minimum is None else limit.minimum
        top = high if limit.maximum is None else limit.maximum
        axes.axhspan(bottom, top, facecolor=theme.band, edgecolor=theme.band_edge, linewidth=0.9)
    places = [i for i, s in enumerate(spreads) if s is not None]
    axes.errorbar(
        places, values, yerr=halves, fmt="o", color=theme.trace_a, markersize=4.0, capsize=3.0,
        linewidth=1.0, markerfacecolor=theme.panel,
    )  # fmt: skip
    last = len(spreads)
    if measured is not None:
        axes.axhline(measured, color=theme.trace_a, linewidth=0.8, linestyle=BROKEN[1])
        axes.plot([last], [measured], marker="s", markersize=5.0, color=theme.trace_a)
    axes.set_xlim(-0.6, last + 0.6)
    axes.set_xticks(range(last + 1))
    axes.set_xticklabels([*(f"{p.at_m:g}" for p in d.predictions), "measured"])
    value_ticks(axes)


def _spread(d: Debrief, i: int, quantity: Quantity) -> Spread | None:
    contact = d.predictions[i].contact
    if contact is None:
        return None
    return next((c.predicted for c in contact.quantities if c.quantity is quantity), None)


def draw(d: Debrief, canvas: Canvas) -> None:
    """Draw relative motion, ring and hooks, and vestibule pressure, in two by two plots."""
    width = (canvas.width - _LEFT - _RIGHT - _BETWEEN) / 2.0
    height = (canvas.height - 2.0 * _TOP - _BOTTOM - 0.26) / 2.0
    upper = _BOTTOM + height + _TOP + 0.26
    columns = d.course.capture
    t = columns["t"] - float(d.outcome["contact"]["t"])
    places = ((_LEFT, upper), (_LEFT + width + _BETWEEN, upper), (_LEFT, _BOTTOM),
              (_LEFT + width + _BETWEEN, _BOTTOM))  # fmt: skip
    damped_s = _since(d, Phase.RING_RETRACTION, t, SPARE_S)
    plots = (
        ("Relative motion, m/s", damped_s),
        ("Relative motion, deg/s", damped_s),
        ("Ring extension and hooks closed", _since(d, Phase.HARD_CAPTURE, t, SPARE_S)),
        ("Vestibule, kPa", float(t[-1])),
    )
    drawn = []
    for (left, bottom), (title, end_s) in zip(places, plots, strict=True):
        axes = canvas.axes(left, bottom, width, height)
        canvas.words(left, bottom + height + 0.07, title, size=BODY_PT, weight="bold")
        since_contact(axes, end_s)
        drawn.append(axes)
    _motion(drawn[0], d, t, "rel_rate_mps", "m/s", canvas)
    _motion(drawn[1], d, t, "rel_rate_dps", "deg/s", canvas)
    _ring(drawn[2], columns, t, canvas)
    _line(drawn[3], t, columns["vestibule_kpa"], canvas)
    for axes in drawn:
        value_ticks(axes)
    canvas.words(
        canvas.width - _RIGHT, 0.06, "time since contact, min:s", ha="right",
        color=canvas.theme.text_quiet,
    )  # fmt: skip


def _motion(axes: Axes, d: Debrief, t: Series, name: str, unit: str, canvas: Canvas) -> None:
    values = d.course.capture[name]
    told = ~np.isnan(values)
    _line(axes, t, values, canvas)
    channel = channel_of(d.capture, unit)
    if channel is not None:
        axes.axhline(channel.level, color=canvas.theme.plan, linewidth=0.8, linestyle=BROKEN[1])
        axes.text(
            0.99, channel.level, "settled below ", transform=axes.get_yaxis_transform(),
            ha="right", va="bottom", size=SMALL_PT, color=canvas.theme.text_quiet, zorder=4,
            bbox={"facecolor": canvas.theme.panel, "edgecolor": "none", "pad": 0.5},
        )  # fmt: skip
    top = float(values[told].max()) if told.any() else 1.0
    axes.set_ylim(0.0, max(top, 1e-6) * 1.1)


def _ring(axes: Axes, columns: dict[str, Series], t: Series, canvas: Canvas) -> None:
    theme = canvas.theme
    for i, (name, label) in enumerate((("ring_extension", "ring"), (_HOOK_SHARE, "hooks"))):
        told = ~np.isnan(columns[name])
        axes.plot(
            t[told], columns[name][told], color=theme.trace_a, linewidth=TRACE_PT,
            linestyle=BROKEN[i], label=label,
        )  # fmt: skip
    axes.set_ylim(-0.05, 1.1)
    axes.legend(
        loc="center right", frameon=False, fontsize=SMALL_PT, handlelength=3.2,
        labelcolor=theme.text,
    )  # fmt: skip


def _line(axes: Axes, t: Series, values: Series, canvas: Canvas) -> None:
    told = ~np.isnan(values)
    axes.plot(t[told], values[told], color=canvas.theme.trace_a, linewidth=TRACE_PT)
    if not told.any():
        axes.set_ylim(0.0, 1.0)
        axes.text(
            0.5, 0.5, "not received", transform=axes.transAxes, ha="center", size=BODY_PT,
            color=canvas.theme.text_quiet,
        )  # fmt: skip


def _since(d: Debrief, phase: Phase, t: Series, spare_s: float) -> float:
    """Give how long after contact a stage began, and a little more; the end where it did not."""
    contact_t = float(d.outcome["contact"]["t"])
    begun = [stage.t - contact_t for stage in d.stages if stage.phase is phase]
    return min(begun[-1] + spare_s, float(t[-1])) if begun else float(t[-1])


def since_contact(axes: Axes, end_s: float) -> None:
    """Count the time axis in whole clock steps from contact, with six marks at most."""
    last = max(end_s, 1.0)
    step = next((s for s in CLOCK_STEPS_S if last / s <= 5), None)
    if step is None:  # a far-off time in the data must not make ticks without end
        step = math.ceil(last / 5.0 / CLOCK_STEPS_S[-1]) * CLOCK_STEPS_S[-1]
    ticks = [i * step for i in range(int(last // step) + 1)]
    axes.set_xlim(0.0, last)
    axes.set_xticks(ticks)
    axes.set_xticklabels([text.duration(tick) for tick in ticks])
