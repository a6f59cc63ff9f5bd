"""The procedure as values: steps, what makes each due and done, and the polls at hold points.

Reading and checking TOML is ``approach.procedure_reading``; nothing here can be malformed. What
happened to a step or a poll during a watch is kept by ``approach.procedure_book``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from console.approach.event import Phase
from console.approach.phase import CHAIN

HOLD_SHARE = 0.05
HOLD_LEAST_M = 1.0
"""A vehicle stands at a hold point within a twentieth of its range, and at least a metre."""

BEFORE_CONTACT = -1


class Answer(StrEnum):
    """What a position says when it is polled."""

    GO = "go"
    NO_GO = "no-go"
    NOT_YET = "not yet"


class CaptureField(StrEnum):
    """A field of the capture status that a condition may ask for."""

    CONTACT = "contact"
    SOFT_CAPTURE = "soft_capture"
    RING_EXTENSION = "ring_extension"
    READY_TO_HOOK = "ready_to_hook"
    HOOKS = "hooks"
    HARD_CAPTURE = "hard_capture"
    VESTIBULE_KPA = "vestibule_kpa"
    VESTIBULE_DEGC = "vestibule_degc"
    REL_RATE_MPS = "rel_rate_mps"
    REL_RATE_DPS = "rel_rate_dps"


FLAGS = frozenset(
    {
        CaptureField.CONTACT,
        CaptureField.SOFT_CAPTURE,
        CaptureField.READY_TO_HOOK,
        CaptureField.HARD_CAPTURE,
    }
)
"""Fields that are true or false; the others are numbers."""

STAGE_OF_FIELD: dict[CaptureField, Phase] = {
    CaptureField.CONTACT: Phase.CONTACT,
    CaptureField.SOFT_CAPTURE: Phase.SOFT_CAPTURE,
    CaptureField.REL_RATE_MPS: Phase.DAMPING,
    CaptureField.REL_RATE_DPS: Phase.DAMPING,
    CaptureField.RING_EXTENSION: Phase.RING_RETRACTION,
    CaptureField.READY_TO_HOOK: Phase.HOOKS,
    CaptureField.HOOKS: Phase.HOOKS,
    CaptureField.HARD_CAPTURE: Phase.HARD_CAPTURE,
    CaptureField.VESTIBULE_KPA: Phase.HARD_CAPTURE,
    CaptureField.VESTIBULE_DEGC: Phase.HARD_CAPTURE,
}
"""Where in the chain after contact a field begins to say something."""


@dataclass(frozen=True, slots=True)
class DataTest:
    """One capture field against what is asked of it; of a list every item must comply.

    Attributes
    ----------
    flag : bool or None
        What a field that is true or false must be; None for a number.
    above, below : float or None
        Bounds of a number, themselves excluded; at least one is set.
    """

    field: CaptureField
    flag: bool | None = None
    above: float | None = None
    below: float | None = None

    def holds(self, value: object) -> bool:
        """Tell whether a value complies; a field that was never sent does not."""
        if isinstance(value, tuple):
            return bool(value) and all(self.holds(item) for item in value)
        if isinstance(value, bool):
            return value is self.flag
        if not isinstance(value, int | float) or self.flag is not None:
            return False
        return (self.above is None or value > self.above) and (
            self.below is None or value < self.below
        )


@dataclass(frozen=True, slots=True)
class Condition:
    """When a step is due or done: every part that is set must hold at once.

    Attributes
    ----------
    range_below_m, range_above_m : float or None
        The estimated range, m; after contact it counts as 0, without data as unknown.
    phases : tuple of Phase
        The phase is one of these; empty asks nothing.
    after : Phase or None
        This phase was entered at least ``after_s`` ago, whatever the phase is now.
    after_step : str
        This step was done at least ``after_s`` ago; empty asks nothing.
    at_t : float or None
        The time has come, UTC s.
    data : tuple of DataTest
        What capture statuses must have said.
    """

    range_below_m: float | None = None
    range_above_m: float | None = None
    phases: tuple[Phase, ...] = ()
    after: Phase | None = None
    after_step: str = ""
    after_s: float = 0.0
    at_t: float | None = None
    data: tuple[DataTest, ...] = ()

    @property
    def is_range_alone(self) -> bool:
        """Whether coming nearer alone fulfils it, like a range mark."""
        return self.range_below_m is not None and not (
            self.phases or self.after or self.after_step or self.data or self.at_t is not None
        )

    @property
    def is_of_approach(self) -> bool:
        """Whether it asks for a range, or for phases that all end with contact."""
        asks_range = self.range_below_m is not None or self.range_above_m is not None
        return asks_range or (
            bool(self.phases) and not any(phase in CHAIN for phase in self.phases)
        )

    @property
    def stage(self) -> int:
        """Where along the chain after contact it can first hold; -1 before contact."""
        phases = [STAGE_OF_FIELD[test.field] for test in self.data]
        if self.after is not None:
            phases.append(self.after)
        if self.phases:
            phases.append(self.phases[0])
        return max((CHAIN.index(p) for p in phases if p in CHAIN), default=BEFORE_CONTACT)


@dataclass(frozen=True, slots=True)
class Step:
    """One step: who does it, the words, when it is due, and when the data show it done.

    Attributes
    ----------
    done : Condition or None
        None where only a person can say so.
    overdue_s : float or None
        Seconds after due at which an advisory stands; None never.
    """

    id: str
    who: str
    words: str
    due: Condition
    done: Condition | None = None
    overdue_s: float | None = None

    @property
    def said(self) -> str:
        """Who and what, as one text."""
        return f"{self.who}: {self.words}"


@dataclass(frozen=True, slots=True)
class Poll:
    """A go/no-go poll at a hold point.

    Attributes
    ----------
    hold_m : float
        The hold that is not released before every position is go.
    positions : tuple of str
        Who is asked, in the order of asking.
    due : Condition
        When it opens.
    """

    id: str
    words: str
    hold_m: float
    positions: tuple[str, ...]
    due: Condition
    overdue_s: float | None = None

    @property
    def zone_m(self) -> float:
        """How far from the hold point the vehicle still stands at it."""
        return hold_zone_m(self.hold_m)


def hold_zone_m(hold_m: float) -> float:
    """Give how far from a hold point a vehicle still counts as standing at it, m."""
    return max(HOLD_SHARE * hold_m, HOLD_LEAST_M)


@dataclass(frozen=True, slots=True)
class Procedure:
    """A procedure file that was read whole and found right.

    Attributes
    ----------
    console : str
        The position that answers from this console; empty where none does.
    sha256 : str
        Of the file's bytes, lower-case hex.
    text : str
        The file's text, kept for recordings.
    """

    title: str
    revision: int
    author: str
    reason: str
    console: str
    steps: tuple[Step, ...]
    polls: tuple[Poll, ...]
    sha256: str = ""
    text: str = field(default="", repr=False)

    def ends_at_contact(self, step: Step) -> bool:
        """Tell whether a step belongs to the way in: from contact on it can be done no more."""
        return self.stage_of(step) == BEFORE_CONTACT and step.due.is_of_approach

    def stage_of(self, step: Step) -> int:
        """Give where after contact a step belongs: no earlier than the step it waits for."""
        stage, steps = step.due.stage, {one.id: one for one in self.steps}
        while step.due.after_step:  # an earlier one, so this ends
            step = steps[step.due.after_step]
            stage = max(stage, step.due.stage)
        return stage
