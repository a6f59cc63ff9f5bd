"""Any bytes end in a sound record or in a WireError; the sieve and the rules never disagree."""

from __future__ import annotations

import json
import math
import random
from collections import Counter

import msgspec
from hypothesis import given
from hypothesis import strategies as st
from wire_cases import assert_sound, beat_fields, capture_fields, sample_fields, without

from console.core.errors import WireError
from console.core.ids import SourceId
from console.wire import rules
from console.wire.decode import decode
from console.wire.reason import Reason

TOPICS = (b"rel/optical", b"cap/mechanism", b"hb/optical")
REASONS = frozenset(Reason)


def outcome(topic: bytes, payload: bytes) -> str:
    """Decode; give the reason, or "record" for a sound record. Nothing else may come."""
    try:
        record = decode(topic, payload)
    except WireError as caught:
        error = caught
    else:
        assert_sound(record)
        return "record"
    assert error.reason in REASONS
    assert len(error.detail) <= 120
    return error.reason


def test_random_bytes():
    """10,000 random byte strings are counted by reason and harm nothing."""
    rng = random.Random(20310411)
    counts: Counter[str] = Counter()
    for _ in range(10_000):
        payload = rng.randbytes(rng.choice((0, 1, 2, 5, 20, 100, 400)))
        if rng.random() < 0.3:
            payload = b"{" + payload
        topic = rng.choice((*TOPICS, rng.randbytes(rng.randrange(12))))
        counts[outcome(topic, payload)] += 1
    assert sum(counts.values()) == 10_000
    assert counts["record"] == 0
    assert {Reason.UNDECODABLE, Reason.UNKNOWN_TOPIC, Reason.NOT_A_MAP} <= set(counts)


def mutated(payload: bytes, rng: random.Random) -> bytes:
    """Flip, drop, double, insert or overwrite some bytes."""
    body = bytearray(payload)
    for _ in range(rng.choice((1, 1, 1, 2, 4, 16))):
        at = rng.randrange(len(body)) if body else 0
        match rng.randrange(5):
            case 0 if body:
                body[at] ^= 1 << rng.randrange(8)
            case 1 if body:
                del body[at : at + rng.randrange(1, 4)]
            case 2:
                body[at:at] = body[at : at + 8]
            case 3:
                body[at:at] = rng.randbytes(rng.randrange(1, 4))
            case _:
                body[at : at + 8] = rng.choice(
                    (
                        b"\x7f\xf8" + bytes(6),
                        b"\xff" * 8,
                        b"\x7f\xf0" + bytes(6),
                        b"null",
                        b"-",
                        b"1e999",
                    )
                )
    return bytes(body)


def test_mutated_messages():
    """10,000 damaged messages give a sound record or a counted reason, whatever was hit."""
    rng = random.Random(7)
    good = [
        (topic, pack(fields))
        for pack in (msgspec.msgpack.encode, lambda fields: json.dumps(fields).encode())
        for topic, fields in (
            (TOPICS[0], sample_fields()),
            (TOPICS[0], without(sample_fields(q=[0.6, 0.0, 0.8, 0.0]), "yaw_deg")),
            (TOPICS[1], capture_fields()),
            (TOPICS[2], beat_fields()),
        )
    ]
    counts: Counter[str] = Counter()
    for _ in range(10_000):
        topic, payload = rng.choice(good)
        if rng.random() < 0.1:
            topic = mutated(topic, rng)
        counts[outcome(topic, mutated(payload, rng))] += 1
    assert sum(counts.values()) == 10_000
    assert {"record", Reason.UNDECODABLE, Reason.MISSING, Reason.MISTYPED} <= set(counts)
    assert {Reason.NOT_FINITE, Reason.TIME_EARLY, Reason.QUATERNION} <= set(counts)


@given(topic=st.sampled_from(TOPICS) | st.binary(max_size=40), payload=st.binary(max_size=300))
def test_any_bytes(topic, payload):
    """Whatever the bytes, the outcome is a sound record or a WireError."""
    outcome(topic, payload)


scalars = (
    st.none() | st.booleans() | st.integers(-(2**63), 2**64 - 1) | st.floats()
    | st.text(max_size=8)
    | st.sampled_from([0, 1, 20, 1932100000, 1e5, 100000.1, 946684800.0, 946684799.9])
)  # fmt: skip
values = scalars | st.lists(scalars, max_size=5) | st.dictionaries(st.text(max_size=3), scalars)
names = st.sampled_from(
    [*sample_fields(), "q", *capture_fields(), "last_seq", "source", "unknown"]
)
changes = st.dictionaries(names, values, max_size=4)
dropped = st.sets(names, max_size=2)
unit_quaternions = st.sampled_from([[1, 0, 0, 0], [0.6, 0, 0.8, 0], [2.0, 0, 0, 0]])


@given(
    base=st.sampled_from([sample_fields(), capture_fields(), beat_fields()]),
    topic=st.sampled_from(TOPICS), changes=changes, dropped=dropped,
    q=st.none() | unit_quaternions, as_json=st.booleans(),
)  # fmt: skip
def test_sieve_and_rules_agree(base, topic, changes, dropped, q, as_json):
    """The typed decoder takes exactly what the rules take, and gives an equal record."""
    fields = {name: value for name, value in (base | changes).items() if name not in dropped}
    if q is not None:
        fields["q"] = q
    if as_json:
        fields = {name: _without_nan(value) for name, value in fields.items()}
    pack = msgspec.json.encode if as_json else msgspec.msgpack.encode
    rule = {b"r": rules.relative_sample, b"c": rules.capture_status, b"h": rules.heartbeat}
    source = SourceId(topic.decode().partition("/")[2])
    try:
        expected = rule[topic[:1]](source, fields)
    except WireError as error:
        expected = error.reason
    try:
        found = decode(topic, pack(fields))
    except WireError as error:
        found = error.reason
    assert expected == found


def _without_nan(value: object) -> object:
    """JSON has no NaN or infinity: the encoder writes null, and so the rules shall see it."""
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if isinstance(value, list):
        return [_without_nan(item) for item in value]
    if isinstance(value, dict):
        return {name: _without_nan(item) for name, item in value.items()}
    return value
