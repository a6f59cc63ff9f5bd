"""The calls that were logged, beside what they were about."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from console.approach.call import mark_key
from console.approach.event import (
    AnyEvent,
    CallMade,
    CaptureStep,
    ContactMade,
    HandsOffPassed,
    MarkPassed,
)
from console.approach.words import said_words
from console.rehearsal.calls import STOP_CALLS


@dataclass(frozen=True, slots=True)
class CallEntry:
    """Something to call, and its call; or a call by itself, such as a hold called.

    Attributes
    ----------
    words : str
        What was to be called, or what was called.
    passed_t : float or None
        When it happened, UTC s; None for a call that answers nothing on the way in.
    called_t : float or None
        When the call was logged; None where it was not.
    was_useful : bool or None
        Of a stop call, whether it still helped; None for others, and where it is not known.
    """

    key: str
    words: str
    passed_t: float | None
    called_t: float | None
    initials: str
    was_useful: bool | None = None

    @property
    def delay_s(self) -> float | None:
        """From what happened to its call, s; negative for one called ahead."""
        if self.passed_t is None or self.called_t is None:
            return None
        return self.called_t - self.passed_t

    @property
    def t(self) -> float:
        """When it belongs into the list."""
        return self.passed_t if self.passed_t is not None else self.called_t or 0.0


def call_log(events: Sequence[AnyEvent]) -> tuple[CallEntry, ...]:
    """Give everything there was to call with its call, and all other calls, in order of time.

    A call answers the thing of its kind it lies nearest to in time; of two calls for one thing
    the nearer answers it.
    """
    calls = [event for event in events if isinstance(event, CallMade)]
    wanted = _to_call(events)
    answers = _paired(wanted, calls)
    entries = []
    for i, (key, words, t) in enumerate(wanted):
        call = calls[answers[i]] if i in answers else None
        if call is None:
            entries.append(CallEntry(key, words, t, None, ""))
        else:
            entries.append(CallEntry(key, words, t, call.t, call.initials))
    heard = set(answers.values())
    entries += [
        CallEntry(call.call, _words(call.call), None, call.t, call.initials, call.was_useful)
        for i, call in enumerate(calls)
        if i not in heard
    ]
    return tuple(sorted(entries, key=lambda entry: entry.t))


def _to_call(events: Sequence[AnyEvent]) -> list[tuple[str, str, float]]:
    found: list[tuple[str, str, float]] = []
    contacts = [event for event in events if isinstance(event, ContactMade)]
    for event in events:
        match event:
            case MarkPassed():
                found.append((mark_key(event.range_m), event.words, event.t))
            case HandsOffPassed():
                found.append(("hands_off", event.words, event.t))
            case ContactMade() if event is contacts[-1]:  # an earlier sign of it may come later
                found.append(("contact", event.words, event.t))
            case CaptureStep(step="soft_capture"):
                found.append(("soft_capture", event.words, event.t))
    return found


def _paired(wanted: Sequence[tuple[str, str, float]], calls: Sequence[CallMade]) -> dict[int, int]:
    """Give for each thing to call the place of its call, the nearest pairs first."""
    pairs = sorted(
        (abs(call.t - t), i, k)
        for i, (key, _, t) in enumerate(wanted)
        for k, call in enumerate(calls)
        if call.call == key
    )
    found: dict[int, int] = {}
    taken: set[int] = set()
    for _, i, k in pairs:
        if i not in found and k not in taken:
            found[i] = k
            taken.add(k)
    return found


def _words(call: str) -> str:
    said = said_words(call)
    return f"{said} called" if call in STOP_CALLS else f"Called: {said.lower()}"
