"""Whether a whole pass of one source could raise a warning against its data: asked of arrays.

The data checks (:mod:`console.tracking.checks`) follow samples one by one. Most passes never give
them cause, and finding that out over a whole pass at once costs little. What is answered here is
one-sided: "no" is certain, "maybe" (also wherever a figure comes near) sends the pass to the
checks themselves. Advisories are not asked for: they change no estimate.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from console.envelope.setup import LinearSigma, SourceNoise
from console.tracking.checks import RATE_SIGMAS, SHORT_WINDOWS_S, STEP_SIGMAS
from console.tracking.frozen import ALL_REPEATS_SLOW, RANGE_REPEATS
from console.tracking.noise import SCALE_ERROR, SLOW_NOISE_S
from console.tracking.slope import (
    BLOCK_S,
    BLOCK_SAMPLES,
    BLOCKS_AT_LEAST,
    GAP_INTERVALS,
    GAP_S,
    MEDIAN,
    MEDIAN_LOSS,
    MIDDLE,
    RATE_LEAP_MPS,
    STEP_NEW,
    STEP_OLD,
)

Floats: TypeAlias = NDArray[np.float64]
Integers: TypeAlias = NDArray[np.intp]

NEAR = 0.98
"""A figure this share of what would raise counts as near."""
FASTEST_HZ = 11.0
SLOWEST_HZ = GAP_INTERVALS / GAP_S
"""Between these rates a block is always five samples, and a gap 2.5 s."""
ALWAYS_SENT = [0, 1, 2, 3, 6, 7, 8]
"""Columns of a sample's values that no source may leave out."""


@dataclass(frozen=True, slots=True)
class SourceHistory:
    """A source's samples of one pass, and what had been learned of its noise at each.

    Attributes
    ----------
    t : ndarray, shape (n,)
        Increasing.
    values : ndarray, shape (n, 12)
        As measured.
    interval_s : ndarray, shape (n,)
    factor : ndarray, shape (n, 4)
        Of range, range rate, lateral, lateral rate.
    declared : SourceNoise
        What the setup says of it.
    sends_lateral_rates : bool
    """

    t: Floats
    values: Floats
    interval_s: Floats
    factor: Floats
    declared: SourceNoise
    sends_lateral_rates: bool


def may_warn(one: SourceHistory) -> bool:
    """Tell whether a check might raise a warning anywhere; False is certain.

    Notes
    -----
    The formulas are those of :mod:`console.tracking.frozen`, :mod:`~console.tracking.slope` and
    :mod:`~console.tracking.checks`, where their sources stand, asked of all samples at once.
    """
    rate_hz = 1.0 / float(np.median(np.diff(one.t)))
    is_usual = SLOWEST_HZ <= rate_hz <= FASTEST_HZ
    if not is_usual or bool((GAP_INTERVALS * one.interval_s > GAP_S).any()):
        return True
    if _may_freeze(one.values):
        return True
    noise = one.declared
    position, rate = _variance(one, noise.range_m, 0), _variance(one, noise.range_rate_mps, 1)
    bias = noise.range_rate_bias_mps * one.factor[:, 1]
    if _may_step(one, 0, 3, position, rate, bias, slopes=True):
        return True
    if not one.sends_lateral_rates:
        return False
    position, rate = _variance(one, noise.lateral_m, 2), _variance(one, noise.lateral_rate_mps, 3)
    bias = noise.lateral_rate_bias_mps * one.factor[:, 3]
    return any(
        _may_step(one, place, place + 3, position, rate, bias, slopes=False) for place in (1, 2)
    )


def _variance(one: SourceHistory, declared: LinearSigma, channel: int) -> Floats:
    distance = np.abs(one.values[:, 0])
    sigma: Floats = (declared.at_zero + declared.per_m * distance) * one.factor[:, channel]
    return sigma * sigma


def _may_freeze(values: Floats) -> bool:
    """Tell whether range repeats nearly as often as is allowed, or whole samples do.

    The least runs :meth:`console.tracking.frozen.FrozenCheck.take` allows (success runs: its
    source stands there), whatever share of repeats it has learned.
    """
    same = values[1:] == values[:-1]
    whole = same[:, ALWAYS_SENT].all(axis=1)
    return (
        _longest_run(same[:, 0]) >= RANGE_REPEATS - 1
        or _longest_run(whole) >= ALL_REPEATS_SLOW - 1
    )


def _longest_run(flags: NDArray[np.bool_]) -> int:
    ends = np.flatnonzero(np.diff(np.concatenate(([0], flags.view(np.int8), [0]))))
    return int((ends[1::2] - ends[::2]).max(initial=0))


def _may_step(
    one: SourceHistory,
    place: int,
    rate_place: int,
    position: Floats,
    rate: Floats,
    bias: Floats,
    *,
    slopes: bool,
) -> bool:
    """Ask every block of a position channel and its rate, segment by segment."""
    breaks = np.flatnonzero(np.diff(one.t) > GAP_S) + 1
    for segment in np.split(np.arange(len(one.t)), breaks):
        if len(segment) < MEDIAN + BLOCK_SAMPLES:
            continue
        rates = _running_median(one.values[segment, rate_place])
        if (np.abs(np.diff(rates)) > RATE_LEAP_MPS).any():
            return True
        blocks = _blocks(one.t[segment], one.values[segment, place], rates)
        asked = segment[blocks.newest]
        figures = _Figures(
            position[asked], rate[asked], bias[asked], one.interval_s[asked],
            one.values[asked, rate_place],
        )  # fmt: skip
        if _steps(blocks, figures) or (slopes and _slopes(blocks, figures)):
            return True
    return False


@dataclass(frozen=True, slots=True)
class _Blocks:
    """Smoothed blocks of e with their times, and the newest sample when each was finished."""

    t: Floats
    e: Floats
    newest: Integers


@dataclass(frozen=True, slots=True)
class _Figures:
    """What the checks are asked with, at each block."""

    position: Floats
    rate: Floats
    bias: Floats
    interval_s: Floats
    speed: Floats

    def at(self, rows: slice) -> _Figures:
        return _Figures(
            self.position[rows], self.rate[rows], self.bias[rows], self.interval_s[rows],
            self.speed[rows],
        )  # fmt: skip


def _running_median(rates: Floats) -> Floats:
    middle: Floats = np.sort(sliding_window_view(rates, MEDIAN), axis=1)[:, MIDDLE]
    return middle


def _blocks(t: Floats, position: Floats, rates: Floats) -> _Blocks:
    """Make the blocks of :class:`console.tracking.slope.SlopeCheck`, all at once.

    ``rates`` are running medians already; their integral is by trapezoids (Abramowitz and Stegun,
    25.4.1; from memory).
    """
    at = t[MIDDLE : len(t) - MIDDLE]
    steps = 0.5 * (rates[:-1] + rates[1:]) * np.diff(at)
    e = position[MIDDLE : len(t) - MIDDLE] - np.concatenate(([0.0], np.cumsum(steps)))
    count = len(e) // BLOCK_SAMPLES
    grouped = e[: count * BLOCK_SAMPLES].reshape(count, BLOCK_SAMPLES)
    raw = np.sort(grouped, axis=1)[:, BLOCK_SAMPLES // 2]
    opened, closed = (
        at[: count * BLOCK_SAMPLES : BLOCK_SAMPLES],
        at[BLOCK_SAMPLES - 1 :: BLOCK_SAMPLES],
    )
    raw_t = 0.5 * (opened + closed[:count])
    if count < 3:
        return _Blocks(raw_t[:0], raw[:0], np.zeros(0, dtype=np.intp))
    smooth = np.sort(sliding_window_view(raw, 3), axis=1)[:, 1]
    newest = np.arange(3, count + 1) * BLOCK_SAMPLES - 1 + 2 * MIDDLE
    return _Blocks(raw_t[1:-1], smooth, newest)


def _steps(blocks: _Blocks, figures: _Figures) -> bool:
    """Ask as :meth:`console.tracking.slope.SlopeCheck.step`, which names its variance's source."""
    width = STEP_NEW + STEP_OLD
    if len(blocks.e) < width:
        return False
    e, t = sliding_window_view(blocks.e, width), sliding_window_view(blocks.t, width)
    value = np.median(e[:, STEP_OLD:], axis=1) - np.median(e[:, :STEP_OLD], axis=1)
    apart = t[:, STEP_OLD + 1] - 0.5 * (t[:, STEP_OLD // 2 - 1] + t[:, STEP_OLD // 2])
    at = figures.at(slice(width - 1, None))
    samples = STEP_NEW * np.maximum(BLOCK_SAMPLES, BLOCK_S / at.interval_s)
    variance = (
        at.position * (0.5 + MEDIAN_LOSS / samples)
        + at.rate * (at.interval_s + SLOW_NOISE_S) * apart
        + (at.bias * apart) ** 2
    )
    return bool((np.abs(value) > NEAR * STEP_SIGMAS * np.sqrt(variance)).any())


def _slopes(blocks: _Blocks, figures: _Figures) -> bool:
    """Ask as :meth:`console.tracking.slope.SlopeCheck.slope`, over the short windows.

    Its sums over a window are differences of running sums; the sources of slope and variance
    stand there.
    """
    if len(blocks.e) < BLOCKS_AT_LEAST:
        return False
    t, e = blocks.t - blocks.t[0], blocks.e - blocks.e[0]
    sums = [np.concatenate(([0.0], np.cumsum(x))) for x in (t, e, t * t, t * e)]
    last = np.arange(BLOCKS_AT_LEAST - 1, len(t))
    at = figures.at(slice(BLOCKS_AT_LEAST - 1, None))
    for window_s in SHORT_WINDOWS_S:
        start = np.minimum(t[last] - window_s, t[last - (BLOCKS_AT_LEAST - 1)])
        first = np.searchsorted(t, start - 1e-9, side="left")
        n = last - first + 1
        st, se, stt, ste = (x[last + 1] - x[first] for x in sums)
        span = t[last] - t[first]
        asked = span >= min(0.5 * window_s, 10.0) - 1e-6
        span = np.where(asked, span, 1.0)
        value = (n * ste - st * se) / (n * stt - st * st)
        slow = at.interval_s + SLOW_NOISE_S
        variance = (
            12.0 * at.position * slow / span**3
            + 1.2 * at.rate * slow / span
            + at.bias**2
            + (SCALE_ERROR * at.speed) ** 2
        )
        if (asked & (np.abs(value) > NEAR * RATE_SIGMAS * np.sqrt(variance))).any():
            return True
    return False
