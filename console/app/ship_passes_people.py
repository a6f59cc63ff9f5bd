"""The invented people of the shipped passes: who acknowledges, calls and notes, and how late."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from heapq import heappop, heappush

import numpy as np

from console.approach.action import Acknowledge, AnyAction, Note, Say
from console.approach.call import mark_key
from console.approach.event import (
    AnyEvent,
    CaptureStep,
    ContactMade,
    ExceedanceRaised,
    HandsOffPassed,
    MarkPassed,
)
from console.envelope.quantity import Quantity
from console.rehearsal.calls import DATA, SEEN, subject_of


@dataclass(frozen=True, slots=True)
class Habit:
    """How somebody watches.

    Attributes
    ----------
    initials : str
    call_s : tuple of float
        Least and greatest delay of a call after its mark; drawn evenly.
    acknowledge_s : float or None
        So long after it was raised an exceedance is acknowledged; None never.
    misses : tuple of float
        Range marks whose call is forgotten.
    stop : str
        The stop call made on the first limit's warning: ``hold``, ``retreat``, or none.
    stop_s : float
        So long after the warning.
    notes : tuple of (str, str)
        Words kept live, each beside the kind of event it follows.
    sees_s : float or None
        A trainee: so long after its warning an exceedance is called as seen; None never.
    """

    initials: str = "MK"
    call_s: tuple[float, float] = (0.4, 1.6)
    acknowledge_s: float | None = 4.0
    misses: tuple[float, ...] = ()
    stop: str = ""
    stop_s: float = 3.0
    notes: tuple[tuple[str, str], ...] = ()
    sees_s: float | None = None


class Watcher:
    """Somebody who watches a pass by a habit; a watch's acting crew.

    Parameters
    ----------
    habit : Habit
    rng : numpy.random.Generator
        For the delays of the calls.
    quantities : mapping of str to Quantity
        What each limit is about.
    """

    def __init__(
        self, habit: Habit, rng: np.random.Generator, quantities: Mapping[str, Quantity]
    ) -> None:
        self._habit = habit
        self._quantities = quantities
        self._rng = rng
        self._queue: list[tuple[float, int, AnyAction]] = []
        self._count = 0
        self._has_stopped = False
        self._has_touched = False

    def note(self, event: AnyEvent, engine_s: float) -> None:
        """Hear what happened; contact is heard once, though an earlier sign of it may follow."""
        if isinstance(event, ContactMade):
            if self._has_touched:
                return
            self._has_touched = True
        call = _call_of(event)
        if call and not (isinstance(event, MarkPassed) and event.range_m in self._habit.misses):
            delay_s = float(self._rng.uniform(*self._habit.call_s))
            self._plan(engine_s + delay_s, Say(self._habit.initials, call))
        if isinstance(event, ExceedanceRaised):
            self._hear_exceedance(event, engine_s)
        for kind, words in self._habit.notes:
            if type(event).__name__ == kind:
                self._plan(engine_s + 6.0, Note(self._habit.initials, words))

    def due(self, engine_s: float) -> list[AnyAction]:
        """Give and forget what is done by now, in order."""
        actions: list[AnyAction] = []
        while self._queue and self._queue[0][0] <= engine_s:
            actions.append(heappop(self._queue)[2])
        return actions

    def _hear_exceedance(self, event: ExceedanceRaised, engine_s: float) -> None:
        habit = self._habit
        if habit.acknowledge_s is not None and event.level != "advisory":
            self._plan(engine_s + habit.acknowledge_s, Acknowledge(habit.initials, event.key))
        if habit.sees_s is not None and event.level == "warning":
            quantity = self._quantities.get(event.id)
            subject = SEEN + DATA if quantity is None else subject_of(quantity)
            self._plan(engine_s + habit.sees_s, Say(habit.initials, subject))
        is_limit = event.source is None and event.level == "warning" and ":" not in event.id
        if habit.stop and is_limit and not self._has_stopped:
            self._has_stopped = True
            self._plan(engine_s + habit.stop_s, Say(habit.initials, habit.stop))

    def _plan(self, t: float, action: AnyAction) -> None:
        self._count += 1
        heappush(self._queue, (t, self._count, action))


def _call_of(event: AnyEvent) -> str:
    match event:
        case MarkPassed():
            return mark_key(event.range_m)
        case HandsOffPassed():
            return "hands_off"
        case ContactMade():
            return "contact"
        case CaptureStep(step="soft_capture"):
            return "soft_capture"
    return ""
