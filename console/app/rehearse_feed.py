"""The link of a rehearsal: no socket; messages at their time, stamped as they would be live."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence

from console.core.records import Frame
from console.simulation.simulate import Published
from console.wire.encode import encode


class RehearsalFeed:
    """A frame source that plays messages by a clock.

    A message is received exactly when it is due, so a run's events depend on the exercise, its
    seed and the calls alone, however busy the machine is.

    Parameters
    ----------
    messages : sequence of Published
        In order of delivery; not empty.
    clock : callable
        What the watch runs on, UTC seconds.
    speed : float
        Pass seconds a second.
    """

    def __init__(
        self, messages: Sequence[Published], clock: Callable[[], float], speed: float
    ) -> None:
        self._messages = messages
        self._clock = clock
        self._speed = speed
        self._begin_s: float | None = None
        self._next = 0
        self._closed = threading.Event()

    def begin(self) -> None:
        """Play from now on."""
        self._begin_s = self._clock()

    @property
    def is_done(self) -> bool:
        """Whether everything was given."""
        return self._next >= len(self._messages)

    def poll(self, timeout_s: float) -> list[Frame]:
        """Give what is due by now; wait for it at most so long."""
        frames = self._due()
        if not frames:
            self._closed.wait(timeout_s)
            frames = self._due()
        return frames

    def trouble(self) -> str:
        """Find nothing wrong: what fails here fails on purpose, and the data show it."""
        return ""

    def cuts(self) -> int:
        """Count no cut: there is no link."""
        return 0

    def given_up(self) -> int:
        """Count none."""
        return 0

    def close(self) -> None:
        """Play no more."""
        self._closed.set()

    def _due(self) -> list[Frame]:
        if self._begin_s is None or self._closed.is_set():
            return []
        frames: list[Frame] = []
        now = self._clock()
        while not self.is_done:
            message = self._messages[self._next]
            past_s = message.t_publish_s - self._messages[0].t_publish_s
            due_s = self._begin_s + past_s / self._speed
            if due_s > now:
                break
            frames.append(Frame(due_s, *encode(message.record)))
            self._next += 1
        return frames
