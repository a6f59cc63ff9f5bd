"""Calls to true events, one to one: each event is answered by one call at most.

Every event has a window in which a call of its subject answers it. Among the calls of a subject,
in order of time, each answers the event whose window closes first among those open to it: for
points in intervals that gives as many pairs as can be (earliest deadline first; from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from console.rehearsal.calls import TraineeCall


class EventOutcome(StrEnum):
    """What became of a true event."""

    HIT = "hit"
    MISS = "miss"


class CallOutcome(StrEnum):
    """What a call was worth."""

    HIT = "hit"
    LATE = "late"
    """It is about something that came, after its window, and nothing answered in time."""
    REPEAT = "repeat"
    """It is about something that was answered already."""
    FALSE_ALARM = "false alarm"


@dataclass(frozen=True, slots=True)
class TrueEvent:
    """Something that really happened and ought to be called.

    Attributes
    ----------
    subject : str
        As :attr:`TraineeCall.subject`.
    t : float
        When, UTC seconds; delays count from here.
    opens, closes : float
        A call between the two, both included, answers it.
    until : float
        A later call up to this time is late or a repeat, not a false alarm.
    level : str
        Of an exceedance, ``caution`` or ``warning``.
    words : str
        What happened.
    was_true : bool or None
        Of an exceedance: whether the true state violated the same limit too; None where the true
        state is not known, or where it is a matter of the data.
    """

    subject: str
    t: float
    opens: float
    closes: float
    until: float = math.inf
    level: str = ""
    words: str = ""
    was_true: bool | None = None


@dataclass(frozen=True, slots=True)
class Matching:
    """Which call answered which event.

    Attributes
    ----------
    call_of : tuple of int or None
        For each event the number of its call, None where it was missed.
    outcomes : tuple of CallOutcome
        For each call.
    """

    call_of: tuple[int | None, ...]
    outcomes: tuple[CallOutcome, ...]


def match(events: Sequence[TrueEvent], calls: Sequence[TraineeCall]) -> Matching:
    """Match calls to events.

    Parameters
    ----------
    events : sequence of TrueEvent
        In any order.
    calls : sequence of TraineeCall
        In any order.
    """
    call_of: list[int | None] = [None] * len(events)
    answered = [False] * len(calls)
    for number in sorted(range(len(calls)), key=lambda n: calls[n].t):
        call = calls[number]
        open_to = [
            i
            for i, event in enumerate(events)
            if call_of[i] is None
            and event.subject == call.subject
            and event.opens <= call.t <= event.closes
        ]
        if open_to:
            first = min(open_to, key=lambda i: (events[i].closes, events[i].t))
            call_of[first] = number
            answered[number] = True
    outcomes = tuple(
        CallOutcome.HIT if answered[n] else _unanswered(call, events, call_of)
        for n, call in enumerate(calls)
    )
    return Matching(tuple(call_of), outcomes)


def _unanswered(
    call: TraineeCall, events: Sequence[TrueEvent], call_of: Sequence[int | None]
) -> CallOutcome:
    """Tell what a call was that answered nothing."""
    about = [
        i
        for i, event in enumerate(events)
        if event.subject == call.subject and event.opens <= call.t <= event.until
    ]
    if not about:
        return CallOutcome.FALSE_ALARM
    missed = any(call_of[i] is None for i in about)
    return CallOutcome.LATE if missed else CallOutcome.REPEAT
