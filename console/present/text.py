"""The one home of how numbers, times and chances are written on the screen.

Decimals are fixed so that digits do not jump, the minus is a real one, an unknown value is a
dash. Nothing here knows a widget.
"""

from __future__ import annotations

import math

from console.approach.words import DECIMALS
from console.core.utc import format_clock
from console.envelope.quantity import Quantity
from console.tracking.outlook import Countdown

MINUS = "−"
UNKNOWN = "—"
THIN = "\u2009"
RANGE_COARSE_FROM_M = 100.0


def number(value: float | None, decimals: int) -> str:
    """Write a number with fixed decimals and a real minus; None or NaN is a dash, -0 is 0."""
    if value is None or not math.isfinite(value):
        return UNKNOWN
    text = f"{abs(value):.{decimals}f}"
    is_zero = not text.strip("0.")
    return text if value >= 0.0 or is_zero else MINUS + text


def signed(value: float | None, decimals: int) -> str:
    """Write a number whose sign always stands, zero with a plus-minus."""
    text = number(value, decimals)
    if text == UNKNOWN or text.startswith(MINUS):
        return text
    return ("+" if text.strip("0.") else "±") + text


def quantity(value: float | None, which: Quantity) -> str:
    """Write a judged quantity's value with the decimals of its kind."""
    return number(value, DECIMALS[which])


def range_m(value: float | None) -> str:
    """Write a range: centimetres below 100 m, decimetres beyond."""
    coarse = value is not None and abs(value) >= RANGE_COARSE_FROM_M
    return number(value, 1 if coarse else 2)


def band(low: float | None, high: float | None, decimals: int) -> str:
    """Write an allowed band: ``0.050–0.110``, or one open side as ``≤`` or ``≥``."""
    if low is not None and high is not None:
        return f"{number(low, decimals)}–{number(high, decimals)}"
    if high is not None:
        return number(high, decimals)
    if low is not None:
        return "≥" + THIN + number(low, decimals)
    return UNKNOWN


def duration(seconds: float | None, *, down: bool = False) -> str:
    """Write a duration as ``1:04`` or ``1:02:03``.

    Parameters
    ----------
    seconds : float or None
        None, NaN or infinity gives a dash; a negative one gets a real minus.
    down : bool
        Cut to whole seconds instead of rounding: for a time by which something must be done.
    """
    if seconds is None or not math.isfinite(seconds):
        return UNKNOWN
    size = abs(seconds)
    whole = math.floor(size) if down else math.floor(size + 0.5)
    minutes, s = divmod(whole, 60)
    hours, m = divmod(minutes, 60)
    text = f"{hours}:{m:02d}:{s:02d}" if hours else f"{m}:{s:02d}"
    return MINUS + text if seconds < 0.0 and whole else text


def doubt(countdown: Countdown) -> str:
    """Write a countdown's 95 % bounds beside it: ``± 3 s``, or that the late one is open.

    The wider side counts where they differ, rounded up: the figure never promises more than
    the bounds do.
    """
    best, low, high = countdown.best_s, countdown.low_s, countdown.high_s
    if best is None or low is None:
        return ""
    if high is None:
        return "or later"
    wide = math.ceil(max(best - low, high - best) - 1e-9)
    if wide >= 100:
        return f"± {duration(wide)}"
    return f"± {max(wide, 1)} s"


def age(seconds: float | None) -> str:
    """Write the age of data: tenths below 100 s, then a duration."""
    if seconds is None or not math.isfinite(seconds):
        return UNKNOWN
    return f"{number(seconds, 1)} s" if seconds < 99.95 else duration(seconds)


def chance(share: float | None) -> str:
    """Write a chance in whole percent; certainty is never claimed at either end."""
    if share is None or not math.isfinite(share):
        return UNKNOWN
    if share > 0.99:
        return "> 99 %"
    if share < 0.01:
        return "< 1 %"
    return f"{share * 100.0:.0f} %"


def clock(t: float | None) -> str:
    """Write the time of day, UTC, ``09:42:22``."""
    return UNKNOWN if t is None else format_clock(t)


def short_hash(sha256: str) -> str:
    """Write a hash short enough for a line: ``3f9a…c1``."""
    return f"{sha256[:4]}…{sha256[-2:]}" if len(sha256) > 8 else sha256 or UNKNOWN


def count(n: int, one: str, many: str | None = None) -> str:
    """Write a count with its noun: ``1 warning``, ``2 warnings``."""
    return f"{n} {one if n == 1 else many or one + 's'}"


def decimals_of(value: float) -> int:
    """Give the fewest decimals, 1 to 4, that write a file's number whole: 0.10 has one."""
    return next((d for d in (1, 2, 3) if float(f"{value:.{d}f}") == value), 4)
