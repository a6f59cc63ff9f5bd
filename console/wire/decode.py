"""Bytes off the wire -> a valid record, or the reason why not. Nothing else ever comes out.

Theory of operation. A message is decoded straight into a typed struct whose fields carry the
bounds of the rules (finite, after 2000, within 100 km, unsigned), so that a clean message costs
one pass in compiled code. Only what that sieve refuses is decoded again into plain values and
judged field by field by :mod:`console.wire.rules`, which finds the reason.

One sender's bytes must never harm another's: any payload, however nested, long or wrong, ends in
a record or in a :class:`~console.core.errors.WireError`.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from functools import lru_cache
from typing import Annotated, TypeAlias

import msgspec
from msgspec.structs import astuple

from console.core.errors import WireError
from console.core.ids import SourceId
from console.core.records import CaptureStatus, Heartbeat, Record, RelativeSample
from console.wire import rules
from console.wire.reason import Reason, rejected
from console.wire.rules import PAYLOAD_LIMIT_BYTES
from console.wire.topic import Kind, parse_topic

_LARGEST = sys.float_info.max
# Both bounds refuse NaN too: no comparison with it holds.
_Finite: TypeAlias = Annotated[float, msgspec.Meta(ge=-_LARGEST, le=_LARGEST)]
_Time: TypeAlias = Annotated[float, msgspec.Meta(ge=rules.EARLIEST_T_S, lt=rules.LATEST_T_S)]
_Range: TypeAlias = Annotated[float, msgspec.Meta(ge=-rules.RANGE_LIMIT_M, le=rules.RANGE_LIMIT_M)]
_Sequence: TypeAlias = Annotated[int, msgspec.Meta(ge=0, le=rules.SEQUENCE_LIMIT)]
_Numbers: TypeAlias = Annotated[tuple[_Finite, ...], msgspec.Meta(max_length=rules.LIST_LIMIT)]
_Flags: TypeAlias = Annotated[tuple[bool, ...], msgspec.Meta(max_length=rules.LIST_LIMIT)]
_Quaternion: TypeAlias = tuple[_Finite, _Finite, _Finite, _Finite]


class _Relative(msgspec.Struct, gc=False):
    """The fields of a relative-state sample; the attitude may come either way."""

    seq: _Sequence
    t: _Time
    range_m: _Range
    range_rate_mps: _Finite
    y_m: _Finite
    z_m: _Finite
    roll_deg: _Finite | None = None
    pitch_deg: _Finite | None = None
    yaw_deg: _Finite | None = None
    y_rate_mps: _Finite | None = None
    z_rate_mps: _Finite | None = None
    roll_rate_dps: _Finite | None = None
    pitch_rate_dps: _Finite | None = None
    yaw_rate_dps: _Finite | None = None
    valid: bool = True
    q: _Quaternion | None = None


class _Capture(msgspec.Struct, gc=False):
    """A capture status, its fields in the order of ``CaptureStatus`` without the source."""

    seq: _Sequence
    t: _Time
    contact: bool | None = None
    soft_capture: bool | None = None
    ring_extension: _Finite | None = None
    ready_to_hook: _Flags | None = None
    hooks: _Numbers | None = None
    hard_capture: bool | None = None
    vestibule_kpa: _Finite | None = None
    vestibule_degc: _Finite | None = None
    rel_rate_mps: _Finite | None = None
    rel_rate_dps: _Finite | None = None


class _Beat(msgspec.Struct, gc=False):
    """A heartbeat, its fields in the order of ``Heartbeat`` without the source."""

    t: _Time
    last_seq: _Sequence


_BRACE = 0x7B  # an opening brace: JSON; in MessagePack the number 123, never a map

# Every error that decoding foreign bytes can end in: no byte at all, not this form, bounds, types,
# text that is not UTF-8 or a number with too many digits, nesting beyond the stack, numbers beyond
# a float, keys that cannot be hashed, lengths beyond memory.
_DECODING_ERRORS = (
    IndexError,
    msgspec.MsgspecError,
    ValueError,
    RecursionError,
    OverflowError,
    TypeError,
    MemoryError,
)


def decode(topic: bytes, payload: bytes) -> Record:
    """Give the record of one message.

    Parameters
    ----------
    topic : bytes
        ``rel/<source>``, ``cap/<source>`` or ``hb/<source>``.
    payload : bytes
        One MessagePack map, or one JSON object where the first byte is ``{``; at most 64 KiB.

    Raises
    ------
    WireError
        The message does not validate; ``reason`` is a text of
        :class:`~console.wire.reason.Reason`. The caller counts it and goes on.
    """
    if len(payload) > PAYLOAD_LIMIT_BYTES:
        raise rejected(Reason.TOO_LARGE, f"{len(payload)} bytes")
    read, source = _route(topic)
    try:
        return read(source, payload)
    except _DECODING_ERRORS:
        return _judged(topic, payload)


_Reader: TypeAlias = Callable[[SourceId, bytes], Record]

_relative_from_messagepack = msgspec.msgpack.Decoder(_Relative).decode
_relative_from_json = msgspec.json.Decoder(_Relative).decode
_capture_from_messagepack = msgspec.msgpack.Decoder(_Capture).decode
_capture_from_json = msgspec.json.Decoder(_Capture).decode
_beat_from_messagepack = msgspec.msgpack.Decoder(_Beat).decode
_beat_from_json = msgspec.json.Decoder(_Beat).decode


def _relative(source: SourceId, payload: bytes) -> RelativeSample:
    is_json = payload[0] == _BRACE
    m = _relative_from_json(payload) if is_json else _relative_from_messagepack(payload)
    roll_deg, pitch_deg, yaw_deg = m.roll_deg, m.pitch_deg, m.yaw_deg
    if m.q is not None:
        turned = rules.attitude_from_quaternion(*m.q)
        if roll_deg is None or pitch_deg is None or yaw_deg is None:
            roll_deg, pitch_deg, yaw_deg = turned
    elif roll_deg is None or pitch_deg is None or yaw_deg is None:
        raise ValueError("no attitude")
    # Positional and written out: half the cost of unpacking, and every sample pays it.
    return RelativeSample(
        source, m.seq, m.t, m.range_m, m.range_rate_mps, m.y_m, m.z_m, roll_deg, pitch_deg,
        yaw_deg, m.y_rate_mps, m.z_rate_mps, m.roll_rate_dps, m.pitch_rate_dps, m.yaw_rate_dps,
        m.valid,
    )  # fmt: skip


def _capture(source: SourceId, payload: bytes) -> CaptureStatus:
    is_json = payload[0] == _BRACE
    m = _capture_from_json(payload) if is_json else _capture_from_messagepack(payload)
    return CaptureStatus(source, *astuple(m))


def _heartbeat(source: SourceId, payload: bytes) -> Heartbeat:
    is_json = payload[0] == _BRACE
    m = _beat_from_json(payload) if is_json else _beat_from_messagepack(payload)
    return Heartbeat(source, m.t, m.last_seq)


_READERS: dict[Kind, _Reader] = {
    Kind.RELATIVE: _relative,
    Kind.CAPTURE: _capture,
    Kind.HEARTBEAT: _heartbeat,
}


# A pure function remembered, since a watch sees a handful of topics millions of times; refusals
# are not remembered, and the bound keeps a hostile sender from filling memory.
@lru_cache(maxsize=256)
def _route(topic: bytes) -> tuple[_Reader, SourceId]:
    kind, source = parse_topic(topic)
    return _READERS[kind], source


_RULES: dict[Kind, Callable[[SourceId, rules.Fields], Record]] = {
    Kind.RELATIVE: rules.relative_sample,
    Kind.CAPTURE: rules.capture_status,
    Kind.HEARTBEAT: rules.heartbeat,
}


def _judged(topic: bytes, payload: bytes) -> Record:
    """Judge by the rules what the sieve refused; nearly always this raises."""
    kind, source = parse_topic(topic)
    is_json = payload[:1] == b"{"
    try:
        fields = msgspec.json.decode(payload) if is_json else msgspec.msgpack.decode(payload)
    except _DECODING_ERRORS as error:
        raise _undecodable(kind, source, payload, error) from None
    if not isinstance(fields, dict):
        raise rejected(Reason.NOT_A_MAP, f"a {type(fields).__name__}")
    # Reached without a fault only where the sieve is stricter than the rules: a map with a key
    # that is no text is an unknown field, and ignored as such.
    return _RULES[kind](source, fields)


def _undecodable(kind: Kind, source: SourceId, payload: bytes, error: Exception) -> WireError:
    """Find why text is no JSON: several encoders write NaN and Infinity, which JSON has not."""
    if payload[:1] == b"{":
        try:
            _RULES[kind](source, json.loads(payload))
        except WireError as fault:
            if fault.reason == Reason.NOT_FINITE:
                return fault
        except _DECODING_ERRORS:
            pass
    return rejected(Reason.UNDECODABLE, str(error))
