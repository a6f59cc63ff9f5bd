"""The marks of a replay's time line: what was raised, passed and noted, in order of time."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from console.app.headless import line_of
from console.app.replay_scan import Found, PassScan
from console.approach.event import (
    AnyEvent,
    ContactMade,
    ExceedanceRaised,
    HandsOffPassed,
    MarkPassed,
    PhaseChanged,
)
from console.archive.recording import RecordedNote
from console.core.units import MICROSECOND_S
from console.envelope.limits import Level
from console.present.replay_port import Tick, TickKind, Way

MARKS = (MarkPassed, HandsOffPassed, ContactMade)
OF_LEVEL = {Level.CAUTION.word: TickKind.CAUTION, Level.WARNING.word: TickKind.WARNING}


class TickBook:
    """Turns a scan's events and the notes into marks, as the scan goes on.

    Attributes
    ----------
    ticks : tuple of Tick
        In order of time; the same object until there are others.
    """

    def __init__(self, scan: PassScan) -> None:
        self._scan = scan
        self._seen = 0
        self._of_events: list[Tick] = []
        self._of_notes: list[Tick] = []
        self.ticks: tuple[Tick, ...] = ()
        self._times: list[float] = []

    def renew(self) -> None:
        """Take in what the scan has found since."""
        events = self._scan.events
        if len(events) == self._seen:
            return
        fresh = [tick for found in events[self._seen :] if (tick := tick_of(found)) is not None]
        self._seen = len(events)
        if fresh:
            self._of_events += fresh
            self._put_together()

    def set_notes(self, notes: Sequence[RecordedNote]) -> None:
        """Take the notes of the pass."""
        self._of_notes = [
            Tick(note.t, TickKind.NOTE, f"note {note.initials or '--'}: {note.text}")
            for note in notes
        ]
        self._put_together()

    def next(self, t: float, way: Way) -> Tick | None:
        """Give the first mark after a time, or the last before it."""
        if way is Way.ON:
            place = bisect_right(self._times, t + MICROSECOND_S)
            return self.ticks[place] if place < len(self.ticks) else None
        place = bisect_left(self._times, t - MICROSECOND_S)
        return self.ticks[place - 1] if place else None

    def _put_together(self) -> None:
        self.ticks = tuple(sorted(self._of_events + self._of_notes, key=lambda tick: tick.t))
        self._times = [tick.t for tick in self.ticks]


def tick_of(found: Found) -> Tick | None:
    """Give the mark of an event, None for one that gets none."""
    kind = _kind_of(found.event)
    if kind is None:
        return None
    return Tick(found.t, kind, " ".join(line_of(found.event).split()[1:]))


def _kind_of(event: AnyEvent) -> TickKind | None:
    if isinstance(event, ExceedanceRaised):
        return OF_LEVEL.get(event.level)
    if isinstance(event, MARKS):
        return TickKind.MARK
    return TickKind.PHASE if isinstance(event, PhaseChanged) else None
