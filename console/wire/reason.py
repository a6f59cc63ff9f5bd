"""Why a message was not taken: the fixed word groups that rejects are counted by."""

from __future__ import annotations

from enum import StrEnum

from console.core.errors import WireError


class Reason(StrEnum):
    """One fault a message can have; the text is what reports and the screen show."""

    TOO_LARGE = "payload over 64 KiB"
    UNKNOWN_TOPIC = "unknown topic"
    SOURCE_NAME = "bad source name"
    UNDECODABLE = "not decodable"
    NOT_A_MAP = "not a map of fields"
    MISSING = "missing field"
    MISTYPED = "mistyped field"
    NOT_FINITE = "NaN or infinity"
    SEQUENCE = "sequence number not unsigned"
    TIME_EARLY = "time before 2000"
    TIME_LATE = "time after 9999"
    RANGE = "range over 100 km"
    QUATERNION = "quaternion not of unit length"
    LIST_LENGTH = "list too long"
    FRAMES = "not two frames"
    SOURCES = "too many sources"


DETAIL_CHARACTERS = 120


def rejected(reason: Reason, detail: str = "") -> WireError:
    """Make the error for a reason, its detail cut to a bounded length."""
    if len(detail) > DETAIL_CHARACTERS:
        detail = detail[: DETAIL_CHARACTERS - 1] + "…"
    return WireError(reason.value, detail)
