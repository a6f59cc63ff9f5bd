"""The judging desk: measures samples, feeds the judge, and answers the snapshot."""

from __future__ import annotations

import math

from console.approach.contact import MeasuredSample
from console.approach.event import AnyEvent, ExceedanceCleared, ExceedanceRaised
from console.approach.snapshot import LimitNow, Verdict
from console.approach.words import exceedance_words
from console.core.records import RelativeSample
from console.envelope.limits import Level, LimitsFile
from console.envelope.quantity import Quantity
from console.judging.exceedance import Exceedance
from console.judging.gap import Gaps
from console.judging.judge import Judge, LimitStatus, Side
from console.judging.reading import Reading, estimated_values, measured_values
from console.judging.register import Register
from console.tracking.outlook import Estimate

# Asked for at every limit of every snapshot: a member costs more on its class than under a name.
_UNKNOWN, _CAUTION, _OUTSIDE = Verdict.UNKNOWN, Verdict.CAUTION, Verdict.OUTSIDE
_WARNING = Level.WARNING
_VERDICT = {
    Side.UNKNOWN: _UNKNOWN,
    Side.BEYOND: _CAUTION,
    Side.INSIDE: Verdict.INSIDE,
    Side.NOT_APPLIED: Verdict.INSIDE,
}
"""What a side means; beyond a warning's limit is outside."""


class JudgingDesk:
    """Everything between an accepted sample and what stands.

    Parameters
    ----------
    limits : LimitsFile
        Judged against.
    register : Register
        Told of every raising and clearing.
    """

    def __init__(self, limits: LimitsFile, register: Register) -> None:
        self._register = register
        self._judge = Judge(limits)
        self._gaps = Gaps(limits.data.stale_after_s)
        self._newest: MeasuredSample | None = None
        self._reading: Reading | None = None
        self._shown: tuple[bool, tuple[LimitNow, ...]] | None = None
        """The limits as last shown, and whether stale; None once something has changed."""

    def note(self, sample: RelativeSample) -> None:
        """Remember a sample of any source for the quantities that compare."""
        self._gaps.take(sample)

    def measure(
        self, sample: RelativeSample, fallback: Estimate | None, *, is_newest: bool
    ) -> MeasuredSample:
        """Give a sample of the source in use with its judged quantities."""
        measured = MeasuredSample(sample, measured_values(sample, fallback, self._gaps))
        if is_newest:
            self._newest = measured
        return measured

    def judge(self, measured: MeasuredSample, estimate: Estimate | None) -> list[AnyEvent]:
        """Judge a measured sample; give what was raised and cleared."""
        sample = measured.sample
        self._shown = None
        self._reading = Reading(
            sample.t,
            sample.range_m,
            None if estimate is None else estimate.range_m,
            measured.values,
            estimated_values(estimate),
        )
        events: list[AnyEvent] = []
        for change in self._judge.feed(self._reading):
            exceedance = change.exceedance
            exceedance.words = _words(exceedance)
            self._register.take(change)
            events.append(_raised(exceedance) if change.raised else _cleared(exceedance))
        return events

    def change_source(self) -> None:
        """Restart the timers: another source came into use."""
        self._judge.restart_timers()
        self._shown = None

    def forget_time(self) -> None:
        """Take the next sample as in order, whatever its time: its source has another clock."""
        self._judge.newest_t = -math.inf

    def stop(self) -> None:
        """Judge nothing from here on: contact."""
        self._judge.stop()

    def values(self) -> dict[Quantity, float | None]:
        """Give the quantities measured at the newest sample of the source in use."""
        return {} if self._newest is None else self._newest.values

    def limits_now(self, is_stale: bool) -> tuple[LimitNow, ...]:
        """Give every limit as it stands; stale data makes each verdict unknown."""
        if self._reading is None:
            return ()
        shown = self._shown
        if shown is None or shown[0] is not is_stale:
            statuses = self._judge.statuses(self._reading)
            shown = self._shown = is_stale, tuple([_limit_now(s, is_stale) for s in statuses])
        return shown[1]


def _limit_now(status: LimitStatus, is_stale: bool) -> LimitNow:
    limit, verdict = status.limit, _UNKNOWN if is_stale else _VERDICT[status.side]
    if verdict is _CAUTION and limit.level is _WARNING:
        verdict = _OUTSIDE
    # Positional: a score of them are made for each snapshot.
    return LimitNow(
        limit.id, limit.quantity, limit.basis, limit.level, limit.allow, status.value,
        status.limit_here, status.margin, verdict, status.standing,
        None if is_stale else status.violates_in_s, limit.action,
    )  # fmt: skip


def _words(exceedance: Exceedance) -> str:
    """Word an exceedance of a limit by its peak so far."""
    quantity, peak, limit = exceedance.quantity, exceedance.peak, exceedance.peak_limit
    if quantity is None or peak is None or limit is None:
        return exceedance.words
    return exceedance_words(quantity, peak, limit)


def _raised(exceedance: Exceedance) -> ExceedanceRaised:
    return ExceedanceRaised(
        t=exceedance.raised, key=exceedance.key, id=exceedance.id, level=exceedance.level.word,
        onset=exceedance.onset, source=None, value=exceedance.value, limit=exceedance.limit,
        words=exceedance.words, shelved=not exceedance.waits,
    )  # fmt: skip


def _cleared(exceedance: Exceedance) -> ExceedanceCleared:
    assert exceedance.cleared is not None
    return ExceedanceCleared(
        t=exceedance.cleared, key=exceedance.key, id=exceedance.id, level=exceedance.level.word,
        onset=exceedance.onset, raised=exceedance.raised, source=None, peak=exceedance.peak,
        peak_limit=exceedance.peak_limit, peak_t=exceedance.peak_t, words=exceedance.words,
    )  # fmt: skip
