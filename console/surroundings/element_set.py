"""An orbit from an orbit mean-elements message or a two-line element set, carried by SGP4.

The library ``sgp4`` is imported when a message is read, not before. It gives positions in TEME;
beside a Sun of date they are used as they stand.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from console.core.errors import Fault, InputError
from console.core.units import EARTH_MU_M3_PER_S2, EARTH_RADIUS_M, RAD_PER_DEG, S_PER_DAY
from console.core.utc import parse_utc
from console.motion.orbit import M_PER_KM
from console.surroundings.orbit import OrbitState
from console.surroundings.orbit_text import Fields, Form, omm_fields, sniff, tle_lines

if TYPE_CHECKING:
    from sgp4.api import Satrec

MESSAGE_MAX_AGE_DAYS = 14.0
"""Mean elements of a low orbit drift by 1 to 3 km a day: 4 to 6 s of a sunset in two weeks."""
_UNIX_JD = 2_440_587.5
_1950_UNIX_S = -631_238_400.0  # 1949-12-31T00:00:00Z, from which sgp4init counts days
_REVS_PER_DAY = 2.0 * math.pi / 1440.0

_NUMBERS = {
    "MEAN_MOTION": (0.0, 20.0),
    "ECCENTRICITY": (0.0, 0.99),
    "INCLINATION": (0.0, 180.0),
    "RA_OF_ASC_NODE": (-360.0, 360.0),
    "ARG_OF_PERICENTER": (-360.0, 360.0),
    "MEAN_ANOMALY": (-360.0, 360.0),
    "BSTAR": (-10.0, 10.0),
}
"""What SGP4 needs, and within which bounds it may be."""
_WORDS = {
    "CENTER_NAME": ("EARTH",),
    "REF_FRAME": ("TEME",),
    "TIME_SYSTEM": ("UTC",),
    "MEAN_ELEMENT_THEORY": ("SGP4", "SGP/SGP4"),
}
"""What must stand there if the message says it at all."""


class ElementSet:
    """An orbit of mean elements.

    Parameters
    ----------
    text : str
        The message, in any of the forms of ``orbit_text``.
    name : str
        What errors and notes call it.

    Raises
    ------
    InputError
        It cannot be read, or is not such an orbit; says what is allowed.
    """

    def __init__(self, text: str, name: str) -> None:
        self.text = text
        self._name = name
        form = sniff(text, name)
        self._satellite = (
            _of_tle(tle_lines(text, name), name)
            if form is Form.TLE
            else _of_fields(omm_fields(text, form, name), name)
        )
        whole_days: float = self._satellite.jdsatepoch - _UNIX_JD
        part_of_day: float = self._satellite.jdsatepochF
        self._epoch_s = (whole_days + part_of_day) * S_PER_DAY
        if self.state(self._epoch_s) is None:
            raise InputError.of(
                name, "", "no orbit: SGP4 finds no state at its epoch", "check the elements"
            )

    def __deepcopy__(self, memo: dict[int, object]) -> ElementSet:
        """Give itself: it never changes."""
        return self

    def __reduce__(self) -> tuple[type[ElementSet], tuple[str, str]]:
        """Travel to another process as text."""
        return ElementSet, (self.text, self._name)

    @property
    def name(self) -> str:
        """What it is called in a note."""
        return self._name

    @property
    def epoch_s(self) -> float:
        """For which time it was made, UTC seconds since 1970."""
        return self._epoch_s

    @property
    def max_age_days(self) -> float:
        """How far from its epoch it may be believed."""
        return MESSAGE_MAX_AGE_DAYS

    @property
    def altitude_km(self) -> float:
        """Mean altitude over the equatorial radius, from the mean motion by Kepler's third law."""
        mean_motion_rad_per_s: float = self._satellite.no_kozai / 60.0
        axis_m = math.cbrt(EARTH_MU_M3_PER_S2 / mean_motion_rad_per_s**2)
        return (axis_m - EARTH_RADIUS_M) / M_PER_KM

    def state(self, t_s: float) -> OrbitState | None:
        """Give the state in TEME; None where SGP4 refuses, as after a decay."""
        day, second = divmod(t_s, S_PER_DAY)
        error, position, velocity = self._satellite.sgp4(_UNIX_JD + day, second / S_PER_DAY)
        if error != 0 or not all(math.isfinite(x) for x in (*position, *velocity)):
            return None
        return OrbitState(position, velocity)


def read_orbit(data: bytes, name: str) -> ElementSet:
    """Read an orbit message.

    Parameters
    ----------
    data : bytes
        An OMM of one object as XML, CSV, KVN or JSON, or a two-line element set.
    name : str
        What errors call it.

    Raises
    ------
    InputError
        Not such a message.
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        found = f"byte 0x{data[error.start]:02x} is not UTF-8"
        raise InputError.of(name, "", found, "save the file as UTF-8") from None
    return ElementSet(text, name)


def _of_tle(lines: tuple[str, str], name: str) -> Satrec:
    from sgp4.api import Satrec

    try:
        return Satrec.twoline2rv(*lines)
    except ValueError as error:
        raise InputError.of(name, "", f"not an element set: {error}", "copy it again") from None


def _of_fields(fields: Fields, name: str) -> Satrec:
    from sgp4.api import WGS72, Satrec

    faults: list[Fault] = []
    values = {key: _number(fields, key, bounds, faults) for key, bounds in _NUMBERS.items()}
    epoch_s = _epoch(fields, faults)
    for key, allowed in _WORDS.items():
        found = fields.get(key)
        if found is not None and found.upper() not in allowed:
            faults.append(Fault(key, f"found {found!r}", "must be " + " or ".join(allowed)))
    if faults:
        raise InputError(name, tuple(faults))
    satellite = Satrec()
    satellite.sgp4init(
        WGS72,
        "i",
        0,  # the catalogue number says nothing about the orbit
        (epoch_s - _1950_UNIX_S) / S_PER_DAY,
        values["BSTAR"],
        0.0,  # SGP4 does not use the derivatives of the mean motion
        0.0,
        values["ECCENTRICITY"],
        values["ARG_OF_PERICENTER"] * RAD_PER_DEG,
        values["INCLINATION"] * RAD_PER_DEG,
        values["MEAN_ANOMALY"] * RAD_PER_DEG,
        values["MEAN_MOTION"] * _REVS_PER_DAY,
        values["RA_OF_ASC_NODE"] * RAD_PER_DEG,
    )
    return satellite


def _number(fields: Fields, key: str, bounds: tuple[float, float], faults: list[Fault]) -> float:
    least, most = bounds
    mend = f"a number from {least:g} to {most:g}"
    found = fields.get(key, "")
    try:
        value = float(found)
    except ValueError:
        faults.append(Fault(key, f"found {found!r}" if found else "missing", mend))
        return math.nan
    if not least <= value <= most or (key == "MEAN_MOTION" and value == 0.0):
        faults.append(Fault(key, f"found {found}", mend))
    return value


def _epoch(fields: Fields, faults: list[Fault]) -> float:
    found = fields.get("EPOCH", "")
    stated = found if found.endswith("Z") else f"{found}Z"  # an OMM's TIME_SYSTEM says UTC
    try:
        return parse_utc(stated)
    except ValueError:
        mend = "a UTC time such as 2031-04-10T09:35:00.000"
        faults.append(Fault("EPOCH", f"found {found!r}" if found else "missing", mend))
        return math.nan
