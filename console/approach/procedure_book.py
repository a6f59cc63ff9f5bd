"""The procedure during a watch: which steps are due, done and overdue, and its polls.

Theory of operation
-------------------
Asked at every tick and capture status, with what is known then. A step falls due once, when its
condition first holds, and stays due until somebody says it is done or the data show it; a step
done early never falls due. A step that coming nearer alone makes due is armed like a range mark:
only if the first range known lies above its own, so that a console switched on at 20 m does not
ask for what belongs to 100 m. What stays due longer than its ``overdue_s`` stands as an advisory
until it is done. A step that belongs to the way in is missed once contact is made: nothing is
asked for any more, but somebody may still say that it was done. Only time, range, phase and data
are asked: the same inputs give the same steps.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from console.approach.advisory import AdvisoryBook
from console.approach.call import Expected
from console.approach.condition import (
    CONTACT,
    Past,
    Situation,
    due_moment_s,
    holds,
    may_hold,
    seconds_until,
)
from console.approach.event import AnyEvent, StepFellDue, StepWasDone
from console.approach.phase import FROM_CONTACT
from console.approach.poll_book import PollBook
from console.approach.procedure import Procedure, Step
from console.approach.snapshot import PollNow
from console.core.units import MICROSECOND_S
from console.judging.register import Register

STEP = "step:"
POLL = "poll:"


@dataclass(slots=True)
class StepState:
    """One step during a watch; times ``*_s`` are engine time, ``*_t`` UTC.

    Attributes
    ----------
    is_armed : bool or None
        Whether its range still lay ahead when the watch began; None until a range is known.
    is_asleep : bool or None
        Whether neither range nor time alone can move it: it waits for another phase, for data, or
        for another step to be done. None until that is found out.
    """

    step: Step
    key: str
    """Its key among the call lines and advisories."""
    stage: int
    """Where after contact it belongs."""
    ends_at_contact: bool
    """From contact on it can be done no more."""
    is_armed: bool | None
    resting: Expected = field(init=False)
    """How it reads among what is expected while nothing tells when it comes."""
    due_s: float | None = None
    due_t: float = 0.0
    is_done: bool = False
    is_asleep: bool | None = None

    def __post_init__(self) -> None:
        step = self.step
        self.resting = Expected(
            self.key, step.words, None, self.stage, step.due.range_below_m, step.who
        )

    @property
    def is_due(self) -> bool:
        """Whether it is to be done now."""
        return self.due_s is not None and not self.is_done


class ProcedureBook:
    """The steps and polls of one watch.

    Parameters
    ----------
    procedure : Procedure
        In force for the whole watch.
    register : Register
        Told of what is overdue.
    """

    def __init__(self, procedure: Procedure, register: Register) -> None:
        self.procedure = procedure
        self._advisories = AdvisoryBook(register)
        self.polls = PollBook(procedure.polls, self._advisories)
        self._past = Past()
        self._now: Situation | None = None
        self._steps = {
            STEP + step.id: StepState(
                step, STEP + step.id, procedure.stage_of(step), procedure.ends_at_contact(step),
                not step.due.is_range_alone or None,
            )
            for step in procedure.steps
        }  # fmt: skip

    # ------------------------------------------------------------------ as time goes on

    def look(self, now: Situation) -> list[AnyEvent]:
        """Find what has fallen due, is done by the data, or is overdue."""
        before, self._now = self._now, now
        if before is None or before.phase is not now.phase or before.capture is not now.capture:
            self._wake()
        self._past.note_phase(now.phase, now.engine_s)
        events: list[AnyEvent] = []
        for state in self._steps.values():
            if state.is_done or state.is_asleep:
                continue
            if state.is_armed is None:
                self._arm(state, now)
            self._look_at(state, now, events)
            if state.is_asleep is None:
                state.is_asleep = self._waits_for_others(state, now)
        return events + self.polls.look(now, self._past)

    def next_timer_s(self, engine_s: float) -> float | None:
        """Give the next engine time at which time alone may change something, None if never."""
        now = self._now
        if now is None:
            return None
        timers = self.polls.timers_s(now, self._past)
        for state in self._steps.values():
            timers += self._timers_s(state, now)
        return min((timer for timer in timers if timer > engine_s + MICROSECOND_S), default=None)

    # ------------------------------------------------------------------ what people say

    def step(self, key: str) -> StepState | None:
        """Give a step by its key."""
        return self._steps.get(key)

    def is_done(self, id_: str) -> bool:
        """Tell whether a step was done, by its id."""
        return self._steps[STEP + id_].is_done

    def is_waiting(self, id_: str) -> bool:
        """Tell whether a step belongs to this watch and is not done, by its id."""
        state = self._steps[STEP + id_]
        return not state.is_done and state.is_armed is not False

    def finish(self, state: StepState, initials: str, engine_s: float, t: float) -> list[AnyEvent]:
        """Take a step as done, by a person or, without initials, by the data."""
        state.is_done = True
        self._wake()
        self._past.done[state.step.id] = engine_s
        step = state.step
        events: list[AnyEvent] = [
            StepWasDone(t=t, step=step.id, who=step.who, words=step.words, initials=initials)
        ]
        return events + self._advisories.clear(state.key, t)

    # ------------------------------------------------------------------ the picture

    def waiting(
        self, engine_s: float, to_range_s: Callable[[float], float | None]
    ) -> list[Expected]:
        """Give the steps not done, in the file's order, and the poll that comes next."""
        now = self._now
        if now is None:
            return []
        steps = [
            self._waiting(state, now, engine_s, to_range_s)
            for state in self._steps.values()
            if not state.is_done and state.is_armed is not False
        ]
        return steps + self._next_poll(now, to_range_s)

    def poll_picture(self, engine_s: float) -> tuple[PollNow, ...]:
        """Give the polls as the snapshot shows them."""
        return self.polls.picture(engine_s, self.procedure.console)

    # ------------------------------------------------------------------ how it is done

    def _wake(self) -> None:
        """Ask every step again: something has changed that some may wait for."""
        for state in self._steps.values():
            state.is_asleep = None

    def _waits_for_others(self, state: StepState, now: Situation) -> bool:
        if state.due_s is not None or state.is_armed is None:
            return False
        conditions = (state.step.due, state.step.done)
        return not any(c is not None and may_hold(c, now, self._past) for c in conditions)

    @staticmethod
    def _arm(state: StepState, now: Situation) -> None:
        below_m = state.step.due.range_below_m
        if now.range_m is not None and below_m is not None:
            state.is_armed = now.range_m > below_m

    def _look_at(self, state: StepState, now: Situation, events: list[AnyEvent]) -> None:
        step = state.step
        if step.done is not None and holds(step.done, now, self._past):
            events += self.finish(state, "", now.engine_s, now.t)
            return
        if state.due_s is None:
            if not state.is_armed or not holds(step.due, now, self._past):
                return
            state.due_s, state.due_t = now.engine_s, now.t
            events.append(StepFellDue(t=now.t, step=step.id, who=step.who, words=step.words))
        if _is_missed(state, now):
            events += self._advisories.clear(state.key, now.t)
            return
        late_s = _late_s(state, now.engine_s)
        is_late = late_s is not None and late_s >= -MICROSECOND_S
        if is_late and not self._advisories.stands(state.key):
            words = f"Step overdue: {step.said}"
            events += self._advisories.raise_(state.key, state.due_t, now.t, words)

    def _timers_s(self, state: StepState, now: Situation) -> list[float]:
        if state.is_done:
            return []
        step = state.step
        conditions = [step.done] if step.done is not None else []
        timers: list[float] = []
        if state.due_s is None:
            conditions.append(step.due)
        elif step.overdue_s is not None and not _is_missed(state, now):
            timers.append(state.due_s + step.overdue_s)
        moments = (due_moment_s(condition, now, self._past) for condition in conditions)
        return timers + [moment_s for moment_s in moments if moment_s is not None]

    def _waiting(
        self,
        state: StepState,
        now: Situation,
        engine_s: float,
        to_range_s: Callable[[float], float | None],
    ) -> Expected:
        step = state.step
        if state.is_asleep and step.due.after is not CONTACT:
            return state.resting
        is_due = state.is_due
        in_s = None if is_due else seconds_until(step.due, now, self._past, to_range_s)
        late_s = _late_s(state, engine_s) if self._advisories.stands(state.key) else None
        return Expected(
            state.key, step.words, in_s, state.stage, step.due.range_below_m, step.who,
            is_due, late_s, is_due and _is_missed(state, now),
        )  # fmt: skip

    def _next_poll(
        self, now: Situation, to_range_s: Callable[[float], float | None]
    ) -> list[Expected]:
        """Give the poll at the next hold ahead; an open one stands in the polls instead."""
        range_m = now.range_m
        if now.phase in FROM_CONTACT or range_m is None:
            return []
        coming = [
            state
            for state in self.polls.states
            if state.opened_s is None and range_m >= state.poll.hold_m - state.zone_m
        ]
        if not coming:
            return []
        first = max(coming, key=lambda s: s.poll.hold_m)
        poll = first.poll
        in_s = to_range_s(poll.hold_m + first.zone_m) if range_m > poll.hold_m else None
        words = f"Poll at {poll.hold_m:g} m: {poll.words}"
        return [Expected(POLL + poll.id, words, in_s, at_m=poll.hold_m)]


def _is_missed(state: StepState, now: Situation) -> bool:
    """Tell whether what is due can no longer be done: no phase before contact comes back."""
    return state.ends_at_contact and now.phase in FROM_CONTACT


def _late_s(state: StepState, engine_s: float) -> float | None:
    """Give how long a due step has been overdue, negative before; None where it never is."""
    if not state.is_due or state.due_s is None or state.step.overdue_s is None:
        return None
    return engine_s - state.due_s - state.step.overdue_s
