"""What each of the operator's actions does to the state model; a refusal is an event too."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from console.approach import shelf
from console.approach.action import (
    Acknowledge,
    AcknowledgeAll,
    AnyAction,
    ChooseSource,
    Note,
    PollAnswer,
    ReleaseHold,
    Say,
    Shelve,
    StepDone,
    Unshelve,
)
from console.approach.event import (
    Acknowledged,
    AnyEvent,
    CallMade,
    HoldReleased,
    NoteMade,
    Phase,
    Refused,
)
from console.approach.procedure import Answer
from console.approach.snapshot import Timed
from console.approach.words import said_words
from console.core.ids import SourceId
from console.judging.exceedance import Exceedance

if TYPE_CHECKING:
    from console.approach.state import StateModel

STOP_CALLS = ("hold", "retreat", "abort")
ANSWERS = {answer.value: answer for answer in Answer}
NO_PROCEDURE = "no procedure is in force; give one with --procedure FILE"


def do(model: StateModel, action: AnyAction, t: float) -> list[AnyEvent]:
    """Take an action at ``t``; give what followed."""
    match action:
        case Acknowledge():
            record = model.register.acknowledge(action.key, action.initials, t)
            return _acknowledged(() if record is None else (record,), action.initials, t)
        case AcknowledgeAll():
            records = model.register.acknowledge_all(action.initials, t)
            return _acknowledged(records, action.initials, t)
        case Note():
            model.timeline.append(Timed(t, "note", action.text))
            return [NoteMade(t=t, initials=action.initials, text=action.text)]
        case ChooseSource():
            name = action.source
            if model.contact.t is not None:
                words = "after contact no source is in use any more"
                return [Refused(t=t, deed="source", initials=action.initials, words=words)]
            return model.force_source(None if name is None else SourceId(name))
        case Say():
            return [_say(model, action, t)]
        case Shelve():
            return _shelve(model, action, t)
        case Unshelve():
            key = (action.id, action.source, action.level)
            return shelf.unshelve(model.register, key, action.initials, t)
        case ReleaseHold() | StepDone() | PollAnswer():
            return _follow_procedure(model, action, t)


def _follow_procedure(
    model: StateModel, action: ReleaseHold | StepDone | PollAnswer, t: float
) -> list[AnyEvent]:
    match action:
        case ReleaseHold():
            return _release(model, action, t)
        case StepDone():
            return _finish_step(model, action, t)
        case PollAnswer():
            return _answer(model, action, t)


def _acknowledged(records: Iterable[Exceedance], initials: str, t: float) -> list[AnyEvent]:
    return [Acknowledged(t=t, key=one.key, id=one.id, initials=initials) for one in records]


def _say(model: StateModel, action: Say, t: float) -> AnyEvent:
    call = action.call
    hold_call_s = model.hold_call_s()
    was_useful = None
    if call in STOP_CALLS and hold_call_s is not None:
        was_useful = hold_call_s >= 0.0
    model.calls.note(f"call:{call}:{t}", f"{said_words(call)} called", t)
    model.timeline.append(Timed(t, "call", said_words(call).lower()))
    return CallMade(t=t, initials=action.initials, call=call, was_useful=was_useful)


def _held_at_m(model: StateModel, t: float) -> float | None:
    """Give the range of the hold the vehicle stands at, None where no range is known.

    While data is lost the hold whose poll is open is meant: where the vehicle stands is not seen.
    """
    if model.phases.phase is Phase.DATA_LOST and model.procedure is not None:
        open_poll = model.procedure.polls.open_one()
        if open_poll is not None:
            return open_poll.poll.hold_m
    return model.milestones.hold_range(model.tracker, t)


def _release(model: StateModel, action: ReleaseHold, t: float) -> list[AnyEvent]:
    """Take the word that a hold is released; it commands nothing, and a poll may refuse it."""
    initials = action.initials
    book = model.procedure
    at_m = action.range_m
    if at_m is None:
        at_m = _held_at_m(model, t)
    if at_m is None:
        words = "no range is known, so no hold either; wait for data"
        return [Refused(t=t, deed="release", initials=initials, words=words)]
    poll = None if book is None else book.polls.at(at_m)
    events: list[AnyEvent] = []
    if book is not None and poll is not None:
        hold_m = poll.poll.hold_m
        if poll.refusal:
            words = f"the {hold_m:g} m hold is not released: {poll.refusal}"
            return [Refused(t=t, deed="release", initials=initials, words=words)]
        if poll.released_t is None:
            at_m = hold_m
            events = book.polls.release(poll, initials, t)
    model.calls.note(f"release:{t}", f"Hold at {at_m:.0f} m released", t)
    model.timeline.append(Timed(t, "release", "released"))
    return [HoldReleased(t=t, initials=initials, range_m=at_m), *events]


def _finish_step(model: StateModel, action: StepDone, t: float) -> list[AnyEvent]:
    book, initials = model.procedure, action.initials
    if book is None:
        return [Refused(t=t, deed="step", initials=initials, words=NO_PROCEDURE)]
    state = book.step(action.key)
    if state is None or state.is_done:
        why = f'there is no step "{action.key}"' if state is None else "that step is done already"
        return [Refused(t=t, deed="step", initials=initials, words=why)]
    model.calls.note(action.key, state.step.words, t, state.step.who)
    return book.finish(state, initials, model.engine_s, t)


def _answer(model: StateModel, action: PollAnswer, t: float) -> list[AnyEvent]:
    book = model.procedure
    answer = ANSWERS.get(action.answer)
    state = None if book is None else book.polls.find(action.poll)
    why = ""
    if book is None:
        why = NO_PROCEDURE
    elif state is None:
        why = f'there is no poll "{action.poll}"'
    elif not state.is_open:
        why = f'the poll "{state.poll.words}" is not open'
    elif action.position not in state.poll.positions:
        why = f'"{action.position}" has no part in it; {", ".join(state.poll.positions)} have'
    elif answer is None:
        why = f'"{action.answer}" is no answer; allowed: {", ".join(ANSWERS)}'
    if book is None or state is None or answer is None or why:
        return [Refused(t=t, deed="answer", initials=action.initials, words=why)]
    by = action.by or action.initials
    return book.polls.answer(state, action.position, answer, by, t)


def _shelve(model: StateModel, action: Shelve, t: float) -> list[AnyEvent]:
    if ":" not in action.id and all(action.id != limit.id for limit in model.limits.limits):
        words = f'there is no limit "{action.id}"'
        return [Refused(t=t, deed="shelve", initials=action.initials, words=words)]
    return shelf.shelve(
        model.register,
        (action.id, action.source, action.level),
        action.initials,
        action.reason,
        action.for_s,
        (model.engine_s, t),
    )
