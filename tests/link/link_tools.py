"""Tools for the tests of the link: a clock to set, and polling until something is true."""

from __future__ import annotations

import time
from collections.abc import Callable

from console.core.records import Frame, RelativeSample
from console.link.subscriber import Subscriber

T = 1932100000.0
LIMIT_S = 10.0
ANY_PORT = "tcp://127.0.0.1:0"


class SetClock:
    """A clock that stands until it is set."""

    def __init__(self, now_s: float = T) -> None:
        self.now_s = now_s

    def __call__(self) -> float:
        """Give the time set."""
        return self.now_s


def sample(seq: int, source: str = "optical") -> RelativeSample:
    """Make a sample."""
    return RelativeSample(source, seq, T + seq, 20.0, -0.1, 0.0, 0.0, 0.0, 0.0, 0.0)


def collect(subscriber: Subscriber, count: int, limit_s: float = LIMIT_S) -> list[Frame]:
    """Poll until so many messages came or time ran out."""
    frames: list[Frame] = []
    deadline_s = time.monotonic() + limit_s
    while len(frames) < count and time.monotonic() < deadline_s:
        frames += subscriber.poll(0.05)
    return frames


def poll_until(
    subscriber: Subscriber, is_true: Callable[[], bool], limit_s: float = LIMIT_S
) -> list[Frame]:
    """Poll until something is true; fails where it never is."""
    frames: list[Frame] = []
    deadline_s = time.monotonic() + limit_s
    while not is_true():
        assert time.monotonic() < deadline_s, f"never: {subscriber.health()}"
        frames += subscriber.poll(0.02)
    return frames
