"""What stands on the time strip: what happened, and what the countdowns say will."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum
from itertools import pairwise

from console.approach.snapshot import Snapshot, Timed
from console.present.lanes_marks import mark_words
from console.present.plot_scene import Ink, Stroke
from console.tracking.outlook import Countdown, PathPoint

CONTACT = "contact"
HANDS_OFF = "hands-off"
LAST_STOP_CALL = "last stop call"


class Rank(IntEnum):
    """Whose name is placed first."""

    CONTACT = 0
    HANDS_OFF = 1
    STOP_CALL = 2
    NEXT_MARK = 3
    STEP = 4
    PAST = 5
    AHEAD = 6
    ASIDE = 7


_RANK_OF_KIND: dict[str, Rank] = {
    "capture": Rank.STEP,
    "mark": Rank.PAST,
    "hold": Rank.PAST,
    "call": Rank.ASIDE,
    "note": Rank.ASIDE,
}


@dataclass(frozen=True, slots=True)
class StripEvent:
    """One event, at a time from now; bounds where it is to come.

    Attributes
    ----------
    high_s : float or None
        None beside ``low_s``: the late bound is open.
    """

    key: str
    at_s: float
    words: str
    rank: Rank
    low_s: float | None = None
    high_s: float | None = None
    sure: bool = True

    @property
    def ink(self) -> Ink:
        """Its colour: the three points that decide stand out."""
        if self.rank in (Rank.CONTACT, Rank.HANDS_OFF):
            return Ink.TEXT
        return Ink.PLAN if self.rank in (Rank.STOP_CALL, Rank.NEXT_MARK) else Ink.EDGE

    @property
    def name_ink(self) -> Ink:
        """Colour of its name."""
        loud = (Rank.CONTACT, Rank.HANDS_OFF, Rank.STOP_CALL, Rank.NEXT_MARK)
        return Ink.TEXT if self.rank in loud else Ink.QUIET

    @property
    def stroke(self) -> Stroke:
        """Dashed where it is coasted, dotted for a bound that is no event."""
        if self.rank is Rank.STOP_CALL:
            return Stroke.DOTTED
        return Stroke.SOLID if self.sure else Stroke.DASHED

    @property
    def crosses_all(self) -> bool:
        """Whether its line goes through all rows."""
        return self.rank in (Rank.CONTACT, Rank.HANDS_OFF)


def events(snapshot: Snapshot, marks_m: Sequence[float]) -> list[StripEvent]:
    """Give all events of a snapshot, the most important first."""
    found = [*_decisive(snapshot), *_past(snapshot), *_marks_ahead(snapshot, marks_m)]
    return sorted(found, key=lambda e: (e.rank, abs(e.at_s)))


def _decisive(s: Snapshot) -> list[StripEvent]:
    sure = not s.coasted
    made = []
    for word, rank, past_t, coming in (
        (CONTACT, Rank.CONTACT, s.contact_t, s.to_contact),
        (HANDS_OFF, Rank.HANDS_OFF, s.hands_off_t, s.to_hands_off),
    ):
        if past_t is not None:
            made.append(StripEvent(word, past_t - s.t, word, rank))
        elif coming.best_s is not None:
            made.append(_coming(word, word, rank, coming, sure=sure))
    if s.next_mark_m is not None and s.to_next_mark.best_s is not None:
        words = mark_words(s.next_mark_m)
        made.append(_coming(words, words, Rank.NEXT_MARK, s.to_next_mark, sure=sure))
    call_s = None if s.stop is None else s.stop.hold_call_safe_s
    if s.stop is not None and call_s is None:
        call_s = s.stop.hold_call_s
    if call_s is not None and call_s > 0.0:
        made.append(StripEvent(LAST_STOP_CALL, call_s, LAST_STOP_CALL, Rank.STOP_CALL, sure=sure))
    return made


def _coming(key: str, words: str, rank: Rank, when: Countdown, *, sure: bool) -> StripEvent:
    best = 0.0 if when.best_s is None else when.best_s
    return StripEvent(key, best, words, rank, when.low_s, when.high_s, sure)


def _past(s: Snapshot) -> list[StripEvent]:
    known = {"contact": s.contact_t, "hands_off": s.hands_off_t}
    return [
        StripEvent(f"{e.label}@{e.t:.0f}", e.t - s.t, e.label, _rank(e))
        for e in s.timeline
        if known.get(e.kind) is None
    ]


def _rank(event: Timed) -> Rank:
    return _RANK_OF_KIND.get(event.kind, Rank.PAST)


def _marks_ahead(s: Snapshot, marks_m: Sequence[float]) -> list[StripEvent]:
    """Give marks after the next one where the predicted path passes them."""
    made = []
    for mark in marks_m:
        at_s = passes_at_s(s.path, mark)
        if at_s is not None and mark != s.next_mark_m and at_s > 0.0:
            words = mark_words(mark)
            made.append(StripEvent(words, at_s, words, Rank.AHEAD, sure=not s.coasted))
    return made


def passes_at_s(path: Sequence[PathPoint], range_m: float) -> float | None:
    """Give when the predicted path comes down to a range, read between its points; else None."""
    for before, after in pairwise(path):
        if before.range_m > range_m >= after.range_m:
            share = (before.range_m - range_m) / (before.range_m - after.range_m)
            return before.in_s + share * (after.in_s - before.in_s)
    return None
