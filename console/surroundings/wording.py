"""How the coming light and link are said: lengths of time and times of day."""

from __future__ import annotations

from console.core.utc import format_clock

S_PER_MIN = 60
MIN_PER_H = 60


def spoken_length(seconds: float) -> str:
    """Say a length of time: ``15 s``, ``1 min 50 s``, ``31 min``, ``1 h 02 min``.

    Whole minutes from ten minutes on: nothing that far away is known to the second.
    """
    whole = round(abs(seconds))
    minutes, rest = divmod(whole, S_PER_MIN)
    if minutes == 0:
        return f"{rest} s"
    if minutes < 10:
        return f"{minutes} min {rest} s" if rest else f"{minutes} min"
    minutes = round(whole / S_PER_MIN)
    hours, minutes = divmod(minutes, MIN_PER_H)
    return f"{hours} h {minutes:02d} min" if hours else f"{minutes} min"


def clock(t_s: float) -> str:
    """Say a time of day, UTC, ``09:42:22``."""
    return format_clock(t_s)


def capitalised(words: str) -> str:
    """Begin a sentence, leaving every other letter as it is."""
    return words[:1].upper() + words[1:]
