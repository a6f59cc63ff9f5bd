"""Records go over the wire and come back equal, in both forms."""

from __future__ import annotations

import json

import msgspec
import pytest
from hypothesis import given
from wire_cases import T, capture_statuses, heartbeats, relative_samples

from console.core.records import CaptureStatus, RelativeSample
from console.wire.decode import decode
from console.wire.encode import Form, encode
from console.wire.topic import Kind, kind_of, parse_topic, topic_of

forms = pytest.mark.parametrize("form", list(Form))


@forms
@given(record=relative_samples | capture_statuses | heartbeats)
def test_round_trip(form, record):
    """Every valid record decodes from its own bytes to the same bits."""
    topic, payload = encode(record, form)
    assert record == decode(topic, payload)
    assert (payload[:1] == b"{") == (form is Form.JSON)


def test_absent_fields_are_left_out():
    """What a source does not know is not sent, and its name stands in the topic alone."""
    topic, payload = encode(CaptureStatus("mechanism", 1, T, hooks=(0.0, 1.0)), Form.JSON)
    assert topic == b"cap/mechanism"
    assert json.loads(payload) == {"seq": 1, "t": T, "hooks": [0.0, 1.0]}


def test_messagepack_is_one_map():
    """The default form is a MessagePack map of the named fields."""
    record = RelativeSample("радио", 1, T, 2, 3, 4, 5, 6, 7, 8, valid=False)
    topic, payload = encode(record)
    assert "rel/радио".encode() == topic
    fields = msgspec.msgpack.decode(payload)
    assert (*list(fields)[:3], list(fields)[-1]) == ("seq", "t", "range_m", "valid")
    assert fields["valid"] is False


@given(record=relative_samples | capture_statuses | heartbeats)
def test_topic_round_trip(record):
    """A topic gives back the kind and the source it was made of."""
    assert (kind_of(record), record.source) == parse_topic(topic_of(record))


def test_kinds():
    """The three kinds are the first words of the topics."""
    assert [kind.value for kind in Kind] == ["rel", "cap", "hb"]
