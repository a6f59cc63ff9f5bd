"""Go/no-go polls: open at a hold point, answered by position, closed by the word of release.

Theory of operation
-------------------
A poll opens when its condition begins to hold: by default when the vehicle stands at the hold
point. Answers may be changed while it is open. The hold is released by the operator's word, and
that is refused while a position is missing or says no-go. The release is a word for the record:
nothing here commands the vehicle. If the vehicle leaves the hold inward without it, an advisory
says so. After a release, once the vehicle has left the hold point, coming to it again opens the
poll anew with every answer "not yet".
"""

from __future__ import annotations

from dataclasses import dataclass, field

from console.approach.advisory import AdvisoryBook
from console.approach.condition import Past, Situation, due_moment_s, holds
from console.approach.event import AnyEvent, Phase, PollAnswered, PollOpened
from console.approach.phase import FROM_CONTACT
from console.approach.procedure import Answer, Poll
from console.approach.snapshot import PollNow, PositionNow
from console.core.units import MICROSECOND_S

INWARD = (Phase.APPROACH, Phase.HANDS_OFF)
NOT_YET = Answer.NOT_YET
REFUSING = tuple((answer, answer.value) for answer in (Answer.NO_GO, NOT_YET))
"""Answers that keep a hold from being released, the worse one first."""


@dataclass(frozen=True, slots=True)
class Given:
    """An answer, by whom and when."""

    answer: Answer
    initials: str
    t: float


@dataclass(slots=True)
class PollState:
    """One poll during a watch.

    Attributes
    ----------
    opened_s : float or None
        Engine time of opening; None while it is to come.
    was_due : bool
        Its condition held at the last look.
    is_armed : bool
        The vehicle has been at the hold point or farther out.
    is_left : bool
        It has been away from the hold point since the release.
    is_lapsed : bool
        Contact was made without the release: nobody is asked any longer.
    """

    poll: Poll
    zone_m: float = field(init=False)
    """How far from the hold point the vehicle still stands at it."""
    overdue_id: str = field(init=False)
    left_id: str = field(init=False)
    """Ids of its advisories."""
    opened_s: float | None = None
    opened_t: float = 0.0
    answers: dict[str, Given] = field(default_factory=dict)
    released_t: float | None = None
    released_by: str = ""
    was_due: bool = False
    is_armed: bool = False
    is_left: bool = False
    is_lapsed: bool = False
    pictured: tuple[tuple[PositionNow, ...], str] | None = None
    """Positions and refusal as last shown; None once an answer has changed them."""

    def __post_init__(self) -> None:
        self.zone_m = self.poll.zone_m
        self.overdue_id, self.left_id = f"poll:{self.poll.id}", f"hold:{self.poll.id}"

    @property
    def is_open(self) -> bool:
        """Whether it may be answered."""
        return self.opened_s is not None and self.released_t is None and not self.is_lapsed

    @property
    def not_go(self) -> list[str]:
        """Positions that have not said go."""
        return [n for n in self.poll.positions if self.answer_of(n) is not Answer.GO]

    @property
    def refusal(self) -> str:
        """Why the hold may not be released, empty where it may."""
        parts = []
        for answer, words in REFUSING:
            names = [n for n in self.poll.positions if self.answer_of(n) is answer]
            if names:
                parts.append(f"{words}: {', '.join(names)}")
        return "; ".join(parts)

    def answer_of(self, position: str) -> Answer:
        """Give what a position says now."""
        given = self.answers.get(position)
        return NOT_YET if given is None else given.answer


class PollBook:
    """All polls of a procedure during a watch."""

    def __init__(self, polls: tuple[Poll, ...], advisories: AdvisoryBook) -> None:
        self.states = tuple(PollState(poll) for poll in polls)
        self._advisories = advisories

    def look(self, now: Situation, past: Past) -> list[AnyEvent]:
        """Open polls that fall due; raise and clear their advisories."""
        events: list[AnyEvent] = []
        is_lapsed = now.phase in FROM_CONTACT
        for state in self.states:
            state.is_lapsed |= is_lapsed
            self._follow_range(state, now)
            is_due = holds(state.poll.due, now, past)
            if is_due and not state.was_due and not state.is_lapsed:
                events += self._open(state, now)
            state.was_due = is_due
            events += self._look_at_overdue(state, now)
            events += self._look_at_left(state, now)
        return events

    def at(self, range_m: float) -> PollState | None:
        """Give the poll a release at this range must wait for: there, or left unreleased."""
        for state in self.states:
            if abs(range_m - state.poll.hold_m) <= state.zone_m:
                return state
        left = (s for s in self.states if self._advisories.stands(s.left_id))
        return next(left, None)

    def open_one(self) -> PollState | None:
        """Give the poll that may be answered now, None where there is none."""
        return next((state for state in self.states if state.is_open), None)

    def find(self, id_: str) -> PollState | None:
        """Give a poll by its id."""
        return next((state for state in self.states if state.poll.id == id_), None)

    def answer(
        self, state: PollState, position: str, answer: Answer, initials: str, t: float
    ) -> list[AnyEvent]:
        """Take an answer to an open poll; with the last go it is no longer overdue."""
        state.answers[position] = Given(answer, initials, t)
        state.pictured = None
        missing = len(state.not_go)
        events: list[AnyEvent] = [
            PollAnswered(
                t=t, poll=state.poll.id, position=position, answer=answer.value,
                initials=initials, missing=missing,
            )
        ]  # fmt: skip
        return events if missing else events + self._advisories.clear(state.overdue_id, t)

    def release(self, state: PollState, initials: str, t: float) -> list[AnyEvent]:
        """Close a poll: its hold was released."""
        state.released_t, state.released_by, state.is_left = t, initials, False
        events = self._advisories.clear(state.overdue_id, t)
        return events + self._advisories.clear(state.left_id, t)

    def timers_s(self, now: Situation, past: Past) -> list[float]:
        """Give the engine times at which time alone may change something."""
        timers = []
        for state in self.states:
            if state.is_open and state.opened_s is not None and state.poll.overdue_s is not None:
                timers.append(state.opened_s + state.poll.overdue_s)
            moment_s = due_moment_s(state.poll.due, now, past)
            if state.opened_s is None and moment_s is not None:
                timers.append(moment_s)
        return timers

    def picture(self, engine_s: float, mine: str) -> tuple[PollNow, ...]:
        """Give the open polls, and the one last released."""
        shown = [state for state in self.states if state.is_open]
        released = [s for s in self.states if s.opened_s is not None and s.released_t is not None]
        shown += sorted(released, key=lambda s: s.released_t or 0.0)[-1:]
        return tuple(self._now(state, engine_s, mine) for state in shown)

    # ------------------------------------------------------------------ how it is done

    def _open(self, state: PollState, now: Situation) -> list[AnyEvent]:
        again = state.released_t is not None and state.is_left
        if state.opened_s is not None and not again:
            return []
        state.opened_s, state.opened_t = now.engine_s, now.t
        state.answers, state.released_t, state.released_by = {}, None, ""
        state.is_left, state.pictured = False, None
        poll = state.poll
        return [PollOpened(t=now.t, poll=poll.id, words=poll.words, hold_m=poll.hold_m)]

    @staticmethod
    def _follow_range(state: PollState, now: Situation) -> None:
        range_m = now.range_m
        if range_m is None:
            return
        hold_m = state.poll.hold_m
        if range_m >= hold_m - state.zone_m:
            state.is_armed = True
        if state.released_t is not None and abs(range_m - hold_m) > state.zone_m:
            state.is_left = True

    def _look_at_overdue(self, state: PollState, now: Situation) -> list[AnyEvent]:
        poll = state.poll
        if not state.is_open or state.opened_s is None or poll.overdue_s is None:
            return []
        late_s = now.engine_s - state.opened_s - poll.overdue_s
        stands = self._advisories.stands
        is_told = stands(state.overdue_id) or stands(state.left_id)
        if is_told or late_s < -MICROSECOND_S or not state.not_go:
            return []
        words = f"Poll at {poll.hold_m:g} m overdue: {state.refusal}"
        return self._advisories.raise_(state.overdue_id, state.opened_t, now.t, words)

    def _look_at_left(self, state: PollState, now: Situation) -> list[AnyEvent]:
        """Say that the hold was left inward without the word of release."""
        hold_m, id_ = state.poll.hold_m, state.left_id
        if now.range_m is None:
            return []
        is_inside = now.range_m < hold_m - state.zone_m
        if not is_inside or now.phase in FROM_CONTACT:
            return self._advisories.clear(id_, now.t)
        if state.released_t is not None or not state.is_armed or now.phase not in INWARD:
            return []
        if self._advisories.stands(id_):
            return []
        missing = state.refusal or "every position is go"
        words = f"Closing inside the {hold_m:g} m hold, not released: {missing}"
        return self._advisories.raise_(id_, now.t, now.t, words)

    def _now(self, state: PollState, engine_s: float, mine: str) -> PollNow:
        poll = state.poll
        overdue_s = None
        if self._advisories.stands(state.overdue_id) and state.opened_s is not None:
            overdue_s = engine_s - state.opened_s - (poll.overdue_s or 0.0)
        if state.pictured is None:
            positions = tuple([_position(state, name, mine) for name in poll.positions])
            state.pictured = positions, state.refusal
        positions, refusal = state.pictured
        return PollNow(
            id=poll.id,
            words=poll.words,
            hold_m=poll.hold_m,
            positions=positions,
            t_opened=state.opened_t,
            t_released=state.released_t,
            released_by=state.released_by,
            overdue_s=overdue_s,
            refusal=refusal,
            is_left=self._advisories.stands(state.left_id),
        )


def _position(state: PollState, name: str, mine: str) -> PositionNow:
    given = state.answers.get(name)
    if given is None:
        return PositionNow(name, NOT_YET, "", None, name == mine)
    return PositionNow(name, given.answer, given.initials, given.t, name == mine)
