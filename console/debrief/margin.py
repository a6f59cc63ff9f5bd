"""The margin to every limit over a pass: the least, where and when, and the least at each range.

What counts is a margin that held for the limit's own on-delay: the greatest margin among all
judged samples of that time. A single outlier therefore counts for as little here as it does in
judging, and the least margin of a limit is below 0 where an exceedance of it was raised. A change
of source begins the delays afresh, as it does in judging.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

from console.approach.snapshot import LimitNow
from console.envelope.limits import Limit, LimitsFile
from console.judging.threshold import has_lasted, is_longer

BINS_A_ROOT_METRE = 12.0
"""Ranges are grouped evenly on the square-root axis: a metre wide at 36 m, 17 cm at 1 m."""


@dataclass(frozen=True, slots=True)
class Margin:
    """The margin to a limit at one judged sample.

    Attributes
    ----------
    t, range_m : float
        When and where, UTC s and measured range.
    value, limit, margin : float
        In the quantity's unit; the margin is positive inside.
    share : float
        The margin as a share of the limit's size: 0 at the limit, negative beyond it; infinite
        of either sign where the limit is 0.
    """

    t: float
    range_m: float
    value: float
    limit: float
    margin: float
    share: float


@dataclass(frozen=True, slots=True)
class LimitMargin:
    """The margin to one limit over a pass.

    Attributes
    ----------
    least : Margin or None
        The least that held for the on-delay; None where the limit was never applied so long, or
        its value never known.
    over_range : tuple of (float, float)
        Range, m, and the least share that held near it, outermost first.
    """

    limit: Limit
    least: Margin | None
    over_range: tuple[tuple[float, float], ...]


class _Held:
    """The margin of one limit that has held for its on-delay, sample by sample."""

    def __init__(self, limit: Limit, stale_after_s: float) -> None:
        self._on_delay_s = limit.on_delay_s
        self._stale_after_s = stale_after_s
        self._window: deque[Margin] = deque()

    def take(self, newest: Margin) -> Margin | None:
        """Take a judged sample's margin; give the one that held, None before the delay is over."""
        window = self._window
        if window and is_longer(newest.t - window[-1].t, self._stale_after_s):
            window.clear()
        window.append(newest)
        while len(window) > 1 and has_lasted(newest.t - window[1].t, self._on_delay_s):
            window.popleft()
        if not has_lasted(newest.t - window[0].t, self._on_delay_s):
            return None
        return max(window, key=lambda margin: margin.share)

    def restart(self) -> None:
        """Begin afresh: the limit did not apply, or another source came into use."""
        self._window.clear()


class MarginBook:
    """Keeps the least margins of a pass; its size depends on the ranges met, not on the time.

    Parameters
    ----------
    limits : LimitsFile
        Judged against.
    """

    def __init__(self, limits: LimitsFile) -> None:
        self._limits = limits
        stale_after_s = limits.data.stale_after_s
        self._held: dict[str, _Held] = {
            limit.id: _Held(limit, stale_after_s) for limit in limits.limits
        }
        self._least: dict[str, Margin] = {}
        self._bins: dict[str, dict[int, Margin]] = {limit.id: {} for limit in limits.limits}

    def take(self, t: float, range_m: float, limits: tuple[LimitNow, ...]) -> None:
        """Take the limits as they stood at a judged sample."""
        place = math.floor(math.sqrt(max(range_m, 0.0)) * BINS_A_ROOT_METRE)
        for now in limits:
            if now.limit is None:
                self._held[now.id].restart()
            elif now.margin is not None and now.value is not None:
                share = _share(now.margin, now.limit)
                newest = Margin(t, range_m, now.value, now.limit, now.margin, share)
                held = self._held[now.id].take(newest)
                if held is not None:
                    self._keep(now.id, place, held)

    def change_source(self) -> None:
        """Let no margin hold over from the source used so far to the one used from now on."""
        for held in self._held.values():
            held.restart()

    def _keep(self, id_: str, place: int, held: Margin) -> None:
        least, here = self._least.get(id_), self._bins[id_].get(place)
        if least is None or held.share < least.share:
            self._least[id_] = held
        if here is None or held.share < here.share:
            self._bins[id_][place] = held

    def margins(self) -> tuple[LimitMargin, ...]:
        """Give every limit's margin: the least share first, those never applied last."""
        found = [
            LimitMargin(limit, self._least.get(limit.id), self._over_range(limit.id))
            for limit in self._limits.limits
        ]
        found.sort(key=lambda one: math.inf if one.least is None else one.least.share)
        return tuple(found)

    def _over_range(self, id_: str) -> tuple[tuple[float, float], ...]:
        met = [(margin.range_m, margin.share) for margin in self._bins[id_].values()]
        return tuple(sorted(met, reverse=True))


def _share(margin: float, limit: float) -> float:
    if limit == 0.0:
        return math.copysign(math.inf, margin)
    return margin / abs(limit)
