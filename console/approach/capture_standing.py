"""What should stand about capture now: late, lagging, contradicting, failed, with its words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from console.approach.capture_evidence import open_hooks
from console.approach.capture_flags import Flag
from console.approach.capture_now import Awaited
from console.approach.capture_table import Evidence
from console.approach.event import Phase
from console.core.records import CaptureStatus
from console.envelope.limits import Level

LOST = "capture:lost"
LATE = "capture:late"


@dataclass(frozen=True, slots=True)
class Standing:
    """Where capture stands, as far as flags ask; times UTC.

    Attributes
    ----------
    contradictions : mapping
        Confirmed ones, and since when.
    parted_t : float or None
        When the vehicles parted after soft capture; None while they hold together.
    lagging, lagging_words : tuple of int, str
        Hooks that lag, from 1, and how that is said.
    not_settling, leak_fails : str
        The words of a verdict that is a fault; empty where it is none.
    is_unsettled : bool
        The ring came in before the motion had settled.
    """

    t: float
    phase: Phase
    merged: CaptureStatus | None
    contradictions: Mapping[Evidence, float]
    parted_t: float | None
    awaited: tuple[Awaited, ...]
    lagging: tuple[int, ...]
    lagging_words: str
    not_settling: str
    is_unsettled: bool
    leak_fails: str


def standing(now: Standing) -> dict[str, Flag]:
    """Give what should stand, by id."""
    return dict([*_warnings(now), *_cautions(now)])


def _warnings(now: Standing) -> Iterator[tuple[str, Flag]]:
    for evidence, since in now.contradictions.items():
        id_, words = _said(evidence, now.merged)
        yield id_, Flag(Level.WARNING, words, since, f"{words}: no more", key=evidence.name)
    if now.parted_t is not None:
        yield LOST, Flag(
            Level.WARNING, "Soft capture lost", now.parted_t, "Soft capture again",
            key=Evidence.CAPTURE_LOST.name,
        )  # fmt: skip
    if now.leak_fails:
        yield "capture:leak", Flag(Level.WARNING, now.leak_fails, now.t, "Leak check made again")


def _cautions(now: Standing) -> Iterator[tuple[str, Flag]]:
    late = next((a for a in now.awaited if a.is_late), None)
    # where nobody ever told of capture nothing was going to come: that is said, not flagged
    if late is not None and now.merged is not None:
        words = f"{late.words.capitalize()} awaited for {late.expected_s:.0f} s"
        yield LATE, Flag(
            Level.CAUTION, f"Late: {words}", late.since + late.expected_s,
            f"{late.words.capitalize()}: no longer awaited", key=late.words,
        )  # fmt: skip
    if now.lagging:
        key = ",".join(str(number) for number in now.lagging)
        yield (
            "capture:hook",
            Flag(Level.CAUTION, now.lagging_words, now.t, f"Hook {key}: lags no more", key=key),
        )
    if now.not_settling:
        yield (
            "capture:damping",
            Flag(Level.CAUTION, now.not_settling, now.t, "Relative motion: settling or settled"),
        )
    if now.is_unsettled and now.phase is Phase.RING_RETRACTION:
        words = "Ring retracting before the motion has settled"
        yield "capture:unsettled", Flag(Level.CAUTION, words, now.t, "Ring retracted")


def _said(evidence: Evidence, merged: CaptureStatus | None) -> tuple[str, str]:
    """Give a contradiction's id and its words."""
    match evidence:
        case Evidence.CONTACT_LOST:
            return "capture:contact-lost", "Contact lost before soft capture"
        case Evidence.HOOKS_EARLY:
            ring = None if merged is None else merged.ring_extension
            out = "" if ring is None else f", ring {ring * 100.0:.0f} % out"
            return "capture:hooks-early", f"Hooks closing before the ring is in{out}"
        case Evidence.HOOK_OPEN:
            numbers = () if merged is None else open_hooks(merged)
            named = ", ".join(str(number) for number in numbers)
            hook = "hook" if len(numbers) == 1 else "hooks"
            return "capture:hook-open", f"Hard capture reported with {hook} {named} open"
        case Evidence.HARD_CAPTURE_LOST:
            return LOST, "Hard capture no longer reported"
        case _:
            return LOST, "Soft capture lost"
