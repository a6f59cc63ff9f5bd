"""Units a foreign table may use, to the project's own: value · numerator / denominator + offset.

The two integers or floats of a unit are kept apart so that 1234.5 mm is the float nearest to
1.2345 m, which a product with 0.001 need not be.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from console.core.units import (
    DEG_PER_RAD,
    KELVIN_AT_0_DEGC,
    M_PER_FT,
    PA_PER_KPA,
    PA_PER_MMHG,
    PA_PER_PSI,
    PA_PER_TORR,
    S_PER_H,
)
from console.wire.table import CAP_FIELDS, REL_FIELDS


class Dimension(StrEnum):
    """What a field measures."""

    LENGTH = "length"
    SPEED = "speed"
    ANGLE = "angle"
    TURN_RATE = "turn rate"
    TIME = "time"
    PRESSURE = "pressure"
    TEMPERATURE = "temperature"
    FRACTION = "fraction"
    NONE = "no unit"


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit by what its value is multiplied with, divided by, and shifted by."""

    name: str
    numerator: float = 1.0
    denominator: float = 1.0
    offset: float = 0.0

    @property
    def is_own(self) -> bool:
        """Whether nothing is to be converted."""
        return self.numerator == self.denominator and not self.offset

    def to_own(self, value: float) -> float:
        """Give a value in the project's unit."""
        return value * self.numerator / self.denominator + self.offset


def _units(*units: Unit) -> dict[str, Unit]:
    return {unit.name: unit for unit in units}


_DEG_F_AT_0_DEGC = 32.0

# The project's own unit first.
UNITS: dict[Dimension, dict[str, Unit]] = {
    Dimension.LENGTH: _units(
        Unit("m"),
        Unit("km", 1000.0),
        Unit("cm", 1.0, 100.0),
        Unit("mm", 1.0, 1000.0),
        Unit("ft", M_PER_FT),
    ),
    Dimension.SPEED: _units(
        Unit("m/s"),
        Unit("cm/s", 1.0, 100.0),
        Unit("mm/s", 1.0, 1000.0),
        Unit("km/h", 1000.0, S_PER_H),
        Unit("ft/s", M_PER_FT),
    ),
    Dimension.ANGLE: _units(
        Unit("deg"),
        Unit("rad", DEG_PER_RAD),
        Unit("mrad", DEG_PER_RAD, 1000.0),
        Unit("arcmin", 1.0, 60.0),
    ),
    Dimension.TURN_RATE: _units(
        Unit("deg/s"),
        Unit("rad/s", DEG_PER_RAD),
        Unit("mrad/s", DEG_PER_RAD, 1000.0),
        Unit("deg/h", 1.0, S_PER_H),
    ),
    Dimension.TIME: _units(
        Unit("s"),
        Unit("ms", 1.0, 1e3),
        Unit("us", 1.0, 1e6),
        Unit("ns", 1.0, 1e9),
    ),
    Dimension.PRESSURE: _units(
        Unit("kPa"),
        Unit("Pa", 1.0, PA_PER_KPA),
        Unit("hPa", 1.0, 10.0),
        Unit("mbar", 1.0, 10.0),
        Unit("bar", 100.0),
        Unit("mmHg", PA_PER_MMHG, PA_PER_KPA),
        Unit("torr", PA_PER_TORR, PA_PER_KPA),
        Unit("psi", PA_PER_PSI, PA_PER_KPA),
    ),
    Dimension.TEMPERATURE: _units(
        Unit("degC"),
        Unit("K", offset=-KELVIN_AT_0_DEGC),
        Unit("degF", 5.0, 9.0, -_DEG_F_AT_0_DEGC * 5.0 / 9.0),
    ),
    Dimension.FRACTION: _units(Unit("1"), Unit("%", 1.0, 100.0)),
    Dimension.NONE: {},
}

_BY_ENDING = (
    ("_mps", Dimension.SPEED),
    ("_dps", Dimension.TURN_RATE),
    ("_deg", Dimension.ANGLE),
    ("_kpa", Dimension.PRESSURE),
    ("_degc", Dimension.TEMPERATURE),
    ("_m", Dimension.LENGTH),
)


def dimension_of(field: str) -> Dimension:
    """Give what a field of a table measures."""
    if field == "t":
        return Dimension.TIME
    if field == "ring_extension":
        return Dimension.FRACTION
    for ending, dimension in _BY_ENDING:
        if field.endswith(ending):
            return dimension
    return Dimension.NONE


FIELDS = ("source", "seq", "t", *REL_FIELDS, *CAP_FIELDS)
