"""The judge of single samples: every limit of a limits file, as the samples come.

It is fed valid samples of the source in use, in time order, up to contact; choosing the source
and finding contact are not its business. Live, replay and scoring all run this one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from enum import StrEnum

import msgspec

from console.envelope.limits import Limit, LimitsFile
from console.envelope.quantity import Quantity
from console.judging.exceedance import LifeChange
from console.judging.reading import Reading
from console.judging.trend import BIN_S
from console.judging.watch import LimitWatch


class Side(StrEnum):
    """Where a value lies against its limit; unknown is an answer of its own."""

    INSIDE = "inside"
    BEYOND = "beyond"
    NOT_APPLIED = "not applied"
    """The range lies outside the limit's curve."""
    UNKNOWN = "unknown"


# Asked for at every limit of every snapshot: a member costs more on its class than under a name.
_INSIDE, _BEYOND = Side.INSIDE, Side.BEYOND
_NOT_APPLIED, _UNKNOWN = Side.NOT_APPLIED, Side.UNKNOWN


class LimitStatus(msgspec.Struct, frozen=True, gc=False):
    """One limit at one reading, for the snapshot.

    Attributes
    ----------
    value, limit_here : float or None
        None where unknown, and where the curve does not reach.
    margin : float or None
        Distance to the limit in the quantity's unit, positive inside.
    standing : bool
        Whether its exceedance stands.
    violates_in_s : float or None
        Seconds until the limit is reached at the trend of the last five seconds.
    """

    limit: Limit
    value: float | None
    limit_here: float | None
    margin: float | None
    side: Side
    standing: bool
    violates_in_s: float | None


class Judge:
    """Judge a watch against a limits file.

    Parameters
    ----------
    limits : LimitsFile
        What is judged, in the order of the file.

    Attributes
    ----------
    newest_t : float
        Time of the newest judged sample; minus infinity before the first.
    """

    __slots__ = ("_bin_count", "_bin_start", "_bin_sum", "_is_stopped", "_watches", "newest_t")

    def __init__(self, limits: LimitsFile) -> None:
        stale_after_s = limits.data.stale_after_s
        self._watches = tuple(LimitWatch(limit, stale_after_s) for limit in limits.limits)
        self._is_stopped = False
        self.newest_t = -math.inf
        self._bin_start = -math.inf
        self._bin_sum = 0.0
        self._bin_count = 0

    def feed(self, reading: Reading) -> list[LifeChange]:
        """Judge a sample against every limit.

        A reading at range 0 or below, one older than the newest judged, and any after
        :meth:`stop` is not judged. A limit whose value or range is unknown passes over it as if
        the sample were not valid.

        Returns
        -------
        list of LifeChange
            What was raised or cleared by this sample, in the order of the limits file.
        """
        t = reading.t
        if self._is_stopped or not reading.range_m > 0.0 or t < self.newest_t:
            return []
        self.newest_t = t
        self._count_in_bin(t)
        measured, estimated = reading.measured, reading.estimated
        range_m, range_est_m = reading.range_m, reading.range_est_m
        changes: list[LifeChange] = []
        isnan = math.isnan
        for watch in self._watches:
            if watch.estimated:
                value, at_m = estimated.get(watch.quantity), range_est_m
            else:
                value, at_m = measured.get(watch.quantity), range_m
            if value is None or at_m is None or isnan(value + at_m):
                continue
            change = watch.judge(t, value, at_m)
            if change is not None:
                changes.append(change)
        return changes

    def _count_in_bin(self, t: float) -> None:
        """Close the trends' half-second bin when it is full; all limits share its time."""
        elapsed = t - self._bin_start
        if elapsed >= BIN_S:
            if self._bin_count:
                mean_t = self._bin_start + self._bin_sum / self._bin_count
                for watch in self._watches:
                    watch.close_bin(mean_t)
            self._bin_start = t
            self._bin_sum = elapsed = 0.0
            self._bin_count = 0
        self._bin_sum += elapsed
        self._bin_count += 1

    def restart_timers(self) -> None:
        """Begin every pending raise and clear afresh: another source came into use."""
        for watch in self._watches:
            watch.restart_timers()

    def stop(self) -> None:
        """Judge nothing from here on: contact was made. What stands goes on standing."""
        self._is_stopped = True

    def statuses(self, reading: Reading) -> tuple[LimitStatus, ...]:
        """Say of every limit how a reading stands to it; changes nothing.

        The reading may be coasted: it need not have been fed.
        """
        return tuple([_status(watch, reading) for watch in self._watches])


def _status(watch: LimitWatch, reading: Reading) -> LimitStatus:
    limit, standing = watch.limit, watch.standing is not None
    values: Mapping[Quantity, float | None]
    if watch.estimated:
        values, at_m = reading.estimated, reading.range_est_m
    else:
        values, at_m = reading.measured, reading.range_m
    value = values.get(watch.quantity)
    if value is None or at_m is None or math.isnan(value + at_m):
        return LimitStatus(limit, None, None, None, _UNKNOWN, standing, None)
    limit_here = watch.limit_at(at_m)
    if limit_here is None:
        return LimitStatus(limit, value, None, None, _NOT_APPLIED, standing, None)
    margin = limit_here - value if watch.is_upper else value - limit_here
    if margin < 0.0:
        return LimitStatus(limit, value, limit_here, margin, _BEYOND, standing, None)
    seconds = watch.trend.seconds_left(reading.t)
    return LimitStatus(limit, value, limit_here, margin, _INSIDE, standing, seconds)
