"""Tells what was lost on the way from what this program dropped itself.

A message that found no room in the queue to the engine leaves a gap in its source's numbers like
one that never came. The receive thread counts what it drops of each topic, each message that is
taken after it carries that count, and the engine thread holds a gap it then finds against it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TypeAlias

from console.approach.event import AnyEvent, SamplesLost
from console.wire.topic import Kind

_BEAT = f"{Kind.HEARTBEAT.value}/".encode()
_NONE: Mapping[bytes, int] = {}
Before: TypeAlias = Mapping[bytes, int]
"""Messages dropped before another, by topic."""


class OwnDrops:
    """Counts drops by topic, and how many of the samples counted as lost they explain.

    Attributes
    ----------
    explained : int
        Samples found to be lost that were dropped here.
    """

    def __init__(self) -> None:
        self.explained = 0
        # each written by one of the two threads alone
        self._dropped: dict[bytes, int] = {}
        self._seen: dict[bytes, int] = {}

    def drop(self, topic: bytes) -> None:
        """Note a message of a followed source that was dropped, on the receive thread."""
        self._dropped[topic] = self._dropped.get(topic, 0) + 1

    def before(self, topic: bytes) -> Before:
        """Give how many were dropped so far of those a message's number may show to be missing."""
        if not self._dropped:
            return _NONE
        return {t: self._dropped[t] for t in _may_show(topic) if t in self._dropped}

    def hold_against(
        self, topic: bytes, before: Before, moved: Kind | None, events: Iterable[AnyEvent]
    ) -> None:
        """Take what a message showed to be lost, on the engine thread.

        Parameters
        ----------
        topic : bytes
        before : mapping of bytes to int
            What it carried.
        moved : Kind or None
            Whose counter it moved forward. A message that moved none, such as a repeated one,
            finds no gap, and the next may still find it.
        events : iterable of event
            What it brought.
        """
        if moved is None:
            return
        shown = _topic_of(moved, topic)
        so_far = before.get(shown, 0)
        open_ = so_far - self._seen.get(shown, 0)
        if open_ <= 0:
            return
        lost = sum(event.count for event in events if isinstance(event, SamplesLost))
        found = min(open_, lost)
        self.explained += found
        # after a sample no older gap is still to be found; a heartbeat may run behind
        self._seen[shown] = so_far if shown == topic else so_far - open_ + found


def _may_show(topic: bytes) -> tuple[bytes, ...]:
    """Give the topics whose gaps a message can show: a heartbeat speaks for one of two others."""
    if not topic.startswith(_BEAT):
        return (topic,)
    return _topic_of(Kind.RELATIVE, topic), _topic_of(Kind.CAPTURE, topic)


def _topic_of(kind: Kind, topic: bytes) -> bytes:
    """Give the topic of another kind of the same source."""
    return f"{kind.value}/".encode() + topic.partition(b"/")[2]
