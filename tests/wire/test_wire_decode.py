"""Every rule of the wire, in both forms."""

from __future__ import annotations

import json
import math
import struct

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from wire_cases import (
    ANGLES,
    NUMBERS,
    REQUIRED,
    T,
    beat_fields,
    capture_fields,
    sample_fields,
    without,
)

from console.core.errors import WireError
from console.core.records import CaptureStatus, Heartbeat, RelativeSample
from console.wire.decode import decode
from console.wire.reason import Reason

REL, CAP, BEAT = b"rel/optical", b"cap/mechanism", b"hb/optical"


def messagepack(fields: object) -> bytes:
    """Pack as MessagePack."""
    return msgspec.msgpack.encode(fields)


def json_text(fields: object) -> bytes:
    """Write as JSON; NaN and infinity as Python (and others) write them, against the standard."""
    return json.dumps(fields).encode()


both = pytest.mark.parametrize("pack", [messagepack, json_text], ids=["messagepack", "json"])


def refusal(topic: bytes, payload: bytes) -> WireError:
    """Give the error a message is refused with."""
    with pytest.raises(WireError) as caught:
        decode(topic, payload)
    return caught.value


@both
def test_whole_sample(pack):
    """Every field of a sample arrives as sent, the source from the topic."""
    expected = RelativeSample(
        "optical", 7, T, 20.5, -0.09, 0.1, -0.2, 0.3, -0.4, 0.5,
        0.001, -0.002, 0.01, 0.02, -0.03, True,
    )  # fmt: skip
    assert expected == decode(REL, pack(sample_fields()))


@both
def test_smallest_sample(pack):
    """Rates are absent and the sample valid where neither is sent."""
    record = decode(REL, pack({name: sample_fields()[name] for name in REQUIRED}))
    assert (
        record.y_rate_mps,
        record.z_rate_mps,
        record.roll_rate_dps,
        record.pitch_rate_dps,
        record.yaw_rate_dps,
    ) == (None,) * 5
    assert record.valid is True


@both
def test_capture_status(pack):
    """Every field of a capture status arrives, its lists as tuples."""
    expected = CaptureStatus(
        "mechanism", 3, T, True, False, 1.0, (True, False, True), (0.0, 0.5, 1.0), False,
        101.3, 21.0, 0.002, 0.01,
    )  # fmt: skip
    assert expected == decode(CAP, pack(capture_fields()))


@both
def test_smallest_capture_status(pack):
    """A capture status needs only its number and time."""
    assert CaptureStatus("mechanism", 0, T) == decode(CAP, pack({"seq": 0, "t": T}))


@both
def test_heartbeat(pack):
    """A heartbeat gives the last number published."""
    assert Heartbeat("optical", T, 41) == decode(BEAT, pack(beat_fields()))


@both
@pytest.mark.parametrize("name", NUMBERS)
def test_integer_stands_for_float(pack, name):
    """JavaScript sends 20.0 as 20: an integer is taken for every float, and becomes one."""
    whole = 1932100000 if name == "t" else 20
    value = getattr(decode(REL, pack(sample_fields(**{name: whole}))), name)
    assert (float, float(whole)) == (type(value), value)


@both
@pytest.mark.parametrize("name", ["ring_extension", "vestibule_kpa", "rel_rate_dps"])
def test_integer_stands_for_float_in_capture(pack, name):
    """So it is in a capture status, and inside its lists."""
    record = decode(CAP, pack(capture_fields(**{name: 1, "hooks": [0, 1, 1]})))
    assert float is type(getattr(record, name))
    assert record.hooks == (0.0, 1.0, 1.0)
    assert all(type(item) is float for item in record.hooks)


@both
def test_unknown_fields_are_ignored(pack):
    """Fields that nobody named here change nothing, whatever they hold."""
    extra = sample_fields(sensor="A", mode=[1, {"a": None}], temperature="warm", source="radio")
    assert decode(REL, pack(sample_fields())) == decode(REL, pack(extra))


def test_unknown_keys_of_other_types_are_ignored():
    """A MessagePack key that is no text is an unknown field like any other."""
    record = decode(REL, messagepack(sample_fields() | {3: 4, None: 5}))
    assert decode(REL, messagepack(sample_fields())) == record


@both
def test_null_is_absent_where_optional(pack):
    """An encoder that writes null for "no value" sends an absent field."""
    record = decode(REL, pack(sample_fields(y_rate_mps=None, q=None)))
    assert record.y_rate_mps is None
    assert decode(CAP, pack({"seq": 0, "t": T, "hooks": None, "contact": None})).hooks is None


@both
@pytest.mark.parametrize("name", REQUIRED)
def test_missing_field(pack, name):
    """A sample without a required field is refused for that, and named."""
    error = refusal(REL, pack(without(sample_fields(), name)))
    assert error.reason == Reason.MISSING
    assert name in error.detail


@both
@pytest.mark.parametrize(
    ("topic", "fields"),
    [
        (CAP, {"t": T}),
        (CAP, {"seq": 1}),
        (BEAT, {"t": T}),
        (BEAT, {"last_seq": 4}),
    ],
)
def test_missing_field_elsewhere(pack, topic, fields):
    """Capture status and heartbeat need their number and time."""
    assert refusal(topic, pack(fields)).reason == Reason.MISSING


@both
@pytest.mark.parametrize("value", ["20.5", True, None, [20.5], {"m": 20.5}, ""])
@pytest.mark.parametrize("name", ["t", "range_m", "range_rate_mps", "y_m", "z_m"])
def test_mistyped_number(pack, name, value):
    """Text, booleans, null and containers do not stand for a required number."""
    assert refusal(REL, pack(sample_fields(**{name: value}))).reason == Reason.MISTYPED


@both
@pytest.mark.parametrize(
    ("topic", "fields"),
    [
        (REL, sample_fields(roll_deg="0.3")),
        (REL, sample_fields(yaw_rate_dps=False)),
        (REL, sample_fields(valid=1)),
        (REL, sample_fields(valid=None)),
        (REL, sample_fields(valid="true")),
        (REL, sample_fields(seq=7.0)),
        (REL, sample_fields(seq="7")),
        (REL, sample_fields(seq=None)),
        (REL, sample_fields(q=[1.0, 0.0, 0.0])),
        (REL, sample_fields(q="1;0;0;0")),
        (REL, sample_fields(q=[1.0, 0.0, 0.0, "0"])),
        (CAP, capture_fields(contact=1)),
        (CAP, capture_fields(hooks=0.5)),
        (CAP, capture_fields(hooks=[0.5, None])),
        (CAP, capture_fields(hooks=[True])),
        (CAP, capture_fields(ready_to_hook=[1, 0])),
        (CAP, capture_fields(ring_extension="1")),
        (BEAT, beat_fields(last_seq=1.5)),
        (BEAT, beat_fields(t="2031-04-11T09:42:22Z")),
    ],
)
def test_mistyped_field(pack, topic, fields):
    """A field of another type is refused, named with what was found."""
    error = refusal(topic, pack(fields))
    assert error.reason == Reason.MISTYPED
    assert " = " in error.detail or "has 3 numbers" in error.detail


@both
@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize("name", NUMBERS)
def test_not_finite(pack, name, value):
    """NaN and infinity are refused in every number, also as JSON text that breaks JSON."""
    assert refusal(REL, pack(sample_fields(**{name: value}))).reason == Reason.NOT_FINITE


@both
@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_not_finite_in_capture(pack, value):
    """So it is in a capture status, in its lists, in a quaternion and in a heartbeat."""
    for fields in (capture_fields(vestibule_kpa=value), capture_fields(hooks=[0.0, value])):
        assert refusal(CAP, pack(fields)).reason == Reason.NOT_FINITE
    quaternion = sample_fields(q=[1.0, 0.0, value, 0.0])
    assert refusal(REL, pack(quaternion)).reason == Reason.NOT_FINITE
    assert refusal(BEAT, pack(beat_fields(t=value))).reason == Reason.NOT_FINITE


def test_number_beyond_a_float():
    """A JSON number that no float holds is as good as infinity."""
    for text in (b"1e400", b"1" + b"0" * 400):
        payload = json_text(sample_fields(range_m=0)).replace(
            b'"range_m": 0', b'"range_m": ' + text
        )
        assert refusal(REL, payload).reason == Reason.NOT_FINITE


@both
def test_sequence_is_unsigned(pack):
    """A number below 0 or beyond 64 signed bits is no sequence number."""
    assert refusal(REL, pack(sample_fields(seq=-1))).reason == Reason.SEQUENCE
    assert refusal(REL, pack(sample_fields(seq=2**63))).reason == Reason.SEQUENCE
    assert refusal(BEAT, pack(beat_fields(last_seq=-5))).reason == Reason.SEQUENCE
    assert decode(REL, pack(sample_fields(seq=2**63 - 1))).seq == 2**63 - 1


@both
def test_time_bounds(pack):
    """Time begins with 2000 and ends with 9999; milliseconds are not seconds."""
    y2k = 946684800.0
    assert y2k == decode(REL, pack(sample_fields(t=y2k))).t
    before = math.nextafter(y2k, 0.0)
    for topic, fields in (
        (REL, sample_fields(t=before)),
        (REL, sample_fields(t=0)),
        (REL, sample_fields(t=-T)),
        (CAP, capture_fields(t=before)),
        (BEAT, beat_fields(t=before)),
    ):
        assert refusal(topic, pack(fields)).reason == Reason.TIME_EARLY
    assert refusal(REL, pack(sample_fields(t=T * 1000.0))).reason == Reason.TIME_LATE


@both
def test_range_bounds(pack):
    """A range of 100 km is taken, anything beyond is not, on both sides."""
    for sign in (1.0, -1.0):
        assert sign * 1e5 == decode(REL, pack(sample_fields(range_m=sign * 1e5))).range_m
        beyond = sign * math.nextafter(1e5, math.inf)
        assert refusal(REL, pack(sample_fields(range_m=beyond))).reason == Reason.RANGE


@both
@pytest.mark.parametrize(
    ("length", "taken"), [(1.0, True), (1.01, True), (0.99, True), (1.0101, False),
                          (0.9899, False), (0.0, False), (1e200, False)],
)  # fmt: skip
def test_quaternion_length(pack, length, taken):
    """A quaternion must be within 1 % of unit length; within, it is normalised."""
    w, x, y, z = (length * c for c in (0.6, 0.0, 0.8, 0.0))
    fields = without(sample_fields(q=[w, x, y, z]), *ANGLES)
    if taken:
        record = decode(REL, pack(fields))
        assert math.degrees(math.asin(2 * 0.6 * 0.8)) == pytest.approx(record.pitch_deg, abs=1e-9)
    else:
        assert refusal(REL, pack(fields)).reason == Reason.QUATERNION


@both
@given(angles=st.tuples(st.floats(-179, 179), st.floats(-88, 88), st.floats(-179, 179)))
def test_quaternion_is_the_same_rotation(pack, angles):
    """A quaternion gives scipy's yaw about z, then pitch about y', then roll about x''."""
    roll, pitch, yaw = angles
    q = Rotation.from_euler("ZYX", [yaw, pitch, roll], degrees=True).as_quat(scalar_first=True)
    record = decode(REL, pack(without(sample_fields(q=q.tolist()), *ANGLES)))
    assert (roll, pitch, yaw) == pytest.approx(
        (record.roll_deg, record.pitch_deg, record.yaw_deg), abs=1e-6
    )


@both
def test_angles_stand_before_a_quaternion(pack):
    """Where both are sent the angles count, but a bad quaternion still refuses the sample."""
    record = decode(REL, pack(sample_fields(q=[1, 0, 0, 0])))
    assert (record.roll_deg, record.pitch_deg, record.yaw_deg) == (0.3, -0.4, 0.5)
    assert refusal(REL, pack(sample_fields(q=[2, 0, 0, 0]))).reason == Reason.QUATERNION
    some = without(sample_fields(q=[1, 0, 0, 0]), "pitch_deg")
    assert tuple(getattr(decode(REL, pack(some)), name) for name in ANGLES) == (0.0, 0.0, 0.0)


@both
def test_list_lengths(pack):
    """Hook lists may have any length up to the bound."""
    for count in (0, 1, 12, 100, 4096):
        fields = capture_fields(hooks=[0.5] * count, ready_to_hook=[True] * count)
        record = decode(CAP, pack(fields))
        assert (count, count) == (len(record.hooks), len(record.ready_to_hook))
    for name, item in (("hooks", 0.5), ("ready_to_hook", True)):
        fields = capture_fields(**{name: [item] * 4097})
        assert refusal(CAP, pack(fields)).reason == Reason.LIST_LENGTH


@both
def test_payload_size(pack):
    """A payload of 64 KiB is taken, one byte more is not."""
    room = 65536 - len(pack(sample_fields(filler="x" * 60000)))
    whole = pack(sample_fields(filler="x" * (60000 + room)))
    assert len(whole) == 65536
    assert decode(REL, whole).seq == 7
    over = pack(sample_fields(filler="x" * (60001 + room)))
    assert refusal(REL, over).reason == Reason.TOO_LARGE


@pytest.mark.parametrize(
    "topic", [b"", b"rel", b"rel:optical", b"REL/optical", b"cmd/optical", b"/rel/optical",
              b"relx/optical", b"hbt/optical", b"\xff\xfe"],
)  # fmt: skip
def test_unknown_topic(topic):
    """Anything but the three kinds of topic is refused."""
    assert refusal(topic, messagepack(sample_fields())).reason == Reason.UNKNOWN_TOPIC


@pytest.mark.parametrize(
    "name",
    [
        b"", b" ", b"\t", b"opt\x00ical", b"opt\nical", b"\x1b[31mred", b"\x7f", b"\xff",
        b"\xc3(", "\u202eretem".encode(), "a\u2028b".encode(), "\u200b".encode(), b"x" * 129,
        ("й" * 65).encode(),
    ],
)  # fmt: skip
@pytest.mark.parametrize("prefix", [b"rel/", b"cap/", b"hb/"])
def test_bad_source_name(prefix, name):
    """A source must have a name that can be shown: UTF-8, bounded, printing, not blank."""
    assert refusal(prefix + name, messagepack({})).reason == Reason.SOURCE_NAME


@pytest.mark.parametrize(
    "name", ["optical", "оптика", "相机", "radio 2", "a/b", "x" * 128, "R-1.b"]
)
def test_source_name(name):
    """Names in any script are taken as sent."""
    record = decode(b"rel/" + name.encode(), messagepack(sample_fields()))
    assert name == record.source


@pytest.mark.parametrize(
    "payload",
    [
        b"", b"\xc1", b"\x81", b"{", b"{}x", b'{"seq": 1', b"{'seq': 1}", b"{\xff}",
        b'{"a":' + b"[" * 60000, b"\x81\xa1a" + b"\x91" * 60000,
        b"\x81\xa5hooks\xdd\xff\xff\xff\xff", b"\xdf\xff\xff\xff\xff",
        messagepack(sample_fields()) + b"\x00", json_text(sample_fields()) + b"{}",
        messagepack(sample_fields())[:-3], json_text(sample_fields())[:-3],
        b"\x81\x80\x01",
    ],
    ids=lambda payload: repr(payload[:12]),
)  # fmt: skip
@pytest.mark.parametrize("topic", [REL, CAP, BEAT])
def test_not_decodable(topic, payload):
    """Truncated, trailing, hostile or foreign bytes are refused as not decodable."""
    error = refusal(topic, payload)
    assert error.reason in {Reason.UNDECODABLE, Reason.LIST_LENGTH}
    assert len(error.detail) <= 120


@pytest.mark.parametrize(
    "payload",
    [messagepack([1, 2]), messagepack("text"), messagepack(None), messagepack(5), b" {}", b"[]"],
)
def test_not_a_map(payload):
    """A payload that is one whole MessagePack value but no map is refused as such."""
    reason = refusal(REL, payload).reason
    assert reason in {Reason.NOT_A_MAP, Reason.UNDECODABLE}
    if payload[:1] not in {b" ", b"["}:
        assert reason == Reason.NOT_A_MAP


def test_json_is_told_by_its_first_byte():
    """Only a payload that begins with an opening brace is JSON: white space before it is not."""
    text = json_text(sample_fields())
    assert decode(REL, text).seq == 7
    assert refusal(REL, b"\n" + text).reason in {Reason.UNDECODABLE, Reason.NOT_A_MAP}


def test_messagepack_float32_and_small_integers():
    """Every MessagePack number form is read: 32-bit floats, signed and unsigned integers."""
    head = messagepack(without(sample_fields(), "range_m"))
    body = bytes([head[0] + 1]) + head[1:] + b"\xa7range_m"
    assert 0x80 < body[0] <= 0x8F
    for tail, expected in (
        (b"\xca" + struct.pack(">f", 20.25), 20.25),
        (b"\xcb" + struct.pack(">d", 20.5), 20.5),
        (b"\x14", 20.0),
        (b"\xff", -1.0),
        (b"\xd1" + struct.pack(">h", -300), -300.0),
        (b"\xcd" + struct.pack(">H", 60000), 60000.0),
        (b"\xd3" + struct.pack(">q", -5), -5.0),
    ):
        assert expected == decode(REL, body + tail).range_m


def test_reasons_are_few_fixed_texts():
    """Reasons are unique texts without anything of the message in them."""
    assert len(Reason) == len({reason.value for reason in Reason})
    error = refusal(REL, messagepack(sample_fields(range_m="x" * 5000)))
    assert error.reason == "mistyped field"
    assert type(error.reason) is str
    assert len(error.detail) <= 120


def test_detail_of_hostile_values_is_bounded():
    """Values of any kind and size are shown in a bounded line."""
    for value in ([[]] * 5000, {"a": 1}, 10**30, -(10**3000), b"\x00" * 5000, "é" * 9000):
        for name in ("seq", "valid"):
            fields = sample_fields(**{name: value})
            payload = json_text(fields) if isinstance(value, int) else messagepack(fields)
            assert len(refusal(REL, payload).detail) <= 120
