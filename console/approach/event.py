"""What happened, in the order it was found: the only output of ``feed``.

Events are frozen structs tagged by ``kind``; written as JSON lines they are the event log that
live, replay and score agree on to the byte.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TypeAlias

import msgspec


class Phase(StrEnum):
    """Where in the job the vehicle is."""

    WAITING = "waiting"
    HOLD = "hold"
    APPROACH = "approach"
    HANDS_OFF = "inside hands-off"
    CONTACT = "contact"
    SOFT_CAPTURE = "soft capture"
    DAMPING = "damping"
    RING_RETRACTION = "ring retraction"
    READY_TO_HOOK = "ready to hook"
    HOOKS = "hooks"
    HOOKS_CLOSED = "hooks closed"
    HARD_CAPTURE = "hard capture"
    DOCKED = "docked"
    RETREAT = "retreat"
    ABORT = "abort"
    DATA_LOST = "data lost"


class Event(msgspec.Struct, frozen=True, tag_field="kind", kw_only=True):
    """Base of all events; ``t`` is UTC seconds on the samples' own clock."""

    t: float


class PhaseChanged(Event, frozen=True, tag="phase", kw_only=True):
    """The phase became another, with the evidence that moved it."""

    phase: Phase
    before: Phase
    evidence: str


class AuthorityChanged(Event, frozen=True, tag="authority", kw_only=True):
    """Abort authority passed to other holders, first named first."""

    holders: tuple[str, ...]


class SourceChanged(Event, frozen=True, tag="source", kw_only=True):
    """Another source came into use, with the reason."""

    source: str
    before: str | None
    reason: str


class SourceRestarted(Event, frozen=True, tag="restart", kw_only=True):
    """A source began a new run: its counter fell while its time went on."""

    source: str
    seq: int


class SamplesLost(Event, frozen=True, tag="lost", kw_only=True):
    """A gap in a source's counter: ``count`` samples never came."""

    source: str
    first_seq: int
    count: int


class MarkPassed(Event, frozen=True, tag="mark", kw_only=True):
    """A range mark was passed at ``t`` (interpolated), with the words of the call."""

    range_m: float
    words: str


class HandsOffPassed(Event, frozen=True, tag="hands_off", kw_only=True):
    """The hands-off point was passed at ``t`` (interpolated)."""

    range_m: float
    closing_rate_mps: float
    words: str


class ContactMade(Event, frozen=True, tag="contact", kw_only=True):
    """Contact at ``t``; ``by`` says whether range or a capture status showed it."""

    by: str
    words: str


class ExceedanceRaised(Event, frozen=True, tag="raised", kw_only=True):
    """A limit's or a data check's exceedance now stands."""

    key: str
    id: str
    level: str
    onset: float
    source: str | None
    value: float | None
    limit: float | None
    words: str
    shelved: bool = False
    """Raised while shelved: recorded, and asks for nothing."""


class ExceedanceCleared(Event, frozen=True, tag="cleared", kw_only=True):
    """An exceedance no longer stands."""

    key: str
    id: str
    level: str
    onset: float
    raised: float
    source: str | None
    peak: float | None
    peak_limit: float | None
    peak_t: float | None
    words: str


class Acknowledged(Event, frozen=True, tag="acknowledged", kw_only=True):
    """Somebody confirmed having recognised an exceedance."""

    key: str
    id: str
    initials: str


class NoteMade(Event, frozen=True, tag="note", kw_only=True):
    """The operator's own words."""

    initials: str
    text: str


class CallMade(Event, frozen=True, tag="call", kw_only=True):
    """The operator says a call was made; ``was_useful`` tells whether a stop call still helped."""

    initials: str
    call: str
    was_useful: bool | None


class HoldReleased(Event, frozen=True, tag="release", kw_only=True):
    """The operator released a hold."""

    initials: str
    range_m: float


class CaptureStep(Event, frozen=True, tag="capture", kw_only=True):
    """One thing the capture status showed for the first time, such as hook 7 closed."""

    step: str
    words: str


class CaptureVerdict(Event, frozen=True, tag="verdict", kw_only=True):
    """What is said of damping, or of the leak check, became another."""

    check: str
    """``damping`` or ``leak``."""
    verdict: str
    words: str


class StepFellDue(Event, frozen=True, tag="step_due", kw_only=True):
    """A step of the procedure is to be done now."""

    step: str
    who: str
    words: str


class StepWasDone(Event, frozen=True, tag="step_done", kw_only=True):
    """A step is done; ``initials`` names who said so and is empty where the data showed it."""

    step: str
    who: str
    words: str
    initials: str


class PollOpened(Event, frozen=True, tag="poll", kw_only=True):
    """The positions are to be asked: at a hold point, or at it again."""

    poll: str
    words: str
    hold_m: float


class PollAnswered(Event, frozen=True, tag="answer", kw_only=True):
    """A position answered; ``missing`` tells how many have not said go."""

    poll: str
    position: str
    answer: str
    initials: str
    missing: int


class Shelved(Event, frozen=True, tag="shelved", kw_only=True):
    """A limit or data check was put aside for a time."""

    id: str
    source: str | None
    level: str
    initials: str
    reason: str
    for_s: float


class Unshelved(Event, frozen=True, tag="unshelved", kw_only=True):
    """A shelving ended, by hand or because its time was up (then without initials).

    ``standing`` tells whether the condition is true, so that it asks for attention as if new.
    """

    id: str
    source: str | None
    level: str
    initials: str
    standing: bool


class Refused(Event, frozen=True, tag="refused", kw_only=True):
    """What the operator asked for was not done, with the reason and the mend."""

    deed: str
    initials: str
    words: str


class OutlookNoted(Event, frozen=True, tag="outlook", kw_only=True):
    """Light or link at contact or hands-off is not what one would wish; told when it first shows.

    ``about`` names the matter, such as ``contact:light``, the same whatever its figures.
    """

    about: str
    level: str
    words: str


AnyEvent: TypeAlias = (
    PhaseChanged
    | AuthorityChanged
    | SourceChanged
    | SourceRestarted
    | SamplesLost
    | MarkPassed
    | HandsOffPassed
    | ContactMade
    | ExceedanceRaised
    | ExceedanceCleared
    | Acknowledged
    | NoteMade
    | CallMade
    | HoldReleased
    | CaptureStep
    | CaptureVerdict
    | StepFellDue
    | StepWasDone
    | PollOpened
    | PollAnswered
    | Shelved
    | Unshelved
    | Refused
    | OutlookNoted
)
