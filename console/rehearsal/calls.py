"""What a trainee calls: timed words, read off a recording's own events.

A call is logged as any call of an operator is, so it is recorded, replayed and timed by the
engine. ``seen:<quantity>`` and ``seen:data`` say that an exceedance was seen; the other words are
those an operator logs on a live watch.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from console.approach.event import AnyEvent, CallMade
from console.approach.words import said_words
from console.envelope.quantity import Quantity

MARK = "mark:"
SEEN = "seen:"
DATA = "data"
"""What is seen where the data themselves are at fault: ``seen:data``."""
DATA_QUANTITIES = frozenset({Quantity.SOURCE_GAP, Quantity.RANGE_RATE_GAP})
"""Limits on these speak of the data, not of the vehicle: they are seen as data at fault."""
STOP = "stop"
STOP_CALLS = ("hold", "retreat", "abort")
"""Calls that ask the vehicle to stop; any of them answers where a stop is called for."""


@dataclass(frozen=True, slots=True)
class TraineeCall:
    """One call: when (UTC seconds, on the clock of the source in use), which, by whom."""

    t: float
    call: str
    initials: str = ""

    @property
    def subject(self) -> str:
        """What it is about: calls and true events of one subject are matched."""
        return STOP if self.call in STOP_CALLS else self.call

    @property
    def words(self) -> str:
        """The call in words."""
        return words_of(self.call)


def calls_of(events: Iterable[AnyEvent]) -> tuple[TraineeCall, ...]:
    """Give the calls among events, in order of time."""
    calls = [TraineeCall(e.t, e.call, e.initials) for e in events if isinstance(e, CallMade)]
    return tuple(sorted(calls, key=lambda call: call.t))


def words_of(subject: str) -> str:
    """Word a subject or a call: ``10 metres``, ``closing rate exceeded``, ``hold``."""
    return said_words(subject).lower()


def subject_of(quantity: Quantity) -> str:
    """Give the subject of a quantity's exceedance."""
    return SEEN + (DATA if quantity in DATA_QUANTITIES else quantity.value)
