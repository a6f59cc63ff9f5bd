"""What an operator does: recorded inputs, fed to the state model at their time.

Window and command line make them; the recording keeps them; a replay feeds them back.
"""

from __future__ import annotations

from typing import TypeAlias

import msgspec


class Action(msgspec.Struct, frozen=True, tag_field="action"):
    """Base of all operator actions; ``initials`` names who acted, empty where nobody was asked."""

    initials: str = ""


class Acknowledge(Action, frozen=True, tag="acknowledge"):
    """Confirm having recognised one exceedance; ``key`` is its :attr:`Exceedance.key`."""

    key: str = ""


class AcknowledgeAll(Action, frozen=True, tag="acknowledge_all"):
    """Confirm having recognised every exceedance that waits for it."""


class Note(Action, frozen=True, tag="note"):
    """Words the operator wants kept with the time."""

    text: str = ""


class ChooseSource(Action, frozen=True, tag="choose_source"):
    """Take this source whatever its state, or None to go back to the automatic choice."""

    source: str | None = None


class Say(Action, frozen=True, tag="say"):
    """A call the operator says was made on the loop.

    ``call`` is a range mark (``mark:10``), ``hold``, ``retreat``, ``abort``, ``hands_off``,
    ``contact`` or ``soft_capture``; a trainee also says ``seen:<quantity>`` or ``seen:data`` of
    an exceedance.
    """

    call: str = ""


class ReleaseHold(Action, frozen=True, tag="release_hold"):
    """The operator's word that the hold at this range is released."""

    range_m: float | None = None


class StepDone(Action, frozen=True, tag="step_done"):
    """The operator says that a step of the procedure is done; ``key`` as in its call line."""

    key: str = ""


class PollAnswer(Action, frozen=True, tag="poll_answer"):
    """What a position answers to a poll: ``go``, ``no-go`` or ``not yet``.

    ``by`` holds the answerer's initials where that is not who pressed the key.
    """

    poll: str = ""
    position: str = ""
    answer: str = ""
    by: str = ""


class Shelve(Action, frozen=True, tag="shelve"):
    """Put a limit or data check aside for ``for_s`` seconds; it is still judged and recorded."""

    id: str = ""
    source: str | None = None
    level: str = ""
    reason: str = ""
    for_s: float = 0.0


class Unshelve(Action, frozen=True, tag="unshelve"):
    """Take a shelved limit or data check back before its time is up."""

    id: str = ""
    source: str | None = None
    level: str = ""


AnyAction: TypeAlias = (
    Acknowledge
    | AcknowledgeAll
    | Note
    | ChooseSource
    | Say
    | ReleaseHold
    | StepDone
    | PollAnswer
    | Shelve
    | Unshelve
)
