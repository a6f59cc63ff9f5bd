"""From contact to docked: what each evidence does in each phase, as one table.

Theory of operation
-------------------
After contact the phase goes along :data:`~console.approach.phase.CHAIN`, one link at a time.
Every piece of evidence that leads along the chain belongs to the one phase it shows:

===============  =====================================================================
evidence         shows that the vehicle is in
===============  =====================================================================
contact          contact
soft capture     soft capture
motion           damping (relative motion is reported after soft capture)
ring moving      ring retraction
ready            ready to hook
hooks moving     hooks
hooks closed     hooks closed, every one
hard capture     hard capture, with no hook known to be open
leak passed      docked
===============  =====================================================================

Evidence of the next link moves the phase there: *expected*. Evidence of a later link does so too,
one link for each time it is taken, since what lies between must have happened unseen (a console
started late, a status missed): *implied*. Evidence of a link already reached is *known*. The leak
check alone implies nothing: it *waits* until hard capture is shown.

Contradictions are evidence too. They never move the phase forward. One moves it back: soft
capture that is no longer reported before a hook moves means that the vehicles have parted, and
what follows contact begins again.

Order and evidence: Syromiatnikov, *Spacecraft Docking Devices* (1990), pp. 31, 39 and 98.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType
from typing import TypeAlias

from console.approach.event import Phase
from console.approach.phase import CHAIN

State: TypeAlias = Phase | None
"""A phase of the chain; None before contact, whatever the phase is then."""


class Evidence(Enum):
    """What statuses, range or the leak check show; the value is said as the reason."""

    CONTACT = "contact reported"
    SOFT_CAPTURE = "soft capture reported"
    MOTION = "relative motion reported after soft capture"
    RING_MOVING = "ring retracting"
    READY = "ready to hook on every sensor"
    HOOKS_MOVING = "hooks driving"
    HOOKS_CLOSED = "every hook closed"
    HARD_CAPTURE = "hard capture reported"
    LEAK_PASSED = "vestibule leak check passed"

    CONTACT_LOST = "contact lost before soft capture"
    CAPTURE_LOST = "soft capture lost"
    HOOKS_EARLY = "hooks closing before the ring is in"
    HOOK_OPEN = "hard capture reported with an open hook"
    HARD_CAPTURE_LOST = "hard capture no longer reported"


class Sense(Enum):
    """How a piece of evidence stands to the phase it meets."""

    EXPECTED = "shows the next phase"
    IMPLIED = "shows a later phase, so the next was passed unseen"
    KNOWN = "shows what is known"
    WAITS = "counts only once what comes before it is shown"
    CONTRADICTS = "contradicts the phase"
    PARTED = "the vehicles have parted"
    NOTHING = "says nothing here"


@dataclass(frozen=True, slots=True)
class Move:
    """The state after a piece of evidence, and how it is taken."""

    to: State
    sense: Sense


FORWARD = MappingProxyType(
    {
        Evidence.CONTACT: Phase.CONTACT,
        Evidence.SOFT_CAPTURE: Phase.SOFT_CAPTURE,
        Evidence.MOTION: Phase.DAMPING,
        Evidence.RING_MOVING: Phase.RING_RETRACTION,
        Evidence.READY: Phase.READY_TO_HOOK,
        Evidence.HOOKS_MOVING: Phase.HOOKS,
        Evidence.HOOKS_CLOSED: Phase.HOOKS_CLOSED,
        Evidence.HARD_CAPTURE: Phase.HARD_CAPTURE,
        Evidence.LEAK_PASSED: Phase.DOCKED,
    }
)
"""The phase each piece of evidence along the chain shows."""

AGAINST = MappingProxyType(
    {
        Evidence.CONTACT_LOST: (Phase.CONTACT,),
        Evidence.CAPTURE_LOST: (
            Phase.SOFT_CAPTURE,
            Phase.DAMPING,
            Phase.RING_RETRACTION,
            Phase.READY_TO_HOOK,
            Phase.HOOKS,
        ),
        Evidence.HOOKS_EARLY: (
            Phase.CONTACT,
            Phase.SOFT_CAPTURE,
            Phase.DAMPING,
            Phase.RING_RETRACTION,
            Phase.READY_TO_HOOK,
            Phase.HOOKS,
        ),
        Evidence.HOOK_OPEN: CHAIN,
        Evidence.HARD_CAPTURE_LOST: (Phase.HARD_CAPTURE, Phase.DOCKED),
    }
)
"""The phases each contradiction contradicts; in any other it says nothing.

From hooks closed on the soft-capture latches may let go, as many mechanisms have it.
"""

PARTS = (Phase.SOFT_CAPTURE, Phase.DAMPING, Phase.RING_RETRACTION, Phase.READY_TO_HOOK)
"""Phases in which losing soft capture means parting: no hook holds yet."""


def _forward(at: int, evidence: Evidence) -> Move:
    state = CHAIN[at] if at >= 0 else None
    shown = CHAIN.index(FORWARD[evidence])
    if shown <= at:
        return Move(state, Sense.KNOWN)
    if shown == at + 1:
        return Move(CHAIN[at + 1], Sense.EXPECTED)
    if evidence is Evidence.LEAK_PASSED:
        return Move(state, Sense.WAITS)
    return Move(CHAIN[at + 1], Sense.IMPLIED)


def _against(at: int, evidence: Evidence) -> Move:
    state = CHAIN[at] if at >= 0 else None
    if state not in AGAINST[evidence]:
        return Move(state, Sense.NOTHING)
    if evidence is Evidence.CAPTURE_LOST and state in PARTS:
        return Move(Phase.CONTACT, Sense.PARTED)
    return Move(state, Sense.CONTRADICTS)


TABLE = MappingProxyType(
    {
        (CHAIN[at] if at >= 0 else None, evidence): (
            _forward(at, evidence) if evidence in FORWARD else _against(at, evidence)
        )
        for at in range(-1, len(CHAIN))
        for evidence in Evidence
    }
)
"""Every pair of state and evidence."""


def diagram() -> str:
    """Give the moves as a Mermaid state diagram, implied ones left out."""

    def name(phase: State) -> str:
        return "[*]" if phase is None else phase.value.title().replace(" ", "")

    lines = ["stateDiagram-v2"]
    lines += [f"    {name(p)} : {p.value}" for p in CHAIN if " " in p.value]
    lines += [
        f"    {name(state)} --> {name(move.to)} : {evidence.value}"
        for (state, evidence), move in TABLE.items()
        if move.sense in (Sense.EXPECTED, Sense.PARTED)
    ]
    return "\n".join(lines)
