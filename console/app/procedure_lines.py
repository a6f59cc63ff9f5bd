"""The text form of steps, polls, shelving and refusals: one line each, and the closing lines."""

from __future__ import annotations

from console.approach.event import (
    AnyEvent,
    HoldReleased,
    PollAnswered,
    PollOpened,
    Refused,
    Shelved,
    StepFellDue,
    StepWasDone,
    Unshelved,
)
from console.approach.state import StateModel
from console.present.text import duration

NOBODY = "--"


def procedure_tag_and_words(event: AnyEvent) -> tuple[str, str] | None:
    """Give tag and words of an event of the procedure or of shelving, None for any other."""
    match event:
        case StepFellDue():
            return "step", f"{event.who}: {event.words}"
        case StepWasDone():
            said = event.initials or "shown by the data"
            return "step done", f"{event.who}: {event.words} ({said})"
        case PollOpened():
            return "poll", f"at {event.hold_m:g} m: {event.words}"
        case PollAnswered():
            rest = "every position is go" if not event.missing else f"{event.missing} not go yet"
            return "poll", f"{event.position}: {event.answer} ({event.initials}); {rest}"
        case HoldReleased():
            return "operator", f"{event.initials or NOBODY} released the {event.range_m:g} m hold"
        case Refused():
            return "refused", event.words
    return _shelving(event)


def _shelving(event: AnyEvent) -> tuple[str, str] | None:
    match event:
        case Shelved():
            what = " ".join(part for part in (event.level, event.id, event.source or "") if part)
            words = f"{event.initials} shelved {what} for {duration(event.for_s)}: {event.reason}"
            return "shelved", words
        case Unshelved():
            what = " ".join(part for part in (event.level, event.id, event.source or "") if part)
            how = f"taken back by {event.initials}" if event.initials else "time is up"
            return "unshelved", f"{what}: {how}{', stands' if event.standing else ''}"
    return None


def procedure_summary(state: StateModel) -> list[str]:
    """Give the closing line of the procedure: how many steps were done, which were not."""
    book = state.procedure
    if book is None:
        return []
    procedure = book.procedure
    open_steps = [step.id for step in procedure.steps if book.is_waiting(step.id)]
    done = [step.id for step in procedure.steps if book.is_done(step.id)]
    line = f"  procedure {procedure.title} revision {procedure.revision}: {len(done)} steps done"
    if open_steps:
        line += ", not done: " + ", ".join(open_steps)
    return [line]
