"""Queues between two threads: bounded, what finds no room counted, emptied by the other."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from typing import TypeVar

T = TypeVar("T")


class CountedQueue(deque[T]):
    """A queue that lets its oldest go when it is full, and counts them.

    Parameters
    ----------
    most : int
        It holds at most so many.

    Attributes
    ----------
    dropped : int
    """

    def __init__(self, most: int) -> None:
        super().__init__((), most)
        self.dropped = 0

    def append(self, item: T) -> None:
        """Add at the end; only one thread does."""
        self.dropped += len(self) == self.maxlen
        super().append(item)

    def extend(self, items: Iterable[T]) -> None:
        """Add at the end, in order."""
        for item in items:
            self.append(item)


def drained(queue: deque[T]) -> list[T]:
    """Give and forget what a queue holds, in order; what comes meanwhile may be among it."""
    items: list[T] = []
    while queue:
        items.append(queue.popleft())
    return items
