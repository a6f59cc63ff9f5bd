"""The people of the demo: answers, steps and releases at their time, as recorded actions."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from heapq import heappop, heappush
from pathlib import Path

from console.app.input_file import read_bytes
from console.approach.action import AnyAction, PollAnswer, ReleaseHold, StepDone
from console.approach.event import AnyEvent, PollAnswered, PollOpened, StepFellDue
from console.approach.procedure import Answer, Procedure
from console.approach.procedure_book import STEP
from console.archive.shipped import shipped
from console.envelope.strict import Reader
from console.envelope.strict_table import Table, words_of
from console.envelope.strict_value import NOT_NEGATIVE

DEMO_CREW = "port_c_demo_crew"
FORMAT = 1


class Crew(StrEnum):
    """Who of the demo's people acts by themselves."""

    ALL = "all"
    OTHERS = "others"
    """All but the position that answers from this console."""
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Part:
    """One thing somebody does.

    Attributes
    ----------
    cue : str
        Key of the event it follows: ``poll:<id>`` opened, ``step:<id>`` due, ``go:<id>`` complete.
    who : str
        The position that acts.
    """

    cue: str
    who: str
    after_s: float
    action: AnyAction


class ScriptedCrew:
    """Gives the actions of the demo's people when they are due.

    Parameters
    ----------
    parts : tuple of Part
        What they do.
    """

    def __init__(self, parts: tuple[Part, ...]) -> None:
        self._parts = parts
        self._queue: list[tuple[float, int]] = []

    def note(self, event: AnyEvent, engine_s: float) -> None:
        """Hear what happened: it may be somebody's cue."""
        cue = _cue(event)
        if cue:
            for number, part in enumerate(self._parts):
                if part.cue == cue:
                    heappush(self._queue, (engine_s + part.after_s, number))

    def due(self, engine_s: float) -> list[AnyAction]:
        """Give and forget what is to be done by now, in order."""
        actions: list[AnyAction] = []
        while self._queue and self._queue[0][0] <= engine_s:
            _, number = heappop(self._queue)
            actions.append(self._parts[number].action)
        return actions


def _cue(event: AnyEvent) -> str:
    match event:
        case PollOpened():
            return f"poll:{event.poll}"
        case StepFellDue():
            return STEP + event.step
        case PollAnswered(missing=0):
            return f"go:{event.poll}"
    return ""


def demo_crew(procedure: Procedure, crew: Crew) -> ScriptedCrew | None:
    """Give the shipped people for the shipped procedure, None for nobody."""
    if crew is Crew.NONE:
        return None
    path = shipped("replay_data", "procedures", f"{DEMO_CREW}.toml")
    parts = read_crew(path, procedure)
    if crew is Crew.OTHERS:
        parts = tuple(part for part in parts if part.who != procedure.console)
    return ScriptedCrew(parts)


def read_crew(path: Path, procedure: Procedure) -> tuple[Part, ...]:
    """Read a crew file for a procedure.

    Raises
    ------
    InputError
        With every fault: an unknown key, or a poll, position or step the procedure lacks.
    """
    reader = Reader(read_bytes(path), path.name)
    root = reader.root
    if root.integer("format") != FORMAT and not root.was_refused("format"):
        root.refuse("format", "another format", f"this version reads format {FORMAT}")
    parts = [_answer(table, procedure) for table in root.tables("answer")]
    parts += [_done(table, procedure) for table in root.tables("done")]
    parts += [_release(table, procedure) for table in root.tables("release")]
    reader.finish()
    return tuple(parts)


def _answer(table: Table, procedure: Procedure) -> Part:
    poll = table.choice("poll", {poll.id: poll for poll in procedure.polls})
    position = table.choice("position", {name: name for name in poll.positions})
    answer = table.choice("answer", words_of(Answer))
    initials = table.text("initials", may_be_empty=False)
    action = PollAnswer(initials, poll.id, position, answer.value)
    return Part(f"poll:{poll.id}", position, _after_s(table), action)


def _done(table: Table, procedure: Procedure) -> Part:
    step = table.choice("step", {step.id: step for step in procedure.steps})
    initials = table.text("initials", may_be_empty=False)
    return Part(STEP + step.id, step.who, _after_s(table), StepDone(initials, STEP + step.id))


def _release(table: Table, procedure: Procedure) -> Part:
    poll = table.choice("poll", {poll.id: poll for poll in procedure.polls})
    initials = table.text("initials", may_be_empty=False)
    action = ReleaseHold(initials, poll.hold_m)
    return Part(f"go:{poll.id}", procedure.console, _after_s(table), action)


def _after_s(table: Table) -> float:
    return table.number("after_s", bounds=NOT_NEGATIVE)
