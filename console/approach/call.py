"""Calls and steps: what was done, the call to make now, what comes next."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

from console.approach.event import Phase
from console.approach.phase import CHAIN
from console.approach.snapshot import CallLine
from console.approach.words import metres

NOW_S = 6.0
"""A call counts as the one to make now for this long after its mark was passed."""
DONE_KEPT = 60
MARKS_AHEAD = 3

AFTER_CONTACT: tuple[tuple[Phase, str, str], ...] = (
    (Phase.SOFT_CAPTURE, "soft_capture", "Confirm soft capture"),
    (Phase.DAMPING, "damped", "Motion damped"),
    (Phase.RING_RETRACTION, "retracted", "Ring retracted"),
    (Phase.HOOKS, "hooks", "Hooks closed"),
    (Phase.HARD_CAPTURE, "hard_capture", "Hard capture"),
)


@dataclass(frozen=True, slots=True)
class Expected:
    """Something to come and in how many seconds, None where that is not known."""

    key: str
    words: str
    in_s: float | None


class CallBook:
    """The lines done, and how they and what is expected read as a list."""

    def __init__(self) -> None:
        self._done: deque[CallLine] = deque(maxlen=DONE_KEPT)
        self.keys: set[str] = set()

    def note(self, key: str, words: str, t: float) -> None:
        """Add a line done at ``t``."""
        self._done.append(CallLine(key, words, "done", t, None))
        self.keys.add(key)

    def has(self, key: str) -> bool:
        """Whether a line of this key was done."""
        return key in self.keys

    def lines(self, t: float, expected: list[Expected]) -> tuple[CallLine, ...]:
        """Give done lines, oldest first, then what is expected, soonest first."""
        lines = [
            CallLine(line.key, line.words, "now", line.t, None)
            if line.t is not None and t - line.t <= NOW_S and line.key.startswith(SPOKEN)
            else line
            for line in self._done
        ]
        for number, item in enumerate(expected):
            state = "next" if number == 0 or item.in_s is not None else "later"
            lines.append(CallLine(item.key, item.words, state, None, item.in_s))
        return tuple(lines)


SPOKEN = ("mark:", "hands_off", "contact", "soft_capture", "hard_capture")
"""Lines that are calls: words to be said on the loop, not steps merely seen."""


def expected_after_contact(phase: Phase, has: set[str]) -> list[Expected]:
    """Give the steps of capture still to come."""
    at = CHAIN.index(phase) if phase in CHAIN else -1
    return [
        Expected(key, words, None)
        for step, key, words in AFTER_CONTACT
        if key not in has and CHAIN.index(step) >= at
    ]


def mark_key(range_m: float) -> str:
    """Give the key of a range mark's call."""
    return f"mark:{range_m:g}"


def mark_ahead(range_m: float, in_s: float | None) -> Expected:
    """Give a range mark as something to come."""
    return Expected(mark_key(range_m), metres(range_m), in_s)
