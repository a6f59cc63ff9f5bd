"""The calls a trainee makes with one key each, and what the row of keys shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from console.approach.call import mark_key
from console.approach.words import LABEL, plain
from console.envelope.limits import LimitsFile
from console.envelope.quantity import Quantity
from console.rehearsal.calls import DATA, DATA_QUANTITIES, SEEN, subject_of

DATA_KEY = "0"
MARK_KEY = "R"
DIGITS = "123456789"
MILESTONE_KEYS = (("H", "hands_off", "hands off"), ("K", "contact", "contact"),
                  ("F", "soft_capture", "soft capture"))  # fmt: skip
STOP_KEYS = (("Shift+H", "hold", "hold"), ("Shift+R", "retreat", "retreat"))


@dataclass(frozen=True, slots=True)
class CallKey:
    """One key: what is pressed, the call it logs, and its words."""

    key: str
    call: str
    words: str


@dataclass(frozen=True, slots=True)
class MarkChoice:
    """The range mark the next press of its key calls; others with the bracket keys."""

    ranges_m: tuple[float, ...]
    place: int = 0

    @property
    def range_m(self) -> float | None:
        """The mark to call next, None after the last."""
        return self.ranges_m[self.place] if self.place < len(self.ranges_m) else None

    @property
    def key(self) -> CallKey | None:
        """The key as it stands now."""
        if self.range_m is None:
            return None
        return CallKey(MARK_KEY, mark_key(self.range_m), f"{plain(self.range_m)} m")

    def moved(self, steps: int) -> MarkChoice:
        """Give the choice of another mark, inward with positive steps."""
        place = min(max(self.place + steps, 0), len(self.ranges_m))
        return MarkChoice(self.ranges_m, place)


def marks_of(limits: LimitsFile, start_range_m: float | None) -> MarkChoice:
    """Give the marks that lie ahead of a start, outermost first."""
    marks = sorted(limits.marks_m, reverse=True)
    return MarkChoice(tuple(m for m in marks if start_range_m is None or m < start_range_m))


def seen_keys(limits: LimitsFile) -> tuple[CallKey, ...]:
    """Give a digit for each judged quantity, in the order of the window's ledger, and 0."""
    judged = {limit.quantity for limit in limits.limits} - DATA_QUANTITIES
    ordered: Sequence[Quantity] = [q for q in Quantity if q in judged]
    keys = [
        CallKey(digit, subject_of(quantity), LABEL[quantity].lower())
        for digit, quantity in zip(DIGITS, ordered, strict=False)
    ]
    return (*keys, CallKey(DATA_KEY, SEEN + DATA, "data at fault"))
