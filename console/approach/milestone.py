"""What is passed on the way in: range marks, the hands-off point, contact, holds."""

from __future__ import annotations

from collections import deque
from typing import Protocol

from console.approach.call import CallBook, mark_key
from console.approach.contact import ContactBook
from console.approach.event import (
    AnyEvent,
    ContactMade,
    HandsOffPassed,
    MarkPassed,
    Phase,
)
from console.approach.mark import Passing, RangeMark, contact_sample, passing_of
from console.approach.snapshot import Timed
from console.approach.words import contact_call, hands_off_call, mark_call, plain
from console.core.records import RelativeSample
from console.envelope.limits import LimitsFile
from console.envelope.quantity import Quantity
from console.tracking.outlook import Countdown, Estimate
from console.tracking.source import Source

HANDS_OFF_KEPT = 64
PASSED_KEPT = 10_000


class Outlook(Protocol):
    """What of the tracker a milestone needs for its words."""

    def estimate(self, t: float) -> Estimate | None:
        """Give the estimate at ``t``."""
        ...

    def to_contact(self, t: float) -> Countdown:
        """Give the time to contact from ``t``."""
        ...


class MilestoneBook:
    """Watches the ranges of the limits file being passed, and contact."""

    def __init__(self, limits: LimitsFile) -> None:
        self._marks_m = limits.marks_m
        self._hands_off_m = limits.hands_off.range_m
        self._marks: list[RangeMark] | None = None
        self._hands_off: RangeMark | None = None
        self._watched: tuple[RangeMark, ...] = ()
        self.passed: list[Passing] = []
        self._hands_off_passed: deque[Passing] = deque(maxlen=HANDS_OFF_KEPT)

    @property
    def hands_off(self) -> Passing | None:
        """The last passing of the hands-off point, None before any."""
        return self._hands_off_passed[-1] if self._hands_off_passed else None

    def take(self, source: Source, t_contact: float | None) -> list[Passing]:
        """Look at the newest samples of the source in use; give what they passed, outermost first.

        Nothing is passed after contact: a passing counts only if its own time is not later.
        """
        if self._marks is None or self._hands_off is None:
            first_m = source.newest.range_m
            self._marks = [RangeMark(m, first_m) for m in sorted(self._marks_m, reverse=True)]
            self._hands_off = RangeMark(self._hands_off_m, first_m)
            self._watched = (*self._marks, self._hands_off)
        passed: list[Passing] = []
        first, newest_m = source.before, source.newest.range_m
        if first is None:
            return passed
        farther_m, nearer_m = max(first.range_m, newest_m), min(first.range_m, newest_m)
        for mark in self._watched:
            if mark.is_armed and farther_m > mark.range_m:
                continue  # still ahead, as most are: nothing for it to take
            if not mark.take(farther_m, nearer_m):
                continue
            passing = passing_of(mark.range_m, first, source.before_that)
            if t_contact is not None and passing.t > t_contact:
                continue
            if mark is self._hands_off:
                self._hands_off_passed.append(passing)
            elif len(self.passed) < PASSED_KEPT:
                self.passed.append(passing)
            passed.append(passing)
        return passed

    def settle(self, t_contact: float) -> None:
        """Take back what was passed later than contact, whose status may come late."""
        self.passed = [passing for passing in self.passed if passing.t <= t_contact]
        while self._hands_off_passed and self._hands_off_passed[-1].t > t_contact:
            self._hands_off_passed.pop()

    def event(
        self,
        passing: Passing,
        outlook: Outlook,
        calls: CallBook,
        timeline: deque[Timed],
    ) -> AnyEvent:
        """Word a passing, note it among the calls, and give its event."""
        estimate = outlook.estimate(passing.t)
        rate = passing.closing_rate_mps if estimate is None else estimate.closing_rate_mps
        if passing is self.hands_off:
            words = hands_off_call(passing.range_m, rate)
            calls.note("hands_off", words, passing.t)
            timeline.append(Timed(passing.t, "hands_off", "hands-off"))
            return HandsOffPassed(
                t=passing.t, range_m=passing.range_m,
                closing_rate_mps=passing.closing_rate_mps, words=words,
            )  # fmt: skip
        words = mark_call(passing.range_m, rate, outlook.to_contact(passing.t))
        calls.note(mark_key(passing.range_m), words, passing.t)
        timeline.append(Timed(passing.t, "mark", f"{plain(passing.range_m)} m"))
        return MarkPassed(t=passing.t, range_m=passing.range_m, words=words)

    def contact(self, source: Source) -> RelativeSample | None:
        """Give the contact sample, where the newest samples of the source in use show it."""
        return contact_sample(source)

    def contact_event(self, t: float, by: str, contact: ContactBook, calls: CallBook) -> AnyEvent:
        """Word contact, note it among the calls, and give its event."""
        nearest = contact.nearest()
        rate = None if nearest is None else nearest.values.get(Quantity.CLOSING_RATE)
        words = contact_call(rate)
        if not calls.has("contact"):
            calls.note("contact", words, t)
        return ContactMade(t=t, by=by, words=words)

    @property
    def is_inside_hands_off(self) -> bool:
        """Whether the vehicle is inside the hands-off point, passed while watching or before."""
        return self._hands_off is not None and self._hands_off.is_inside

    def marks_ahead(self, range_m: float) -> list[float]:
        """Give the armed marks inside this range, outermost first."""
        if self._marks is None:
            return sorted((m for m in self._marks_m if m < range_m), reverse=True)
        return [mark.range_m for mark in self._marks if mark.is_armed and mark.range_m < range_m]

    def note_phase(
        self, entered: Phase, before: Phase, t: float, calls: CallBook, timeline: deque[Timed]
    ) -> None:
        """Note a phase worth a line: a hold begun or left, a retreat, an abort."""
        if entered is Phase.HOLD and before is not Phase.WAITING:
            calls.note(f"hold:{t}", "Holding", t)
            timeline.append(Timed(t, "hold", "hold"))
        elif entered is Phase.APPROACH and before is Phase.HOLD:
            calls.note(f"leave:{t}", "Closing again", t)
        elif entered in (Phase.RETREAT, Phase.ABORT):
            calls.note(f"{entered}:{t}", entered.value.capitalize(), t)
            timeline.append(Timed(t, entered.value, entered.value))

    @staticmethod
    def hold_range(outlook: Outlook, t: float) -> float | None:
        """Give the range of the hold that is being released: the estimated one now, if any."""
        estimate = outlook.estimate(t)
        return None if estimate is None else round(estimate.range_m, 1)
