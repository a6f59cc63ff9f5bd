"""Which sources there are, how old their data is, and which one is in use.

Engine time is the receive time of a live link, or the newest measurement time of a table. A
source's own clock may differ from it: the least difference seen over the last minute is taken as
its clock offset, unless it is small and positive, when it is plain delay and counts as age. So a
source whose clock is hours off is still judged by the age of its data since it was received, and
data that comes late is old from the moment it comes.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.core.units import MICROSECOND_S

DELAY_AT_MOST_S = 2.0
"""A steady difference up to this is delay (it ages the data); beyond it the clocks differ."""
OFFSET_WINDOW_S = 30.0
"""The least difference is kept over two windows of this length."""
SETTLE_S = 10.0
"""After an automatic change the choice rests this long, unless the new source goes stale."""
RATE_MEMORY = 0.1
"""Weight of the newest interval in the smoothed sample interval."""


@dataclass(slots=True)
class Source:
    """One source's newest data and its clock."""

    id: SourceId
    newest: RelativeSample
    """Newest valid sample by ``t``."""
    before: RelativeSample | None = None
    """The valid sample before it."""
    before_that: RelativeSample | None = None
    interval_s: float | None = None
    clock_offset_s: float = 0.0
    """Engine clock minus the source's clock, s; 0 where the difference is plain delay."""
    _least_now: float = 0.0
    _least_before: float = 0.0
    _window_start: float = 0.0
    flags: set[str] = field(default_factory=set)
    """Ids of its standing data warnings."""

    def take(self, sample: RelativeSample, engine_s: float) -> None:
        """Note a valid sample that is newer than all before it."""
        step = sample.t - self.newest.t
        if step > 0.0:
            kept = self.interval_s
            self.interval_s = step if kept is None else kept + RATE_MEMORY * (step - kept)
        self.before_that = self.before
        self.before = self.newest
        self.newest = sample
        self._note_offset(engine_s - sample.t, engine_s)

    def start_clock(self, engine_s: float) -> None:
        """Take the first sample's time difference as the least one."""
        difference = engine_s - self.newest.t
        self._least_now = self._least_before = difference
        self._window_start = engine_s
        self._settle_offset()

    def _note_offset(self, difference_s: float, engine_s: float) -> None:
        if engine_s - self._window_start > OFFSET_WINDOW_S:
            self._least_before = self._least_now
            self._least_now = difference_s
            self._window_start = engine_s
        elif difference_s < self._least_now:
            self._least_now = difference_s
        else:
            return
        self._settle_offset()

    def _settle_offset(self) -> None:
        least = min(self._least_now, self._least_before)
        self.clock_offset_s = 0.0 if 0.0 <= least <= DELAY_AT_MOST_S else least

    def shares_clock_with(self, other: Source) -> bool:
        """Tell whether the times of both can be compared: their clocks differ by delay alone."""
        return abs(self.clock_offset_s - other.clock_offset_s) <= DELAY_AT_MOST_S

    def now(self, engine_s: float) -> float:
        """Give engine time on the source's own clock."""
        return engine_s - self.clock_offset_s

    def age_s(self, engine_s: float) -> float:
        """Give the age of the newest valid sample, never negative."""
        age_s = engine_s - self.clock_offset_s - self.newest.t
        if age_s > 0.0:
            return age_s
        return 0.0


class SourceBoard:
    """All sources heard, and the one in use by the written rule.

    The first source heard is in use. It changes when it is older than ``stale_after_s`` or
    carries a data warning while another is fresh and carries none; then not again for 10 s
    unless the new one goes stale. With no better source it stays in use however old. The
    operator's choice overrides.

    Parameters
    ----------
    stale_after_s : float
        Age beyond which a source's data is stale.
    """

    def __init__(self, stale_after_s: float) -> None:
        self._stale_s = stale_after_s + MICROSECOND_S
        self.sources: dict[SourceId, Source] = {}
        self.current: Source | None = None
        """The source in use, None before any was heard."""
        self.forced: SourceId | None = None
        self._changed_s: float | None = None

    def take(self, sample: RelativeSample, engine_s: float) -> bool:
        """Note a valid sample; False if its source has a newer one already."""
        source = self.sources.get(sample.source)
        if source is None:
            source = Source(sample.source, sample)
            source.start_clock(engine_s)
            self.sources[sample.source] = source
            return True
        if sample.t < source.newest.t:
            return False
        source.take(sample, engine_s)
        return True

    @property
    def in_use(self) -> SourceId | None:
        """The name of the source in use."""
        return None if self.current is None else self.current.id

    def now(self, name: SourceId, engine_s: float) -> float:
        """Give engine time on a source's own clock, or as it is for one not heard."""
        source = self.sources.get(name)
        return engine_s if source is None else source.now(engine_s)

    def is_stale(self, source: Source, engine_s: float) -> bool:
        """Tell whether a source's data is older than ``stale_after_s`` (to the microsecond)."""
        return source.age_s(engine_s) > self._stale_s

    def force(self, source: SourceId | None) -> None:
        """Take the operator's choice, or go back to the automatic one with None."""
        self.forced = source
        self._changed_s = None

    def choose(self, engine_s: float) -> str | None:
        """Apply the rule; give the reason where the source in use changed, else None."""
        if self.forced is not None:
            if self.forced == self.in_use or self.forced not in self.sources:
                return None
            self.current = self.sources[self.forced]
            return "chosen by the operator"
        current = self.current
        if current is None:
            return self._begin()
        reason = self._fault_of(current, engine_s)
        if reason is None:
            return None
        resting = (
            self._changed_s is not None and engine_s - self._changed_s < SETTLE_S - MICROSECOND_S
        )
        if resting and not self.is_stale(current, engine_s):
            return None
        for other in self.sources.values():
            if other is not current and self._fault_of(other, engine_s) is None:
                self.current = other
                self._changed_s = engine_s
                return f"{current.id} {reason}"
        return None

    def _begin(self) -> str | None:
        for source in self.sources.values():
            self.current = source
            return "first heard"
        return None

    def _fault_of(self, source: Source, engine_s: float) -> str | None:
        if self.is_stale(source, engine_s):
            return "is stale"
        if source.flags:
            return "carries " + ", ".join(sorted(source.flags))
        return None
