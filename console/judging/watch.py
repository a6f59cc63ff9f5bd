"""One limit being judged, sample after sample: its timers, and what stands.

The rules, with value x and limit L at the sample's own range (mirrored for ``allow = "above"``):

- *violating* is x > L, *clearing* x <= L - deadband, anything between is neither. A sample whose
  range lies outside the curve is clearing.
- *Raise* when the sample violates, every judged sample since the first violating one did, and
  that first one - the onset - is ``on_delay_s`` back.
- *Clear* when every judged sample since some sample has been clearing, and that one is
  ``off_delay_s`` back.
- A step between judged samples longer than ``stale_after_s`` restarts both timers; what stands
  goes on standing.
- The *peak* is the value, from onset until cleared, that exceeded its own limit most; the
  earliest of equals.
"""

from __future__ import annotations

import math

from console.envelope.limits import Allow, Basis, Limit, Segment, interpolate
from console.judging.exceedance import Exceedance, LifeChange
from console.judging.threshold import has_lasted, is_clearing, is_longer, is_violating
from console.judging.trend import Trend

_NOWHERE = Segment(math.inf, -math.inf, 0.0, 0.0, 1.0)
"""A piece no range lies on, to begin with."""


class LimitWatch:
    """Judge one limit.

    Parameters
    ----------
    limit : Limit
        What is judged.
    stale_after_s : float
        The longest step between judged samples that timers survive.

    Attributes
    ----------
    standing : Exceedance or None
        What stands now.
    trend : Trend
        The margin of the last seconds.
    """

    __slots__ = (
        "_clearing_since",
        "_excess",
        "_margin_count",
        "_margin_sum",
        "_newest_t",
        "_onset",
        "_peak",
        "_piece",
        "_raisings",
        "_sign",
        "_stale_after_s",
        "estimated",
        "is_upper",
        "limit",
        "quantity",
        "standing",
        "trend",
    )

    def __init__(self, limit: Limit, stale_after_s: float) -> None:
        self.limit = limit
        self.quantity = limit.quantity
        self.estimated = limit.basis is Basis.ESTIMATED
        self.standing: Exceedance | None = None
        self.trend = Trend(limit.deadband / 2.0)
        self._stale_after_s = stale_after_s
        self.is_upper = limit.allow is Allow.BELOW
        self._sign = 1.0 if self.is_upper else -1.0
        self._raisings = 0
        self._newest_t: float | None = None
        self._onset: float | None = None
        self._clearing_since: float | None = None
        self._excess = 0.0
        self._peak = (0.0, 0.0, 0.0)
        self._piece = _NOWHERE
        self._margin_sum = 0.0
        self._margin_count = 0

    def limit_at(self, range_m: float) -> float | None:
        """Give the limit at a range, or None outside its curve; changes nothing."""
        r0, r1, low, rise, span = self._piece
        if r0 <= range_m < r1:
            return interpolate(low, rise, r0, span, range_m)
        return self.limit.curve.at(range_m)

    def restart_timers(self) -> None:
        """Begin a pending raise or clear afresh at the next sample; what stands goes on."""
        self._newest_t = None
        self._onset = None
        self._clearing_since = None
        self._margin_sum, self._margin_count = 0.0, 0
        self.trend.clear()

    def close_bin(self, t: float) -> None:
        """Hand the mean margin since the last call to the trend, as that of time ``t``."""
        if self._margin_count:
            self.trend.add(t, self._margin_sum / self._margin_count)
        self._margin_sum, self._margin_count = 0.0, 0

    def judge(self, t: float, value: float, range_m: float) -> LifeChange | None:
        """Judge a known value at a range; both numbers, times never falling.

        Returns
        -------
        LifeChange or None
            An exceedance raised or cleared by this very sample.
        """
        newest_t = self._newest_t
        if newest_t is not None and is_longer(t - newest_t, self._stale_after_s):
            self.restart_timers()
        self._newest_t = t
        r0, r1, low, rise, span = self._piece
        if not r0 <= range_m < r1:
            found = self.limit.curve.segment(range_m)
            if found is None:
                self._onset = None
                return self._count_clearing(t, value, None) if self.standing else None
            r0, r1, low, rise, span = self._piece = found
        limit_here = interpolate(low, rise, r0, span, range_m)
        sign = self._sign
        x, edge = sign * value, sign * limit_here
        self._margin_sum += edge - x
        self._margin_count += 1
        if is_violating(x, edge):
            return self._count_violating(t, value, limit_here, x - edge)
        self._onset = None
        if self.standing is None:
            return None
        if is_clearing(x, edge, self.limit.deadband):
            return self._count_clearing(t, value, limit_here)
        self._clearing_since = None
        self.standing.value, self.standing.limit = value, limit_here
        return None

    def _count_violating(
        self, t: float, value: float, limit_here: float, excess: float
    ) -> LifeChange | None:
        self._clearing_since = None
        standing = self.standing
        if standing is not None:
            standing.value, standing.limit = value, limit_here
            if excess > self._excess:
                self._excess = excess
                standing.peak, standing.peak_limit, standing.peak_t = value, limit_here, t
            return None
        if self._onset is None:
            self._onset = t
            self._excess = excess
            self._peak = (value, limit_here, t)
        elif excess > self._excess:
            self._excess = excess
            self._peak = (value, limit_here, t)
        if not has_lasted(t - self._onset, self.limit.on_delay_s):
            return None
        return LifeChange(True, self._raise(t, self._onset, value, limit_here))

    def _raise(self, t: float, onset: float, value: float, limit_here: float) -> Exceedance:
        limit = self.limit
        self._raisings += 1
        peak, peak_limit, peak_t = self._peak
        self.standing = Exceedance(
            key=f"{limit.id}#{self._raisings}",
            id=limit.id,
            level=limit.level,
            onset=onset,
            raised=t,
            quantity=limit.quantity,
            action=limit.action,
            value=value,
            limit=limit_here,
            peak=peak,
            peak_limit=peak_limit,
            peak_t=peak_t,
        )
        return self.standing

    def _count_clearing(
        self, t: float, value: float, limit_here: float | None
    ) -> LifeChange | None:
        standing = self.standing
        if standing is None:
            return None
        standing.value, standing.limit = value, limit_here
        if self._clearing_since is None:
            self._clearing_since = t
        if not has_lasted(t - self._clearing_since, self.limit.off_delay_s):
            return None
        self.standing = None
        standing.cleared = t
        return LifeChange(False, standing)
