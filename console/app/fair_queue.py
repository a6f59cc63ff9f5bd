"""The queue between the receive thread and the engine: bounded, and no sender can fill it alone.

Every item counts for a share: those of one topic of a source that is followed, or all others
together. A share holds so many at most, so a flood under one topic, or under ever new names,
crowds out itself and not the approach, and what is shown is never older than a share takes to be
fed. The newest that find no room are refused: what is kept is an unbroken stretch of each.
"""

from __future__ import annotations

import queue
from typing import Generic, TypeVar

T = TypeVar("T")


class FairQueue(Generic[T]):
    """A queue for one thread that puts and one that gets.

    Parameters
    ----------
    most : int
        All shares together.
    most_a_share : int
    """

    def __init__(self, most: int, most_a_share: int) -> None:
        self._queue: queue.Queue[tuple[bytes, T]] = queue.Queue(most)
        self._most_a_share = most_a_share
        # each written by one of the two threads alone
        self._in: dict[bytes, int] = {}
        self._out: dict[bytes, int] = {}

    def put(self, item: T, share: bytes) -> bool:
        """Take an item without waiting; False where its share, or the whole, is full."""
        came = self._in.get(share, 0)
        if came - self._out.get(share, 0) >= self._most_a_share:
            return False
        try:
            self._queue.put_nowait((share, item))
        except queue.Full:
            return False
        self._in[share] = came + 1
        return True

    def get(self, timeout_s: float = 0.0) -> T:
        """Give the oldest item.

        Raises
        ------
        queue.Empty
            None came within the time.
        """
        share, item = self._queue.get(timeout=timeout_s) if timeout_s else self._queue.get_nowait()
        self._out[share] = self._out.get(share, 0) + 1
        return item

    def empty(self) -> bool:
        """Tell whether nothing waits."""
        return self._queue.empty()

    def qsize(self) -> int:
        """Give about how many wait."""
        return self._queue.qsize()
