"""What is spoken aloud, and in which order: warnings before range calls, and nothing late.

A late range call is a wrong one, so of calls only the newest is kept and one that waited longer
than :data:`CALL_WAITS_S` is dropped. A warning breaks a call off, and a newer call breaks an older
one off; a warning lets another warning finish.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

from console.approach.event import (
    AnyEvent,
    ContactMade,
    ExceedanceRaised,
    HandsOffPassed,
    MarkPassed,
    Unshelved,
)
from console.envelope.limits import Level

CALL_WAITS_S = 1.0
WARNING_WAITS_S = 8.0
"""Long enough for another warning to be said first."""
WARNINGS_KEPT = 4

_SAID = (
    (" m/s", " metres a second"),
    (" deg/s", " degrees a second"),
    (" mm/s", " millimetres a second"),
    (" deg", " degrees"),
    (" m", " metres"),
    (" s", " seconds"),
)
"""Units as they are spoken, where they end a word."""


class Urgency(IntEnum):
    """What goes before what."""

    CALL = 1
    WARNING = 2


@dataclass(frozen=True, slots=True)
class Saying:
    """Something to be said.

    Attributes
    ----------
    since_s : float
        When it came up, on a clock that only runs forward, s.
    """

    words: str
    urgency: Urgency
    since_s: float

    def is_late(self, now_s: float) -> bool:
        """Tell whether it has waited so long that it must not be said any more."""
        waits_s = WARNING_WAITS_S if self.urgency is Urgency.WARNING else CALL_WAITS_S
        return now_s - self.since_s > waits_s


def saying_of(event: AnyEvent, now_s: float) -> Saying | None:
    """Give what an event has said aloud: calls and warnings, nothing else."""
    match event:
        case MarkPassed() | HandsOffPassed() | ContactMade():
            return Saying(spoken(event.words), Urgency.CALL, now_s)
        case ExceedanceRaised(level=Level.WARNING.word, shelved=False):
            return Saying(spoken(f"Warning. {event.words}"), Urgency.WARNING, now_s)
        case Unshelved(level=Level.WARNING.word, standing=True):
            words = f"Warning. {event.id.replace('-', ' ')} stands, no longer shelved"
            return Saying(spoken(words), Urgency.WARNING, now_s)
    return None


def spoken(words: str) -> str:
    """Write words as a voice should read them: units in full, no marks."""
    text = f" {words} "
    for unit, said in _SAID:
        for end in (" ", ",", "."):
            text = text.replace(unit + end, said + end)
    return " ".join(text.replace("—", ",").replace("/ ", "and ").split())


class SpeechQueue:
    """What waits to be said; bounded, and never says anything late."""

    def __init__(self) -> None:
        self._call: Saying | None = None
        self._warnings: list[Saying] = []
        self.dropped = 0

    def put(self, saying: Saying) -> None:
        """Take a saying; a call takes the place of one that waits."""
        if saying.urgency is Urgency.CALL:
            self.dropped += self._call is not None
            self._call = saying
        else:
            self._warnings.append(saying)
            if len(self._warnings) > WARNINGS_KEPT:
                del self._warnings[0]
                self.dropped += 1

    def take(self, now_s: float, speaking: Saying | None) -> Saying | None:
        """Give what is to be said now, breaking off what is ``speaking``; None to go on.

        Parameters
        ----------
        now_s : float
            On the clock of the sayings.
        speaking : Saying or None
            What the voice says at this moment.
        """
        self._drop_late(now_s)
        if self._warnings:
            if speaking is not None and speaking.urgency is Urgency.WARNING:
                return None
            return self._warnings.pop(0)
        if self._call is None or (speaking is not None and speaking.urgency is Urgency.WARNING):
            return None
        call, self._call = self._call, None
        return call

    def clear(self) -> None:
        """Forget what waits: muted."""
        self._call = None
        self._warnings.clear()

    def _drop_late(self, now_s: float) -> None:
        if self._call is not None and self._call.is_late(now_s):
            self._call = None
            self.dropped += 1
        late = [saying for saying in self._warnings if saying.is_late(now_s)]
        self.dropped += len(late)
        self._warnings = [saying for saying in self._warnings if saying not in late]
