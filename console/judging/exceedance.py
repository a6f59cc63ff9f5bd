"""The life of an exceedance: one table of states and triggers, and the record it leaves.

Theory of operation
-------------------
*Whose life.* Each limit of the limits file has one life, and so has each data check of each
source at each level. Every raising makes a new record (:class:`Exceedance`); the life says how
the operator stands to them.

*The condition and the operator are two things.* The judge alone says whether the condition is
true (raised) or clear (cleared); no act of the operator changes that. The operator alone
acknowledges: confirms having recognised it. So four states follow from two yes-or-no questions:

====================================  ==============  =================
state                                 condition true  waits for a person
====================================  ==============  =================
normal                                no              no
unacknowledged                        yes             yes
acknowledged                          yes             no
returned unacknowledged               no              yes
====================================  ==============  =================

An exceedance that cleared before anyone confirmed it does not vanish: it waits, *returned
unacknowledged*. If it is raised again meanwhile, the life is *unacknowledged* again and the
older record waits beside the new one. Each record is confirmed by itself; the life is
acknowledged when its last one is.

*Shelved* is the fifth state. A shelved limit is still judged and still recorded; it only stops
asking for attention, for a stated time and reason. While shelved, the condition may come and go
without leaving the state. On release - by hand, or because its time is up - it comes back as if
new: unacknowledged if the condition is true then, normal if not.

*What cannot happen* is listed with its reason too, so that every pair of state and trigger is
either a transition or a known impossibility; taking an impossible one is a defect of the caller
and raises.

The states and transitions are those of alarm management in the process industries
(IEC 62682 / ANSI/ISA-18.2: normal, unacknowledged, acknowledged, returned-to-normal
unacknowledged, shelved; from memory), without latching, suppression by design and out of
service, which an advisory display has no use for.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from console.core.errors import UsageError
from console.envelope.limits import Level
from console.envelope.quantity import Quantity


class State(StrEnum):
    """How condition and operator stand to a limit or data check."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned unacknowledged"
    SHELVED = "shelved"


class Trigger(StrEnum):
    """What moves a life from state to state."""

    CONDITION_TRUE = "condition true"
    CONDITION_CLEAR = "condition clear"
    ACKNOWLEDGE = "acknowledge"
    SHELVE = "shelve"
    RELEASE_STANDING = "release, condition true"
    RELEASE_CLEAR = "release, condition clear"


TRANSITIONS = MappingProxyType(
    {
        (State.NORMAL, Trigger.CONDITION_TRUE): State.UNACKNOWLEDGED,
        (State.UNACKNOWLEDGED, Trigger.ACKNOWLEDGE): State.ACKNOWLEDGED,
        (State.UNACKNOWLEDGED, Trigger.CONDITION_CLEAR): State.RETURNED,
        (State.ACKNOWLEDGED, Trigger.CONDITION_CLEAR): State.NORMAL,
        (State.RETURNED, Trigger.ACKNOWLEDGE): State.NORMAL,
        (State.RETURNED, Trigger.CONDITION_TRUE): State.UNACKNOWLEDGED,
        # A limit may be shelved before it is ever violated, and whatever it waits for.
        (State.NORMAL, Trigger.SHELVE): State.SHELVED,
        (State.UNACKNOWLEDGED, Trigger.SHELVE): State.SHELVED,
        (State.ACKNOWLEDGED, Trigger.SHELVE): State.SHELVED,
        (State.RETURNED, Trigger.SHELVE): State.SHELVED,
        # Shelved: the condition is still judged and recorded, it only asks for nothing.
        (State.SHELVED, Trigger.CONDITION_TRUE): State.SHELVED,
        (State.SHELVED, Trigger.CONDITION_CLEAR): State.SHELVED,
        (State.SHELVED, Trigger.RELEASE_STANDING): State.UNACKNOWLEDGED,
        (State.SHELVED, Trigger.RELEASE_CLEAR): State.NORMAL,
    }
)

_NOT_SHELVED = "nothing is shelved"
_STANDS = "it stands already: a second raising needs a clearing between"
_CLEAR = "nothing stands that could clear"

IMPOSSIBLE = MappingProxyType(
    {
        (State.NORMAL, Trigger.CONDITION_CLEAR): _CLEAR,
        (State.NORMAL, Trigger.ACKNOWLEDGE): "nothing waits for acknowledgement",
        (State.NORMAL, Trigger.RELEASE_STANDING): _NOT_SHELVED,
        (State.NORMAL, Trigger.RELEASE_CLEAR): _NOT_SHELVED,
        (State.UNACKNOWLEDGED, Trigger.CONDITION_TRUE): _STANDS,
        (State.UNACKNOWLEDGED, Trigger.RELEASE_STANDING): _NOT_SHELVED,
        (State.UNACKNOWLEDGED, Trigger.RELEASE_CLEAR): _NOT_SHELVED,
        (State.ACKNOWLEDGED, Trigger.CONDITION_TRUE): _STANDS,
        (State.ACKNOWLEDGED, Trigger.ACKNOWLEDGE): "it is acknowledged already",
        (State.ACKNOWLEDGED, Trigger.RELEASE_STANDING): _NOT_SHELVED,
        (State.ACKNOWLEDGED, Trigger.RELEASE_CLEAR): _NOT_SHELVED,
        (State.RETURNED, Trigger.CONDITION_CLEAR): _CLEAR,
        (State.RETURNED, Trigger.RELEASE_STANDING): _NOT_SHELVED,
        (State.RETURNED, Trigger.RELEASE_CLEAR): _NOT_SHELVED,
        (State.SHELVED, Trigger.ACKNOWLEDGE): "a shelved one asks for no acknowledgement",
        (State.SHELVED, Trigger.SHELVE): "it is shelved already: release it first",
    }
)


def advance(state: State, trigger: Trigger) -> State:
    """Give the state that follows.

    Raises
    ------
    UsageError
        The pair is impossible; the message says why.
    """
    following = TRANSITIONS.get((state, trigger))
    if following is None:
        reason = IMPOSSIBLE.get((state, trigger), "no such pair")
        raise UsageError(f'"{trigger}" cannot come in state "{state}": {reason}')
    return following


def diagram() -> str:
    """Draw the transition table as a Mermaid state diagram, for the developers' page."""
    names = {state: state.name.capitalize() for state in State}
    lines = ["stateDiagram-v2", f"    [*] --> {names[State.NORMAL]}"]
    lines += [f"    {names[state]} : {state}" for state in State if state.name.lower() != state]
    lines += [
        f"    {names[before]} --> {names[after]} : {trigger}"
        for (before, trigger), after in TRANSITIONS.items()
    ]
    return "\n".join(lines) + "\n"


def table() -> str:
    """Write every pair of state and trigger as a Markdown table, the impossible ones with why."""
    lines = ["| state | trigger | next state |", "|---|---|---|"]
    for state in State:
        for trigger in Trigger:
            following = TRANSITIONS.get((state, trigger))
            cell = following or f"impossible: {IMPOSSIBLE[state, trigger]}"
            lines.append(f"| {state} | {trigger} | {cell} |")
    return "\n".join(lines) + "\n"


@dataclass(slots=True)
class Exceedance:
    """The record of one raising, from onset to clearing.

    The judge keeps ``value``, ``limit`` and the peak up to date while it stands; the register
    keeps the acknowledgement. Everybody else only reads.

    Attributes
    ----------
    key : str
        Unique within a watch: id, source where there is one, and a running number.
    id : str
        The limit's id, or a data check's, such as ``data:frozen``.
    source : str or None
        The source a data check speaks of; None for a limit.
    quantity : Quantity or None
        What a limit judges; None for a data check.
    words : str
        What a data check found; empty for a limit, whose numbers speak.
    onset, raised : float
        Time of the first violating sample, and of the sample that raised it, UTC s.
    cleared : float or None
        None while it stands.
    value, limit : float or None
        At the newest judged sample, in the quantity's unit; ``limit`` is None outside the curve.
    peak, peak_limit, peak_t : float or None
        The value that exceeded its own limit most since onset, that limit, and when.
    waits : bool
        Whether it asks for acknowledgement.
    """

    key: str
    id: str
    level: Level
    onset: float
    raised: float
    source: str | None = None
    quantity: Quantity | None = None
    action: str = ""
    words: str = ""
    cleared: float | None = None
    value: float | None = None
    limit: float | None = None
    peak: float | None = None
    peak_limit: float | None = None
    peak_t: float | None = None
    waits: bool = True
    acknowledged_by: str | None = None
    acknowledged_t: float | None = None

    @property
    def stands(self) -> bool:
        """Whether it has not cleared."""
        return self.cleared is None


@dataclass(frozen=True, slots=True)
class LifeChange:
    """The judge's word that an exceedance was raised, or has cleared."""

    raised: bool
    exceedance: Exceedance
