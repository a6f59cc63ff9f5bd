"""Two cross-checks that are judged like any quantity: between sources, and of rate against range.

Both need what was measured before, so they keep it: every valid sample of every source, in the
order taken. What is kept is bounded by time and by number.
"""

from __future__ import annotations

import math
from bisect import bisect_right, insort
from collections.abc import Iterable
from operator import itemgetter
from typing import TypeAlias

from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.judging.slope import SlopeWindow
from console.judging.threshold import is_longer

RECENT = 4096
"""Samples of a source among which one not newer than another source's is looked for."""

Moment: TypeAlias = tuple[float, float, float]
"""Time, range and range rate of a valid sample."""

_time = itemgetter(0)


class Moments(list[Moment]):
    """The newest moments of a source, in order of time: by far the longest memory of a watch.

    Whoever keeps many states of one watch need not keep these rows with each: by ``dropped`` and
    ``reordered`` it can tell which of them it has already.

    Attributes
    ----------
    dropped : int
        Oldest moments given up so far.
    reordered : int
        How often one came late and was put between others.
    """

    __slots__ = ("dropped", "reordered")

    def __init__(self, moments: Iterable[Moment] = ()) -> None:
        super().__init__(moments)
        self.dropped = 0
        self.reordered = 0

    def take(self, moment: Moment) -> None:
        """Add a moment at its place in time."""
        if self and moment[0] < self[-1][0]:
            insort(self, moment, key=_time)
            self.reordered += 1
        else:
            self.append(moment)
        if len(self) >= 2 * RECENT:
            del self[:RECENT]
            self.dropped += RECENT


class _Trail:
    """What is remembered of one source."""

    __slots__ = ("recent", "slope")

    def __init__(self) -> None:
        self.recent = Moments()
        self.slope = SlopeWindow()


class Gaps:
    """What the two gap quantities need to remember.

    Parameters
    ----------
    stale_after_s : float
        Age at which another source's sample no longer counts.
    """

    __slots__ = ("_stale_after_s", "_trails")

    def __init__(self, stale_after_s: float) -> None:
        self._stale_after_s = stale_after_s
        self._trails: dict[SourceId, _Trail] = {}

    def take(self, sample: RelativeSample) -> None:
        """Remember a sample, of any source; one that is not valid counts for nothing."""
        if not sample.valid:
            return
        trail = self._trails.get(sample.source)
        if trail is None:
            trail = self._trails[sample.source] = _Trail()
        t, range_m = sample.t, sample.range_m
        trail.slope.add(t, range_m)
        trail.recent.take((t, range_m, sample.range_rate_mps))

    def source_gap_m(self, sample: RelativeSample) -> float | None:
        """Give the size of the range difference against the other source.

        Of each other source the newest valid sample not newer than this one is looked at, of
        several sources the newest; it is moved to this sample's time by its own range rate.

        Returns
        -------
        float or None
            Metres, never negative; None if that sample is stale, or there is none.
        """
        t = sample.t
        newest: Moment | None = None
        for source, trail in self._trails.items():
            if source == sample.source:
                continue
            recent = trail.recent
            at = len(recent) if recent[-1][0] <= t else bisect_right(recent, (t, math.inf))
            if at and (newest is None or recent[at - 1][0] > newest[0]):
                newest = recent[at - 1]
        if newest is None or is_longer(t - newest[0], self._stale_after_s):
            return None
        t_other, range_m, rate_mps = newest
        return abs(sample.range_m - (range_m + rate_mps * (t - t_other)))

    def range_rate_gap_mps(self, sample: RelativeSample) -> float | None:
        """Give the size of the difference between range rate and slope of range.

        The slope is that of a straight line by least squares through this source's valid samples
        of the last 10 s, this one included.

        Returns
        -------
        float or None
            m/s, never negative; None under 20 samples or 5 s.
        """
        trail = self._trails.get(sample.source)
        slope = trail.slope.slope_mps() if trail else None
        return None if slope is None else abs(sample.range_rate_mps - slope)
