"""The words of calls and exceedances: one home for what is said and written.

Spoken figures: metres as they stand in the limits file, closing in whole centimetres a second,
times in whole seconds, so that a call is short enough to say.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from console.envelope.quantity import UNIT, Quantity
from console.tracking.outlook import Countdown

LABEL: dict[Quantity, str] = {
    Quantity.CLOSING_RATE: "Closing rate",
    Quantity.LATERAL_OFFSET: "Lateral offset",
    Quantity.LATERAL_RATE: "Lateral rate",
    Quantity.PITCH_YAW: "Pitch / yaw",
    Quantity.ROLL: "Roll",
    Quantity.PITCH_YAW_RATE: "Pitch / yaw rate",
    Quantity.ROLL_RATE: "Roll rate",
    Quantity.CORRIDOR_ANGLE: "Corridor angle",
    Quantity.SOURCE_GAP: "Source gap",
    Quantity.RANGE_RATE_GAP: "Range rate gap",
}
"""What each judged quantity is called wherever it is written."""

DECIMALS: dict[Quantity, int] = {
    Quantity.CLOSING_RATE: 3,
    Quantity.LATERAL_OFFSET: 3,
    Quantity.LATERAL_RATE: 3,
    Quantity.PITCH_YAW: 2,
    Quantity.ROLL: 2,
    Quantity.PITCH_YAW_RATE: 2,
    Quantity.ROLL_RATE: 2,
    Quantity.CORRIDOR_ANGLE: 1,
    Quantity.SOURCE_GAP: 2,
    Quantity.RANGE_RATE_GAP: 3,
}


def plain(value: float) -> str:
    """Write a number of a file without a trailing ``.0``."""
    return f"{value:g}"


FASTEST_MPS = 1e6
"""Said of whatever is faster: a source that sends nonsense must not end the watch."""


@lru_cache(maxsize=256)  # the few ranges of the files are said in every snapshot
def metres(range_m: float) -> str:
    """Say a range: ``10 metres``, ``1 metre``."""
    return f"{plain(range_m)} metre{'' if range_m == 1.0 else 's'}"


def centimetres_a_second(closing_rate_mps: float) -> str:
    """Say a closing rate in whole centimetres a second, with opening said as such."""
    cm = round(min(abs(closing_rate_mps), FASTEST_MPS) * 100.0)
    way = "opening" if closing_rate_mps < 0.0 else "closing"
    return f"{way} {cm} centimetre{'' if cm == 1 else 's'} a second"


def mark_call(range_m: float, closing_rate_mps: float, to_contact: Countdown) -> str:
    """Word the call at a range mark."""
    call = f"{metres(range_m)}, {centimetres_a_second(closing_rate_mps)}"
    if to_contact.best_s is None:
        return call
    seconds = round(to_contact.best_s)
    return f"{call}, contact in {seconds} second{'' if seconds == 1 else 's'}"


def hands_off_call(range_m: float, closing_rate_mps: float) -> str:
    """Word the call at the hands-off point."""
    return f"Hands off, {metres(range_m)}, {centimetres_a_second(closing_rate_mps)}"


def contact_call(closing_rate_mps: float | None) -> str:
    """Word the call at contact."""
    if closing_rate_mps is None:
        return "Contact"
    return f"Contact, {centimetres_a_second(closing_rate_mps)}"


def exceedance_words(quantity: Quantity, value: float, limit: float) -> str:
    """Word an exceedance: what, how much, of how much."""
    decimals = DECIMALS[quantity]
    return f"{LABEL[quantity]} {value:.{decimals}f} against {limit:.{decimals}f} {UNIT[quantity]}"


def said_words(call: str) -> str:
    """Word a call as the record keeps it: ``mark:10`` is said as ``10 metres``."""
    kind, _, what = call.partition(":")
    if kind == "mark" and what.replace(".", "", 1).isdigit():
        return metres(float(what))
    if kind == "seen" and what in set(Quantity):
        return f"{LABEL[Quantity(what)]} exceeded"
    if kind == "seen":
        return "Data at fault"
    return call.capitalize().replace("_", " ")


def not_kept_words(
    outside: Sequence[tuple[str, float | None]], head: str, head_unknown: str = "unknown: "
) -> str:
    """Name the contact limits that were not kept, those whose value is unknown apart.

    Parameters
    ----------
    outside : sequence of (str, float or None)
        Name and value at contact of each; None: nobody measured it.
    head, head_unknown : str
        What leads the names where one was measured to be outside, and where none was.
    """
    known = ", ".join(name for name, value in outside if value is not None)
    unknown = ", ".join(name for name, value in outside if value is None)
    if not known:
        return head_unknown + unknown
    return head + known + (f"; unknown: {unknown}" if unknown else "")
