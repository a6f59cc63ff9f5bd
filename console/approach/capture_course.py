"""The way from contact to docked: asks the table what evidence does, and moves the phase.

Bound to a phase book and a capture book; gives the changes of phase as events, each with the
evidence that moved it.
"""

from __future__ import annotations

from collections.abc import Iterator

from console.approach.capture import CaptureBook
from console.approach.capture_table import TABLE, Sense
from console.approach.event import AnyEvent, PhaseChanged
from console.approach.phase import PhaseBook

FORWARD = (Sense.EXPECTED, Sense.IMPLIED)


class CaptureCourse:
    """Moves the phase after contact."""

    def __init__(self, phases: PhaseBook, capture: CaptureBook) -> None:
        self._phases = phases
        self._capture = capture

    def advance(self, t: float, *, is_touching: bool) -> Iterator[PhaseChanged]:
        """Go as far along the chain as the evidence shows, one phase at a time.

        Parameters
        ----------
        t : float
            When the newest evidence was, UTC.
        is_touching : bool
            Contact is known, from the range or a status.
        """
        for evidence in self._capture.shown(is_touching=is_touching):
            while (move := TABLE[self._phases.state, evidence]).sense in FORWARD:
                assert move.to is not None
                words = evidence.value
                if move.sense is Sense.IMPLIED:
                    words = f"not seen itself: {words}"
                before = self._phases.go(move.to, t)
                yield PhaseChanged(t=t, phase=move.to, before=before, evidence=words)

    def look(self, t: float, engine_s: float) -> Iterator[AnyEvent]:
        """Find, at a time, what contradicts the phase, and what is late, lags or fails.

        Parameters
        ----------
        t : float
            Now, UTC, on the clock of the source in use.
        engine_s : float
            Now, engine time.
        """
        if not self._phases.is_after_contact:
            return
        phase = self._phases.phase
        now_t = self._capture.clock(t, engine_s)[1]
        for evidence in self._capture.contradictions(phase, t, engine_s):
            move = TABLE[phase, evidence]
            if move.sense is Sense.PARTED and move.to is not None:
                self._capture.part(now_t)
                before = self._phases.go(move.to, now_t)
                yield PhaseChanged(t=now_t, phase=move.to, before=before, evidence=evidence.value)
        yield from self._capture.look(self._phases.phase, t, engine_s)
