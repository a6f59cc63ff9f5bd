"""The words of damping and of the leak check: one line each, for text, plots and events.

Figures are rounded here, so that the words of an event do not hang on the last digits of a fit.
"""

from __future__ import annotations

import math

from console.approach.capture_now import DampingNow, DampingVerdict, LeakNow, LeakState, Span

_MINUTES_BY = 5.0
"""Minutes still needed are said in steps of five above an hour, else in whole ones."""


def figures(value: float, digits: int = 2) -> str:
    """Write a value with so many significant digits and no exponent."""
    if value == 0.0 or not math.isfinite(value):
        return f"{value:.0f}"
    places = max(digits - 1 - math.floor(math.log10(abs(value))), 0)
    return _plain(value, places)


def _plain(value: float, places: int) -> str:
    text = f"{value:.{places}f}"
    return text.replace("-", "−" if float(text) else "")


def bounds(span: Span, unit: str) -> str:
    """Write a figure with its 95 % bounds, with as many places as tell these apart."""
    best, low, high = span.best, span.low, span.high
    if best is None:
        return "unknown"
    if low is None or high is None:
        return f"{figures(best)} {unit}, not surely bounded"
    width = max(high - low, 1e-3 * abs(best))
    fine = 1 if width > 0.02 * abs(best) else 0
    places = max(fine - math.floor(math.log10(width)), 0) if width > 0.0 else 0
    return f"{_plain(best, places)} {unit} ({_plain(low, places)} to {_plain(high, places)})"


def damping_words(now: DampingNow) -> str:
    """Say the damping's verdict with its decay time, or why there is none."""
    words = f"Damping {now.verdict.value}"
    if now.reason:
        words += f": {now.reason}"
    slowest = max(
        (c.decay_s for c in now.channels if c.decay_s.best is not None),
        key=lambda span: span.best or 0.0,
        default=None,
    )
    if slowest is not None and now.verdict is not DampingVerdict.UNDECIDED:
        words += f", decay time {bounds(slowest, 's')}"
    return words


def settles_words(now: DampingNow, t: float) -> str:
    """Say in how many seconds from ``t`` the motion settles; empty where that is not known."""
    best, low, high = now.t_settles.best, now.t_settles.low, now.t_settles.high
    if now.verdict is not DampingVerdict.SETTLING or best is None:
        return ""
    early = f"{max((low or t) - t, 0.0):.0f}"
    late = "open" if high is None else f"{max(high - t, 0.0):.0f}"
    return f"settles in {max(best - t, 0.0):.0f} s ({early} to {late})"


def damping_line(now: DampingNow, t: float) -> str:
    """Give the damping's verdict and what is to be expected, as one line said at ``t``."""
    return ", ".join(part for part in (now.words, settles_words(now, t)) if part)


def leak_line(now: LeakNow) -> str:
    """Give the leak check's verdict and what is to be expected, as one line."""
    return ", ".join(part for part in (now.words, needed_words(now)) if part)


def leak_words(now: LeakNow) -> str:
    """Say the leak check's verdict with the leak in kg/day, or why there is none."""
    words = f"Leak check {now.state.value}"
    if now.reason:
        words += f": {now.reason}"
    if now.state is LeakState.REFUSED or now.loss_kg_per_day.best is None:
        return words
    limit = figures(now.limit_kg_per_day)
    return f"{words}, {bounds(now.loss_kg_per_day, 'kg/day')} of {limit}"


def needed_words(now: LeakNow) -> str:
    """Say how long a verdict still takes; empty where one is there or nothing is measured."""
    if now.state is not LeakState.UNDECIDED or now.loss_pa_per_h.best is None:
        return ""
    if now.minutes_needed is None:
        return "may never decide: the limit lies within the bounds"
    minutes = now.minutes_needed
    whole = _MINUTES_BY * round(minutes / _MINUTES_BY) if minutes > 60.0 else round(minutes)
    words = f"about {max(whole, 1):.0f} min more"
    return f"{words}, may never decide" if now.may_never else words
