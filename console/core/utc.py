"""UTC as seconds since 1970-01-01T00:00:00Z, and its text forms.

Text after CCSDS 301.0-B-4 section 3.5 (ASCII calendar and day-of-year codes): a fraction of one
or more digits, terminator ``Z``. A leap second (``:60``) has no number of its own in seconds
since 1970: it is read as the first second of the next minute, as POSIX time does.
"""

from __future__ import annotations

import re
from calendar import isleap
from datetime import UTC, datetime, timedelta

_CALENDAR = re.compile(
    r"(\d{4})-(\d{2})-(\d{2})[T ](\d{2}):(\d{2}):(\d{2})(?:[.,](\d+))?(Z|[+-]00:?00)?"
)
_ORDINAL = re.compile(r"(\d{4})-(\d{3})[T ](\d{2}):(\d{2}):(\d{2})(?:[.,](\d+))?(Z|[+-]00:?00)?")
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def parse_utc(text: str) -> float:
    """Read a UTC instant written in ISO 8601 / CCSDS A or B form.

    Parameters
    ----------
    text : str
        ``2031-04-11T09:42:22.5Z`` or ``2031-101T09:42:22.5Z``. The ``Z`` must stand: a time
        without a zone is refused, since it may be local time.

    Returns
    -------
    float
        Seconds since 1970-01-01T00:00:00Z.

    Raises
    ------
    ValueError
        Not such a text, no zone, or no such date.

    Notes
    -----
    Source: CCSDS 301.0-B-4 (November 2010) section 3.5.1; the worked example
    1988-01-18T17:20:43.123456Z = 569524843.123456 is in the tests.
    """
    stripped = text.strip()
    match = _CALENDAR.fullmatch(stripped)
    if match:
        year, month, day = int(match[1]), int(match[2]), int(match[3])
        start = datetime(year, month, day, tzinfo=UTC)
        clock = match.groups()[3:]
    else:
        match = _ORDINAL.fullmatch(stripped)
        if not match:
            raise ValueError(f"{text!r} is not a UTC time such as 2031-04-11T09:42:22.5Z")
        year, ordinal = int(match[1]), int(match[2])
        start = datetime(year, 1, 1, tzinfo=UTC)
        if not 1 <= ordinal <= 365 + isleap(year):  # a day past the last year is no date at all
            raise ValueError(f"{text!r}: the year {year} has no day {ordinal}")
        start += timedelta(days=ordinal - 1)
        clock = match.groups()[2:]
    hour, minute, second = int(clock[0]), int(clock[1]), int(clock[2])
    if clock[4] is None:
        raise ValueError(f"{text!r} has no Z: UTC must be marked")
    if hour > 23 or minute > 59 or second > 60:
        raise ValueError(f"{text!r}: no such time of day")
    whole = (start - _EPOCH).days * 86400 + hour * 3600 + minute * 60 + second
    fraction = f"0.{clock[3]}" if clock[3] else "0"
    return float(whole) + float(fraction)


def format_utc(t_s: float, digits: int = 3) -> str:
    """Write an instant as ``2031-04-11T09:42:22.500Z``.

    Parameters
    ----------
    t_s : float
        Seconds since 1970-01-01T00:00:00Z.
    digits : int
        Decimals of the second, 0 to 6.
    """
    moment = _rounded(t_s, digits)
    text = moment.strftime("%Y-%m-%dT%H:%M:%S")
    if digits:
        text += f".{moment.microsecond:06d}"[: digits + 1]
    return text + "Z"


def format_clock(t_s: float, digits: int = 0) -> str:
    """Write the time of day alone, ``09:42:22``, for a strip where the date is known."""
    moment = _rounded(t_s, digits)
    text = moment.strftime("%H:%M:%S")
    if digits:
        text += f".{moment.microsecond:06d}"[: digits + 1]
    return text


def _rounded(t_s: float, digits: int) -> datetime:
    unit = 10 ** (6 - digits)
    micros = round(t_s * 1e6 / unit) * unit
    return _EPOCH + timedelta(microseconds=micros)
