"""Topics: the kind of a message and the source that sent it, as ``rel/optical``."""

from __future__ import annotations

from enum import StrEnum

from console.core.ids import SourceId
from console.core.records import CaptureStatus, Heartbeat, Record, RelativeSample
from console.wire import rules
from console.wire.reason import Reason, rejected


class Kind(StrEnum):
    """What a topic carries; the value is its first word."""

    RELATIVE = "rel"
    CAPTURE = "cap"
    HEARTBEAT = "hb"


_PREFIXES = tuple((f"{kind.value}/".encode(), kind) for kind in Kind)
_KINDS: dict[type[Record], Kind] = {
    RelativeSample: Kind.RELATIVE,
    CaptureStatus: Kind.CAPTURE,
    Heartbeat: Kind.HEARTBEAT,
}


# No sender's topic begins with a zero byte by accident; one that does on purpose is only counted
# as what it pretends to be.
_FRAMES_PREFIX = b"\x00frames/"


def topic_of_frames(count: int) -> bytes:
    """Give the topic that stands for a message of another number of frames than two.

    The link hands such a message on under this topic, so that it is counted, recorded and
    replayed as a reject like any other.
    """
    return _FRAMES_PREFIX + str(count).encode()


def parse_topic(topic: bytes) -> tuple[Kind, SourceId]:
    """Read a topic.

    Raises
    ------
    WireError
        No known first word, the name of the source is refused, or the topic stands for a
        message that had not two frames.
    """
    for prefix, kind in _PREFIXES:
        if topic.startswith(prefix):
            return kind, _source(topic[len(prefix) :])
    if topic.startswith(_FRAMES_PREFIX):
        count = topic[len(_FRAMES_PREFIX) :][:20].decode("ascii", "replace")
        raise rejected(Reason.FRAMES, f"{count} frames, must be topic and payload")
    raise rejected(Reason.UNKNOWN_TOPIC, repr(topic[:40]))


def topic_of(record: Record) -> bytes:
    """Give the topic that a record is published under."""
    return f"{kind_of(record).value}/{record.source}".encode()


def kind_of(record: Record) -> Kind:
    """Give the kind of a record."""
    return _KINDS[type(record)]


def _source(name: bytes) -> SourceId:
    if len(name) > rules.SOURCE_LIMIT_BYTES:
        raise rejected(
            Reason.SOURCE_NAME, f"{len(name)} bytes, at most {rules.SOURCE_LIMIT_BYTES}"
        )
    try:
        return rules.source_name(name.decode("utf-8"))
    except UnicodeDecodeError:
        raise rejected(Reason.SOURCE_NAME, f"not UTF-8: {name[:40]!r}") from None
