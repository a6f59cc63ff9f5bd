"""Axes that stand still: scales, round numbers, ticks that fit, and steps with hysteresis."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from console.present.plot_scene import Box, Meter, Numbers, Series
from console.present.text import number

_NICE = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
_TICK = (1.0, 2.0, 5.0, 10.0)
_TINY = 1e-9
CLOCK_STEPS_S = (1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 1200, 1800, 3600, 7200, 14400)


def nice_above(value: float) -> float:
    """Give the least round number that is not below a positive value."""
    if not (math.isfinite(value) and value > 0.0):
        return 1.0
    power = 10.0 ** math.floor(math.log10(value))
    return next(n * power for n in _NICE if n * power >= value * (1.0 - _TINY))


def tick_step(span: float, most: int) -> float:
    """Give the least step of 1, 2 or 5 times a power of ten that makes at most ``most`` steps."""
    least = span / max(most, 1)
    if not (math.isfinite(least) and least > 0.0):
        return 1.0
    power = 10.0 ** math.floor(math.log10(least))
    return next(n * power for n in _TICK if n * power >= least * (1.0 - _TINY))


def decimals_of(step: float) -> int:
    """Give the decimals a multiple of a step needs."""
    for decimals in range(7):
        if abs(step * 10**decimals - round(step * 10**decimals)) < 1e-6 * 10**decimals * step:
            return decimals
    return 7


@dataclass(frozen=True, slots=True)
class Tick:
    """One tick: its value, where it stands, its text."""

    value: float
    px: float
    text: str


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight axis from a value range to pixels."""

    low: float
    high: float
    low_px: float
    high_px: float

    def px(self, value: float) -> float:
        """Give where a value stands."""
        share = (value - self.low) / (self.high - self.low)
        return self.low_px + share * (self.high_px - self.low_px)

    def px_of(self, values: Numbers) -> Series:
        """Give where values stand."""
        share = (np.asarray(values, np.float64) - self.low) / (self.high - self.low)
        return self.low_px + share * (self.high_px - self.low_px)

    @property
    def px_per_unit(self) -> float:
        """Pixels of one unit, without sign."""
        return abs(self.high_px - self.low_px) / (self.high - self.low)

    def ticks(self, apart_px: float) -> tuple[Tick, ...]:
        """Give the round values on the axis, at least ``apart_px`` from each other."""
        most = int(abs(self.high_px - self.low_px) / max(apart_px, 1.0))
        step = tick_step(self.high - self.low, most)
        first = math.ceil(self.low / step - _TINY)
        last = math.floor(self.high / step + _TINY)
        decimals = decimals_of(step)
        return tuple(
            Tick(i * step, self.px(i * step), number(i * step, decimals))
            for i in range(first, last + 1)
        )


@dataclass(frozen=True, slots=True)
class RangeScale:
    """The square-root axis of range: contact near the right edge, range growing to the left.

    Attributes
    ----------
    outer_m : float
        Range at ``left_px``.
    contact_px : float
        Where range 0 stands; ranges below zero stand right of it.
    """

    outer_m: float
    left_px: float
    contact_px: float

    @property
    def _px_per_root(self) -> float:
        return (self.contact_px - self.left_px) / math.sqrt(self.outer_m)

    def px(self, range_m: float) -> float:
        """Give where a range stands: x = contact − k·sign(r)·sqrt(abs(r))."""
        root = math.copysign(math.sqrt(abs(range_m)), range_m)
        return self.contact_px - self._px_per_root * root

    def px_of(self, ranges_m: Numbers) -> Series:
        """Give where ranges stand."""
        ranges = np.asarray(ranges_m, np.float64)
        root = np.copysign(np.sqrt(np.abs(ranges)), ranges)
        return self.contact_px - self._px_per_root * root

    def range_at(self, px: float) -> float:
        """Give the range that stands at a pixel."""
        root = (self.contact_px - px) / self._px_per_root
        return math.copysign(root * root, root)


def range_ticks(
    scale: RangeScale, candidates_m: Sequence[float], area: Box, meter: Meter, gap: float = 10.0
) -> tuple[Tick, ...]:
    """Choose range ticks whose centred labels neither touch each other nor leave the area.

    Parameters
    ----------
    candidates_m : sequence of float
        Ranges worth a tick, the most wanted first.
    """
    taken: list[Box] = []
    ticks = []
    for value in candidates_m:
        text = number(value, decimals_of(value) if value else 0)
        width = meter.width(text)
        px = scale.px(value)
        box = Box(px - width / 2.0, area.top, width, meter.height)
        if box.inside(area) and not any(box.overlaps(other, gap) for other in taken):
            taken.append(box)
            ticks.append(Tick(value, px, text))
    return tuple(sorted(ticks, key=lambda tick: tick.px))


def clock_step(span_s: float, most: int) -> int:
    """Give a step of whole clock units that makes at most ``most`` steps of a span."""
    least = span_s / max(most, 1)
    return next((step for step in CLOCK_STEPS_S if step >= least), CLOCK_STEPS_S[-1])


@dataclass(frozen=True, slots=True)
class Steps:
    """Sizes an axis may have, changed over with hysteresis so that it never drifts or flutters.

    Attributes
    ----------
    sizes : tuple of float
        Ascending.
    enter, leave : float
        A smaller size is taken when what must be shown is at most ``enter`` of it; the present
        one is left for a larger when that is more than ``leave`` of it.
    start : float or None
        Share at which a size is taken when there was none before; None: ``leave``.
    """

    sizes: tuple[float, ...]
    enter: float
    leave: float
    start: float | None = None

    def next(self, present: float | None, needed: float | None) -> float:
        """Give the size to use, from the one in use (None at the start) and what must be shown.

        Where nothing is known of what must be shown, the size stays, or is the largest.
        """
        if needed is None or not math.isfinite(needed):
            return self.sizes[-1] if present is None else present
        share = (self.start or self.leave) if present is None else self.enter
        wanted = next((s for s in self.sizes if needed <= s * share), self.sizes[-1])
        if present is None or wanted < present or needed > present * self.leave:
            return wanted
        return present
