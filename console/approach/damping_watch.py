"""Damping of the relative motion after soft capture: both sizes, one verdict.

A fit takes milliseconds, so at most one size is fitted at a status, and each at most once a
second of the statuses' own time.
"""

from __future__ import annotations

from dataclasses import replace

from console.approach.capture_now import DampingNow, DampingVerdict, Span
from console.approach.capture_words import damping_words
from console.approach.damping_record import DampingRecord
from console.core.records import CaptureStatus

DAMPED_MPS = 0.002
DAMPED_DPS = 0.02
"""Relative motion below both counts as settled (project decision)."""
WORST = (
    DampingVerdict.NOT_SETTLING,
    DampingVerdict.UNDECIDED,
    DampingVerdict.SETTLING,
    DampingVerdict.SETTLED,
)
AGREE = 2
"""A verdict other than settled must be found so many times on end before it is told."""


class DampingWatch:
    """Follows relative motion from soft capture until the ring is drawn in."""

    def __init__(self) -> None:
        self.verdict: DampingVerdict | None = None
        """What was told last; None before any reading."""
        self.is_over = False
        self._begin()

    def _begin(self) -> None:
        self._records = (DampingRecord("m/s", DAMPED_MPS), DampingRecord("deg/s", DAMPED_DPS))
        self._turn = 0
        self._found: list[DampingVerdict] = []
        self._reason = ""

    @property
    def is_settled(self) -> bool:
        """Whether the motion has settled."""
        return self.verdict is DampingVerdict.SETTLED

    def take(self, status: CaptureStatus, *, is_captured: bool, is_retracting: bool) -> bool:
        """Take a status; tell whether the verdict has become another."""
        if not is_captured:
            self.reset()
            return False
        if self.is_over or is_retracting:
            self.is_over = True
            return False
        sizes = (status.rel_rate_mps, status.rel_rate_dps)
        for record, size in zip(self._records, sizes, strict=True):
            if size is not None:
                record.take(status.t, size)
        self._refit_one()
        heard = self._heard()
        for record in heard:
            record.judge()
        has_changed = bool(heard) and self._note(_worst(heard))
        for record in heard:
            if record.verdict is self.verdict:
                self._reason = record.reason
                break
        return has_changed

    def set_back(self) -> None:
        """Begin the record anew, the clock having been set back; what has settled stays so."""
        if not self.is_over and not self.is_settled and self._heard():
            self.verdict = None
            self._begin()

    def reset(self) -> None:
        """Forget everything: the vehicles have parted, or are not yet captured."""
        self.verdict = None
        self.is_over = False
        if self._heard():
            self._begin()

    def _heard(self) -> list[DampingRecord]:
        return [record for record in self._records if not record.is_empty]

    def _refit_one(self) -> None:
        for step in range(len(self._records)):
            turn = (self._turn + step) % len(self._records)
            if self._records[turn].is_due:
                self._records[turn].refit()
                self._turn = turn + 1
                return

    def _note(self, verdict: DampingVerdict) -> bool:
        self._found = [*self._found, verdict][-AGREE:]
        agreed = len(self._found) == AGREE and len(set(self._found)) == 1
        if verdict is self.verdict or not (agreed or verdict is DampingVerdict.SETTLED):
            return False
        self.verdict = verdict
        return True

    def picture(self) -> DampingNow | None:
        """Give damping as the snapshot shows it; None before any reading."""
        heard = self._heard()
        if not heard or self.verdict is None:
            return None
        channels = tuple(record.picture() for record in heard)
        # a size that settled without a fit has no such moment and keeps nobody waiting
        timed = [c.t_settles for c in channels if c.t_first or c.verdict is not _SETTLED]
        settles = Span(
            _latest([span.best for span in timed]),
            _latest([span.low for span in timed]),
            _latest([span.high for span in timed]),
        )
        now = DampingNow(self.verdict, self._reason, "", settles, channels, self.is_over)
        return replace(now, words=damping_words(now))


_SETTLED = DampingVerdict.SETTLED


def _worst(records: list[DampingRecord]) -> DampingVerdict:
    return min((record.verdict for record in records), key=WORST.index)


def _latest(moments: list[float | None]) -> float | None:
    """Give the latest moment, None where one is not known."""
    known = [moment for moment in moments if moment is not None]
    return max(known) if known and len(known) == len(moments) else None
