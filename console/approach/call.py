"""Calls and steps: what was done, the call to make now, what comes next."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable
from functools import lru_cache

import msgspec

from console.approach.event import Phase
from console.approach.phase import CHAIN
from console.approach.snapshot import CallLine
from console.approach.words import metres

NOW_S = 6.0
"""A call counts as the one to make now for this long after its mark was passed."""
DONE_KEPT = 60

AFTER_CONTACT: tuple[tuple[Phase, str, str], ...] = (
    (Phase.SOFT_CAPTURE, "soft_capture", "Confirm soft capture"),
    (Phase.DAMPING, "damped", "Motion damped"),
    (Phase.RING_RETRACTION, "retracted", "Ring retracted"),
    (Phase.HOOKS, "hooks", "Hooks closed"),
    (Phase.HARD_CAPTURE, "hard_capture", "Hard capture"),
    (Phase.DOCKED, "leak", "Leak check passed"),
)


class Expected(msgspec.Struct, frozen=True, gc=False):
    """Something to come, or a step that is due and not done.

    Attributes
    ----------
    in_s : float or None
        In how many seconds; None where that is not known, and for what is due.
    stage : int
        Where along the chain after contact it belongs; -1 before contact.
    at_m : float or None
        At which range, m, where it is bound to one.
    who : str
        Who does a step.
    is_due : bool
        To be done now.
    overdue_s : float or None
        For how long it has been overdue.
    is_missed : bool
        Due, not done, and its time is over.
    """

    key: str
    words: str
    in_s: float | None
    stage: int = -1
    at_m: float | None = None
    who: str = ""
    is_due: bool = False
    overdue_s: float | None = None
    is_missed: bool = False


_AFTER = tuple(
    Expected(key, words, None, stage=CHAIN.index(step)) for step, key, words in AFTER_CONTACT
)


def in_order(expected: Iterable[Expected]) -> list[Expected]:
    """Sort by expectation: what is due, then by time, by stage after contact, by range inward.

    What has no time stands behind what has one; what depends on no range stands before what
    does, since it may come at once.
    """

    def place(item: Expected) -> tuple[bool, bool, float, int, float]:
        is_due, in_s, at_m = item.is_due, item.in_s, item.at_m
        is_timeless = in_s is None and not is_due
        inward = -math.inf if at_m is None else -at_m
        return (not is_due, is_timeless, in_s or 0.0, item.stage, inward)

    return sorted(expected, key=place)


class CallBook:
    """The lines done, and how they and what is expected read as a list."""

    def __init__(self) -> None:
        self._done: deque[CallLine] = deque(maxlen=DONE_KEPT)
        self.keys: set[str] = set()

    def note(self, key: str, words: str, t: float, who: str = "") -> None:
        """Add a line done at ``t``."""
        self._done.append(CallLine(key, words, "done", t, None, who))
        if not key.startswith(ONCE):
            self.keys.add(key)

    def has(self, key: str) -> bool:
        """Whether a line of this key was done."""
        return key in self.keys

    def lines(self, t: float, expected: list[Expected]) -> tuple[CallLine, ...]:
        """Give done lines, oldest first, those missed, then what is expected, soonest first."""
        lines = [
            CallLine(line.key, line.words, "now", line.t, None)
            if line.t is not None and t - line.t <= NOW_S and line.key.startswith(SPOKEN)
            else line
            for line in self._done
        ]
        missed: list[CallLine] = []
        due: list[CallLine] = []
        later: list[CallLine] = []
        for item in expected:
            in_s = item.in_s
            if item.is_missed:
                into, state = missed, "missed"
            elif item.is_due:
                into, state = due, "now"
            else:
                into, state = later, "later" if later and in_s is None else "next"
            into.append(
                CallLine(item.key, item.words, state, None, in_s, item.who, item.overdue_s)
            )
        return (*lines, *missed, *due, *later)


ONCE = "source:"
"""Begins the keys of lines that come any number of times, each under a key of its own."""
SPOKEN = ("mark:", "hands_off", "contact", "soft_capture", "hard_capture")
"""Lines that are calls: words to be said on the loop, not steps merely seen."""


def expected_after_contact(phase: Phase, has: set[str]) -> list[Expected]:
    """Give the steps of capture still to come."""
    at = CHAIN.index(phase) if phase in CHAIN else -1
    return [one for one in _AFTER if one.stage >= at and one.key not in has]


@lru_cache(maxsize=256)
def mark_key(range_m: float) -> str:
    """Give the key of a range mark's call."""
    return f"mark:{range_m:g}"


def mark_ahead(range_m: float, in_s: float | None) -> Expected:
    """Give a range mark as something to come."""
    return Expected(mark_key(range_m), metres(range_m), in_s, at_m=range_m)
