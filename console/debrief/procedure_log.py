"""Steps and polls as they went: when due, when done, by whom, how late."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from console.approach.event import (
    AnyEvent,
    HoldReleased,
    PollAnswered,
    PollOpened,
    StepFellDue,
    StepWasDone,
)
from console.approach.procedure import Answer, Procedure, Step


@dataclass(frozen=True, slots=True)
class StepEntry:
    """One step of the procedure.

    Attributes
    ----------
    due_t, done_t : float or None
        UTC s; None where it never fell due, or was never done.
    initials : str
        Who said that it is done; empty where the data showed it, or nobody did.
    over_t : float or None
        When its time was over, UTC s, for one that could be done no more from contact on.
    """

    step: Step
    due_t: float | None
    done_t: float | None
    initials: str
    over_t: float | None = None

    @property
    def is_missed(self) -> bool:
        """Whether it was due and not done when its time was over, nor said to be done later."""
        return self.due_t is not None and self.done_t is None and self.over_t is not None

    def late_s(self, t_end: float) -> float | None:
        """Give for how long it was overdue, up to the end of its time; None if it never was."""
        if self.due_t is None or self.step.overdue_s is None:
            return None
        if self.over_t is not None:
            t_end = min(t_end, self.over_t)
        late_s = (t_end if self.done_t is None else self.done_t) - self.due_t - self.step.overdue_s
        return late_s if late_s > 0.0 else None


@dataclass(frozen=True, slots=True)
class AnswerEntry:
    """One answer of a position."""

    t: float
    position: str
    answer: Answer
    initials: str


@dataclass(frozen=True, slots=True)
class PollEntry:
    """One opening of a poll, with its answers in order of time.

    Attributes
    ----------
    complete_t : float or None
        When every position had said go; None where that never came.
    released_t : float or None
        When the hold was released, and by whom.
    overdue_s : float or None
        The time after which an advisory stands, from the procedure.
    """

    poll: str
    words: str
    hold_m: float
    opened_t: float
    answers: tuple[AnswerEntry, ...]
    complete_t: float | None
    released_t: float | None
    released_by: str
    overdue_s: float | None


def steps_of(
    procedure: Procedure | None, events: Sequence[AnyEvent], contact_t: float | None = None
) -> tuple[StepEntry, ...]:
    """Give every step of a procedure as it went, in the procedure's order.

    Parameters
    ----------
    contact_t : float or None
        When contact was made, UTC s.
    """
    if procedure is None:
        return ()
    due = {event.step: event for event in events if isinstance(event, StepFellDue)}
    done = {event.step: event for event in events if isinstance(event, StepWasDone)}
    return tuple(
        StepEntry(
            step,
            due[step.id].t if step.id in due else None,
            done[step.id].t if step.id in done else None,
            done[step.id].initials if step.id in done else "",
            contact_t if procedure.ends_at_contact(step) else None,
        )
        for step in procedure.steps
    )


def polls_of(procedure: Procedure | None, events: Sequence[AnyEvent]) -> tuple[PollEntry, ...]:
    """Give every opening of a poll with what followed it, in order of time."""
    if procedure is None:
        return ()
    overdue = {poll.id: poll.overdue_s for poll in procedure.polls}
    entries = []
    for place, event in enumerate(events):
        if isinstance(event, PollOpened):
            entries.append(_poll(event, _until_next(event, events[place + 1 :]), overdue))
    return tuple(entries)


def _until_next(opened: PollOpened, later: Sequence[AnyEvent]) -> list[AnyEvent]:
    """Give what belongs to this opening: all up to the next one of the same poll."""
    found: list[AnyEvent] = []
    for event in later:
        if isinstance(event, PollOpened) and event.poll == opened.poll:
            break
        found.append(event)
    return found


def _poll(
    opened: PollOpened, later: Sequence[AnyEvent], overdue: dict[str, float | None]
) -> PollEntry:
    answers = [e for e in later if isinstance(e, PollAnswered) and e.poll == opened.poll]
    released = next(
        (e for e in later if isinstance(e, HoldReleased) and e.range_m == opened.hold_m), None
    )
    return PollEntry(
        poll=opened.poll,
        words=opened.words,
        hold_m=opened.hold_m,
        opened_t=opened.t,
        answers=tuple(AnswerEntry(e.t, e.position, Answer(e.answer), e.initials) for e in answers),
        complete_t=_complete_t(answers),
        released_t=None if released is None else released.t,
        released_by="" if released is None else released.initials,
        overdue_s=overdue.get(opened.poll),
    )


def _complete_t(answers: Sequence[PollAnswered]) -> float | None:
    """Give since when every position says go; an answer taken back ends it."""
    since = None
    for answer in answers:
        if answer.missing:
            since = None
        elif since is None:
            since = answer.t
    return since
