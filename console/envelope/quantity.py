"""The judged quantities, in the words and units of the limits file."""

from __future__ import annotations

from enum import StrEnum


class Quantity(StrEnum):
    """A quantity a limit can be set on; the value is its name in the limits file."""

    CLOSING_RATE = "closing_rate"
    LATERAL_OFFSET = "lateral_offset"
    LATERAL_RATE = "lateral_rate"
    PITCH_YAW = "pitch_yaw"
    ROLL = "roll"
    PITCH_YAW_RATE = "pitch_yaw_rate"
    ROLL_RATE = "roll_rate"
    CORRIDOR_ANGLE = "corridor_angle"
    SOURCE_GAP = "source_gap"
    RANGE_RATE_GAP = "range_rate_gap"


MEASURED_ONLY = frozenset({Quantity.SOURCE_GAP, Quantity.RANGE_RATE_GAP})
"""Quantities that compare what was measured, so they have no estimated form."""

AT_CONTACT = (
    Quantity.CLOSING_RATE,
    Quantity.LATERAL_OFFSET,
    Quantity.LATERAL_RATE,
    Quantity.PITCH_YAW,
    Quantity.ROLL,
    Quantity.PITCH_YAW_RATE,
    Quantity.ROLL_RATE,
)
"""Quantities a contact limit can be set on."""

UNIT: dict[Quantity, str] = {
    Quantity.CLOSING_RATE: "m/s",
    Quantity.LATERAL_OFFSET: "m",
    Quantity.LATERAL_RATE: "m/s",
    Quantity.PITCH_YAW: "deg",
    Quantity.ROLL: "deg",
    Quantity.PITCH_YAW_RATE: "deg/s",
    Quantity.ROLL_RATE: "deg/s",
    Quantity.CORRIDOR_ANGLE: "deg",
    Quantity.SOURCE_GAP: "m",
    Quantity.RANGE_RATE_GAP: "m/s",
}
