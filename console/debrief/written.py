"""How a debrief writes what the window does not: moments, bands, shares, who."""

from __future__ import annotations

import math

from console.approach.words import DECIMALS
from console.core.normal import Z_95
from console.core.utc import format_utc
from console.envelope.limits import ContactLimit
from console.envelope.quantity import Quantity
from console.present import text
from console.tracking.outlook import Spread

SMALL_SHARE = 0.0995


def moment(t: float | None) -> str:
    """Write date and time of day, UTC; NaN, as of an empty pass, is unknown."""
    if t is None or math.isnan(t):
        return text.UNKNOWN
    return format_utc(t, 0).replace("T", " ").replace("Z", " UTC")


def seconds(value: float | None) -> str:
    """Write seconds with a tenth and their unit."""
    written = text.number(value, 1)
    return written if written == text.UNKNOWN else f"{written} s"


def delay(value: float | None) -> str:
    """Write a delay in seconds; a minus for ahead of time."""
    written = text.signed(value, 1)
    return written if written == text.UNKNOWN else f"{written} s"


def metres(value: float | None) -> str:
    """Write a range with its unit."""
    written = text.range_m(value)
    return written if written == text.UNKNOWN else f"{written} m"


def share(value: float | None) -> str:
    """Write a margin as a share of its limit in percent, with its sign; small ones to a tenth."""
    if value is None:
        return text.UNKNOWN
    if abs(value) == float("inf"):
        return "limit is 0"
    return f"{text.signed(value * 100.0, 1 if abs(value) < SMALL_SHARE else 0)} %"


def spread(value: Spread | None, quantity: Quantity) -> str:
    """Write a predicted value with half the width of its 95 % bounds."""
    if value is None:
        return text.UNKNOWN
    decimals = DECIMALS[quantity]
    half = text.number(Z_95 * value.sigma, decimals)
    return f"{text.number(value.mean, decimals)} ± {half}"


def contact_band(limit: ContactLimit | None) -> str:
    """Write what a contact limit allows; a dash where none is set."""
    if limit is None:
        return text.UNKNOWN
    known = [v for v in (limit.minimum, limit.maximum) if v is not None]
    decimals = max(DECIMALS[limit.quantity] - 1, *map(text.decimals_of, known))
    band = text.band(limit.minimum, limit.maximum, decimals)
    return band if limit.minimum is not None else f"≤{text.THIN}{band}"


def sha(sha256: str) -> str:
    """Write enough of a hash to tell files apart."""
    return sha256[:12] if sha256 else "none: every value by default"
