"""What makes a message or a table row valid: the one place where the rules of the wire stand.

The rules are written over a plain mapping of field names to values as a decoder gives them
(``int``, ``float``, ``bool``, ``str``, list, ``None``). The typed decoder and the columnar table
reader only sieve: they pass what is clean beyond doubt and hand everything else here, so that a
rejection and its reason always come from this module.

A field is *absent* when its key is missing; ``None`` counts as absent where the field is
optional, since several encoders write it for "no value". Unknown fields are not looked at.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from console.core.frames import euler_deg_from_quaternion
from console.core.ids import SourceId
from console.core.records import CaptureStatus, Heartbeat, RelativeSample
from console.wire.reason import Reason, rejected

PAYLOAD_LIMIT_BYTES = 65536
EARLIEST_T_S = 946684800.0  # 2000-01-01T00:00:00Z
LATEST_T_S = 253402300800.0  # 10000-01-01T00:00:00Z: the first instant with no UTC text form
RANGE_LIMIT_M = 100_000.0
QUATERNION_TOLERANCE = 0.01
ROUNDING = 1e-12
"""Of a length worked out: one of 1.01 as written is still within 1 %."""
# Unsigned on the wire; tables and the recording hold signed 64-bit integers, and at a million
# samples a second the counter would need 290,000 years to get there.
SEQUENCE_LIMIT = 2**63 - 1
LIST_LIMIT = 4096
SOURCE_LIMIT_BYTES = 128

POSITION_FIELDS = ("range_m", "range_rate_mps", "y_m", "z_m")
ATTITUDE_FIELDS = ("roll_deg", "pitch_deg", "yaw_deg")
RATE_FIELDS = ("y_rate_mps", "z_rate_mps", "roll_rate_dps", "pitch_rate_dps", "yaw_rate_dps")
CAPTURE_FLAGS = ("contact", "soft_capture", "hard_capture")
CAPTURE_NUMBERS = (
    "ring_extension",
    "vestibule_kpa",
    "vestibule_degc",
    "rel_rate_mps",
    "rel_rate_dps",
)
CAPTURE_LISTS = ("ready_to_hook", "hooks")

Fields = Mapping[str, object]


def source_name(text: str) -> SourceId:
    """Check the name of a source.

    Raises
    ------
    WireError
        Empty or blank, over 128 bytes of UTF-8, or with characters that do not print
        (controls, line separators, marks that turn the writing direction): it would deform
        logs and the display.
    """
    if not text.strip():
        raise rejected(Reason.SOURCE_NAME, "empty")
    if len(text.encode("utf-8", "surrogatepass")) > SOURCE_LIMIT_BYTES:
        raise rejected(Reason.SOURCE_NAME, f"over {SOURCE_LIMIT_BYTES} bytes: {text[:40]!r}…")
    if not text.isprintable():
        raise rejected(Reason.SOURCE_NAME, f"characters that do not print: {text!r}")
    return SourceId(text)


def relative_sample(source: SourceId, fields: Fields) -> RelativeSample:
    """Make a relative-state sample of decoded fields.

    Raises
    ------
    WireError
        The first fault found, in the order: sequence number, time, position, attitude, rates,
        ``valid``.
    """
    seq = _sequence(fields, "seq")
    t = _time(fields)
    range_m, range_rate_mps, y_m, z_m = (_number(fields, name) for name in POSITION_FIELDS)
    if abs(range_m) > RANGE_LIMIT_M:
        raise rejected(Reason.RANGE, f"range_m = {range_m!r}")
    roll_deg, pitch_deg, yaw_deg = _attitude_deg(fields)
    y_rate, z_rate, roll_rate, pitch_rate, yaw_rate = (
        _optional_number(fields, name) for name in RATE_FIELDS
    )
    valid = fields.get("valid", True)
    if not isinstance(valid, bool):
        # An absent flag means valid, a null one means that the sensor does not say: not the same.
        raise _mistyped("valid", valid, "true or false")
    return RelativeSample(
        source, seq, t, range_m, range_rate_mps, y_m, z_m, roll_deg, pitch_deg, yaw_deg,
        y_rate, z_rate, roll_rate, pitch_rate, yaw_rate, valid,
    )  # fmt: skip


def capture_status(source: SourceId, fields: Fields) -> CaptureStatus:
    """Make a capture status of decoded fields; raises :class:`WireError` at the first fault."""
    return CaptureStatus(
        source=source,
        seq=_sequence(fields, "seq"),
        t=_time(fields),
        contact=_optional_flag(fields, "contact"),
        soft_capture=_optional_flag(fields, "soft_capture"),
        ring_extension=_optional_number(fields, "ring_extension"),
        ready_to_hook=_optional_flags(fields, "ready_to_hook"),
        hooks=_optional_numbers(fields, "hooks"),
        hard_capture=_optional_flag(fields, "hard_capture"),
        vestibule_kpa=_optional_number(fields, "vestibule_kpa"),
        vestibule_degc=_optional_number(fields, "vestibule_degc"),
        rel_rate_mps=_optional_number(fields, "rel_rate_mps"),
        rel_rate_dps=_optional_number(fields, "rel_rate_dps"),
    )


def heartbeat(source: SourceId, fields: Fields) -> Heartbeat:
    """Make a heartbeat of decoded fields; raises :class:`WireError` at the first fault."""
    t = _time(fields)
    return Heartbeat(source, t, _sequence(fields, "last_seq"))


def attitude_from_quaternion(w: float, x: float, y: float, z: float) -> tuple[float, float, float]:
    """Give roll, pitch and yaw in degrees of a quaternion that must be of unit length.

    Raises
    ------
    WireError
        The length is more than 1 % away from 1; within that it is normalised.
    """
    length = math.sqrt(w * w + x * x + y * y + z * z)
    # Written so that an overflow to infinity is refused too.
    if not abs(length - 1.0) <= QUATERNION_TOLERANCE + ROUNDING:
        raise rejected(Reason.QUATERNION, f"length {length:.6g}")
    return euler_deg_from_quaternion(w, x, y, z)


def _attitude_deg(fields: Fields) -> tuple[float, float, float]:
    """Take the three angles, or the quaternion where one of them is absent; check both."""
    roll_deg, pitch_deg, yaw_deg = (_optional_number(fields, name) for name in ATTITUDE_FIELDS)
    q = fields.get("q")
    turned = None
    if q is not None:
        numbers = _numbers("q", q)
        if len(numbers) != 4:
            raise rejected(Reason.MISTYPED, f"q has {len(numbers)} numbers, must have 4")
        turned = attitude_from_quaternion(*numbers)
    if roll_deg is not None and pitch_deg is not None and yaw_deg is not None:
        return roll_deg, pitch_deg, yaw_deg
    if turned is None:
        absent = [name for name in ATTITUDE_FIELDS if fields.get(name) is None]
        raise rejected(Reason.MISSING, f"{', '.join(absent)} (or q)")
    return turned


def _sequence(fields: Fields, name: str) -> int:
    if name not in fields:
        raise rejected(Reason.MISSING, name)
    value = fields[name]
    if isinstance(value, bool) or not isinstance(value, int):
        raise _mistyped(name, value, "a whole number")
    if not 0 <= value <= SEQUENCE_LIMIT:
        raise rejected(Reason.SEQUENCE, f"{name} = {_shown(value)}")
    return value


def _time(fields: Fields) -> float:
    t = _number(fields, "t")
    if t < EARLIEST_T_S:
        raise rejected(Reason.TIME_EARLY, f"t = {t!r}")
    if t >= LATEST_T_S:
        raise rejected(Reason.TIME_LATE, f"t = {t!r}: seconds are meant, not milliseconds")
    return t


def _number(fields: Fields, name: str) -> float:
    if name not in fields:
        raise rejected(Reason.MISSING, name)
    return _as_number(name, fields[name])


def _optional_number(fields: Fields, name: str) -> float | None:
    value = fields.get(name)
    return None if value is None else _as_number(name, value)


def _as_number(name: str, value: object) -> float:
    """Give a finite float; an integer stands for one (JavaScript sends 20.0 as 20)."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _mistyped(name, value, "a number")
    try:
        number = float(value)
    except OverflowError:
        raise rejected(Reason.NOT_FINITE, f"{name}: too large for a float") from None
    if not math.isfinite(number):
        raise rejected(Reason.NOT_FINITE, f"{name} = {number}")
    return number


def _optional_flag(fields: Fields, name: str) -> bool | None:
    value = fields.get(name)
    if value is None or isinstance(value, bool):
        return value
    raise _mistyped(name, value, "true or false")


def _optional_numbers(fields: Fields, name: str) -> tuple[float, ...] | None:
    value = fields.get(name)
    return None if value is None else _numbers(name, value)


def _numbers(name: str, value: object) -> tuple[float, ...]:
    return tuple(_as_number(name, item) for item in _items(name, value))


def _optional_flags(fields: Fields, name: str) -> tuple[bool, ...] | None:
    value = fields.get(name)
    if value is None:
        return None
    flags = []
    for item in _items(name, value):
        if not isinstance(item, bool):
            raise _mistyped(name, item, "a list of true or false")
        flags.append(item)
    return tuple(flags)


def _items(name: str, value: object) -> list[object]:
    if not isinstance(value, list):
        raise _mistyped(name, value, "a list")
    if len(value) > LIST_LIMIT:
        raise rejected(Reason.LIST_LENGTH, f"{name} has {len(value)} items, at most {LIST_LIMIT}")
    return value


def _mistyped(name: str, value: object, wanted: str) -> Exception:
    return rejected(Reason.MISTYPED, f"{name} = {_shown(value)}, must be {wanted}")


def _shown(value: object) -> str:
    """Give a short text of any decoded value; containers and huge integers are not written out."""
    if isinstance(value, int) and not isinstance(value, bool) and value.bit_length() > 128:
        return "an integer of more than 128 bits"
    if isinstance(value, list | tuple | dict):
        return f"a {type(value).__name__} of {len(value)}"
    if isinstance(value, str | bytes):
        return repr(value[:40])
    return repr(value)
