"""Tells what was lost on the way from what this program dropped itself.

A message that found no room in the queue to the engine leaves a gap in its source's numbers like
one that never came. The receive thread counts what it drops of each topic, each message that is
taken after it carries that count, and the engine thread holds a gap it then finds against it.
"""

from __future__ import annotations

from collections.abc import Iterable

from console.approach.event import AnyEvent, SamplesLost
from console.wire.topic import Kind

_BEAT = f"{Kind.HEARTBEAT.value}/".encode()
_RELATIVE = f"{Kind.RELATIVE.value}/".encode()


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

    def before(self, topic: bytes) -> int:
        """Give how many were dropped so far of those a message's number may show to be missing."""
        return self._dropped.get(_shown_by(topic), 0) if self._dropped else 0

    def hold_against(self, topic: bytes, before: int, events: Iterable[AnyEvent]) -> None:
        """Take what a message showed to be lost, on the engine thread; ``before`` it carried."""
        shown = _shown_by(topic)
        open_ = before - self._seen.get(shown, 0)
        if open_ <= 0:
            return
        lost = sum(event.count for event in events if isinstance(event, SamplesLost))
        found = min(open_, lost)
        self.explained += found
        # after a sample no older gap is still to be found; a heartbeat may run behind
        self._seen[shown] = before if shown == topic else before - open_ + found


def _shown_by(topic: bytes) -> bytes:
    """Give the topic whose gaps a message can show: a heartbeat speaks for the samples."""
    return _RELATIVE + topic[len(_BEAT) :] if topic.startswith(_BEAT) else topic
