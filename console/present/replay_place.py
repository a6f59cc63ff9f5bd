"""Where a trainer wants to stand, as typed: a range, a UTC time, or a time from the begin."""

from __future__ import annotations

import re
from dataclasses import dataclass

from console.core.utc import parse_utc

DAY_S = 86_400.0
ALLOWED = "a range such as 15 m, a UTC time such as 09:31:07, or +120 or +2:00 from the begin"

_RANGE = re.compile(r"(\d+(?:\.\d+)?)\s*m", re.IGNORECASE)
_AFTER = re.compile(r"\+\s*(?:(\d+):)?(?:(\d{1,2}):)?(\d+(?:\.\d+)?)\s*s?")
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}(?:\.\d+)?))?\s*(?:Z|UTC)?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class TimePlace:
    """A time of the pass, UTC seconds."""

    t: float


@dataclass(frozen=True, slots=True)
class RangePlace:
    """A range, m: where it is next reached from outside."""

    range_m: float


def place_of(words: str, t_first: float) -> TimePlace | RangePlace | None:
    """Read a place.

    Parameters
    ----------
    words : str
        ``15 m``; ``09:31``, ``09:31:07.5`` (UTC of the pass's day, the next day where it would be
        before the begin); ``+90``, ``+1:30``, ``+1:01:30`` from the begin; ISO 8601 with Z.
    t_first : float
        Begin of the pass, UTC seconds.

    Returns
    -------
    TimePlace, RangePlace or None
        None where the words are none of these; ``ALLOWED`` says what they may be.
    """
    text = words.strip()
    if found := _RANGE.fullmatch(text):
        return RangePlace(float(found[1]))
    if found := _AFTER.fullmatch(text):
        return TimePlace(t_first + _seconds(found[1], found[2], found[3]))
    if found := _CLOCK.fullmatch(text):
        day = t_first // DAY_S * DAY_S
        t = day + 3600.0 * int(found[1]) + 60.0 * int(found[2]) + float(found[3] or 0.0)
        return TimePlace(t if t >= t_first - 0.5 * DAY_S else t + DAY_S)
    try:
        return TimePlace(parse_utc(text))
    except ValueError:
        return None


def _seconds(first: str | None, second: str | None, last: str) -> float:
    """Give seconds of ``[hours:][minutes:]seconds``; with one colon the first are minutes."""
    parts = [float(part) for part in (first, second) if part is not None]
    total = 0.0
    for part in parts:
        total = 60.0 * (total + part)
    return total + float(last)
