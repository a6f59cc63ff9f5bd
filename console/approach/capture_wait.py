"""Evidence that is awaited after contact, and how long it usually takes.

The times are generous for a mechanism of the usual kind (capture within seconds, damping within
minutes, hooks in a few minutes; project decision): what takes longer deserves a look, not more.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

from console.approach.capture_now import Awaited, VestibuleStage
from console.approach.event import Phase
from console.core.units import MICROSECOND_S

SETTLED_S = 180.0
"""Relative motion has settled so long after soft capture."""
FILLED_S = 3600.0
"""The vestibule is being pressurised so long after hard capture, and is full as much later."""
CHECKED_S = 4.0 * 3600.0
"""The leak check says something so long after the pressure is held."""


@dataclass(frozen=True, slots=True)
class Wait:
    """What leads out of a phase, and after how long it is late."""

    words: str
    expected_s: float


WAITS = MappingProxyType(
    {
        Phase.CONTACT: Wait("soft capture", 15.0),
        Phase.SOFT_CAPTURE: Wait("relative motion", 15.0),
        Phase.DAMPING: Wait("ring retraction", 300.0),
        Phase.RING_RETRACTION: Wait("ready to hook", 300.0),
        Phase.READY_TO_HOOK: Wait("hooks driving", 300.0),
        Phase.HOOKS: Wait("hooks closed", 300.0),
        Phase.HOOKS_CLOSED: Wait("hard capture", 60.0),
    }
)
"""Hard capture waits for the vestibule, which has stages of its own."""

VESTIBULE_WAITS = MappingProxyType(
    {
        VestibuleStage.UNKNOWN: Wait("vestibule pressure", FILLED_S),
        VestibuleStage.EMPTY: Wait("vestibule pressurisation", FILLED_S),
        VestibuleStage.FILLING: Wait("vestibule full", FILLED_S),
        VestibuleStage.CLOSED: Wait("leak check", CHECKED_S),
    }
)


@dataclass(slots=True)
class _Since:
    wait: Wait
    t: float
    engine_s: float


class WaitBook:
    """What is awaited now, and since when."""

    def __init__(self) -> None:
        self._next: _Since | None = None
        self._settling: _Since | None = None

    def follow(
        self,
        phase: Phase,
        stage: VestibuleStage,
        t: float,
        engine_s: float,
        *,
        is_damping: bool,
    ) -> None:
        """Note where capture stands at a time, UTC and engine time."""
        wait = VESTIBULE_WAITS.get(stage) if phase is Phase.HARD_CAPTURE else WAITS.get(phase)
        before = self._next
        if wait is None or before is None or before.wait != wait:
            self._next = None if wait is None else _Since(wait, t, engine_s)
        if not is_damping:
            self._settling = None
        elif self._settling is None:
            self._settling = _Since(Wait("motion settled", SETTLED_S), t, engine_s)

    def awaited(self, engine_s: float) -> tuple[Awaited, ...]:
        """Give what is awaited, first what leads to the next phase."""
        return tuple(
            Awaited(s.wait.words, s.t, max(engine_s - s.engine_s, 0.0), s.wait.expected_s)
            for s in (self._next, self._settling)
            if s is not None
        )

    def next_timer_s(self, engine_s: float) -> float | None:
        """Give the next engine time at which something awaited is late, None if nothing will."""
        moments = (
            s.engine_s + s.wait.expected_s for s in (self._next, self._settling) if s is not None
        )
        return min((m for m in moments if m > engine_s + MICROSECOND_S), default=None)
