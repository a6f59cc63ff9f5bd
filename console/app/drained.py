"""Emptying a queue that another thread fills."""

from __future__ import annotations

from collections import deque
from typing import TypeVar

T = TypeVar("T")


def drained(queue: deque[T]) -> list[T]:
    """Give and forget what a queue holds, in order; what comes meanwhile may be among it."""
    items: list[T] = []
    while queue:
        items.append(queue.popleft())
    return items
