"""The phases, as a table of cues before contact and a chain of evidence after it.

Theory of operation
-------------------
Before contact the phase follows from what the data show: motion of the range, the hands-off
point, age of the data. Each cue leads to one phase, whatever the phase before; a cue from motion
must stand for :data:`SETTLE_S`, so that noise does not flap the phase, while lost data and the
hands-off point act at once.

After contact phases go forward one at a time along :data:`CHAIN`, by the evidence of
``capture_table``, which also says what contradicts them.
"""

from __future__ import annotations

from enum import StrEnum

from console.approach.event import Phase
from console.core.units import MICROSECOND_S
from console.tracking.contact_time import CLOSING, OPENING
from console.tracking.outlook import Motion

SETTLE_S = 1.0
ABORT_OPENING_FACTOR = 2.5
"""Opening faster than this many times the planned retreat is a departure, not a retreat."""


class Cue(StrEnum):
    """What the data show before contact."""

    SILENT = "data silent"
    CLOSING = "range closing"
    STEADY = "range steady"
    OPENING = "range opening"
    OPENING_FAST = "range opening fast"
    INSIDE = "inside the hands-off point"


PHASE_OF: dict[Cue, Phase] = {
    Cue.SILENT: Phase.DATA_LOST,
    Cue.CLOSING: Phase.APPROACH,
    Cue.STEADY: Phase.HOLD,
    Cue.OPENING: Phase.RETREAT,
    Cue.OPENING_FAST: Phase.ABORT,
    Cue.INSIDE: Phase.HANDS_OFF,
}
_INSIDE = Cue.INSIDE
_CUE_OF = {CLOSING: Cue.CLOSING, Motion.NOT_CLOSING: Cue.STEADY}
AT_ONCE = frozenset({Cue.SILENT, Cue.INSIDE})

CHAIN = (
    Phase.CONTACT,
    Phase.SOFT_CAPTURE,
    Phase.DAMPING,
    Phase.RING_RETRACTION,
    Phase.READY_TO_HOOK,
    Phase.HOOKS,
    Phase.HOOKS_CLOSED,
    Phase.HARD_CAPTURE,
    Phase.DOCKED,
)
"""The phases from contact on, in their only order."""
FROM_CONTACT = frozenset(CHAIN)
FROM_SOFT_CAPTURE = frozenset(CHAIN[1:])


def motion_cue(
    motion: Motion, opening_rate_mps: float, retreat_rate_mps: float, is_inside: bool
) -> Cue | None:
    """Give the cue of the present motion, None where motion says nothing.

    Parameters
    ----------
    motion : Motion
        From the estimator.
    opening_rate_mps : float
        Estimated d(range)/dt, m/s.
    retreat_rate_mps : float
        Planned retreat, m/s, positive.
    is_inside : bool
        The hands-off point has been passed and not left again.
    """
    if motion is OPENING:
        fast = opening_rate_mps > ABORT_OPENING_FACTOR * retreat_rate_mps
        return Cue.OPENING_FAST if fast else Cue.OPENING
    return _INSIDE if is_inside else _CUE_OF.get(motion)


class PhaseBook:
    """The phase now, since when, and the cue that waits to settle."""

    def __init__(self) -> None:
        self.phase = Phase.WAITING
        self.since = 0.0
        self._pending: Cue | None = None
        self._pending_s = 0.0

    @property
    def is_after_contact(self) -> bool:
        """Whether contact was made."""
        return self.phase in FROM_CONTACT

    @property
    def is_after_soft_capture(self) -> bool:
        """Whether soft capture, or more, was seen."""
        return self.phase in FROM_SOFT_CAPTURE

    def cue(self, cue: Cue | None, t: float, engine_s: float) -> Phase | None:
        """Take a cue; give the new phase where it changed, None where it did not.

        Settling is timed by engine time: ``t`` jumps where another source's clock takes over.
        """
        if self.is_after_contact:
            return None
        if cue is None:
            self._pending = None
            return None
        target = PHASE_OF[cue]
        if target is self.phase:
            self._pending = None
            return None
        if cue not in AT_ONCE:
            if cue is not self._pending:
                self._pending = cue
                self._pending_s = engine_s
            if engine_s - self._pending_s < SETTLE_S - MICROSECOND_S:
                return None
        return self._enter(target, t)

    @property
    def state(self) -> Phase | None:
        """The phase where it is one of the chain, else None: not yet in contact."""
        return self.phase if self.is_after_contact else None

    def go(self, phase: Phase, t: float) -> Phase:
        """Enter a phase of the chain, as the table says; give the one before."""
        before = self.phase
        self._enter(phase, t)
        return before

    def _enter(self, phase: Phase, t: float) -> Phase:
        self.phase = phase
        self.since = t
        self._pending = None
        return phase
