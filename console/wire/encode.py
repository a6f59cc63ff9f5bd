"""Records -> bytes for the wire: topic and payload, in either form."""

from __future__ import annotations

from enum import Enum

import msgspec

from console.core.records import Record
from console.wire.topic import topic_of


class Form(Enum):
    """The two forms a payload may have."""

    MESSAGEPACK = "messagepack"
    JSON = "json"


_to_messagepack = msgspec.msgpack.Encoder().encode
_to_json = msgspec.json.Encoder().encode


def encode(record: Record, form: Form = Form.MESSAGEPACK) -> tuple[bytes, bytes]:
    """Give topic and payload of a record.

    Absent fields are left out; the source stands in the topic alone. Decoding gives an equal
    record.
    """
    fields = {
        name: value
        for name in record.__struct_fields__
        if name != "source" and (value := getattr(record, name)) is not None
    }
    payload = _to_json(fields) if form is Form.JSON else _to_messagepack(fields)
    return topic_of(record), payload
