"""In which voice a text speaks: what a panel translates to a colour and a weight.

Colour is kept for what is abnormal and always doubled: a caution carries ◧, a warning ■, and a
stale value is struck through and hatched.
"""

from __future__ import annotations

from enum import StrEnum

from console.envelope.limits import Level

CAUTION_MARK = "◧"
WARNING_MARK = "■"


class Tone(StrEnum):
    """The voice of one text."""

    QUIET = "quiet"
    """Labels, units, what is past."""
    PLAIN = "plain"
    STRONG = "strong"
    """What must be read first: values, the call to make now."""
    CAUTION = "caution"
    WARNING = "warning"
    STALE = "stale"
    """Struck through and hatched: no longer what is, only what was."""


TONE_OF: dict[Level, Tone] = {
    Level.ADVISORY: Tone.PLAIN,
    Level.CAUTION: Tone.CAUTION,
    Level.WARNING: Tone.WARNING,
}

MARK_OF: dict[Level, str] = {
    Level.ADVISORY: "",
    Level.CAUTION: CAUTION_MARK,
    Level.WARNING: WARNING_MARK,
}


def mark_of(level: Level | None) -> str:
    """Give the shape that doubles a level's colour, empty for none."""
    return "" if level is None else MARK_OF[level]


def tone_of(level: Level | None, rest: Tone = Tone.PLAIN) -> Tone:
    """Give the voice of a level, ``rest`` where there is none."""
    return rest if level is None or level is Level.ADVISORY else TONE_OF[level]
