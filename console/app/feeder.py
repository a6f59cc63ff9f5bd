"""Publishes a pass on a socket at a chosen speed, from a thread of its own."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Iterator
from typing import Protocol

from console.core.errors import UsageError
from console.core.records import Record
from console.link.publisher import Publisher
from console.wire.encode import Form

JOIN_TIMEOUT_S = 5.0
HEARTBEAT_S = 1.0


class Due(Protocol):
    """A record and when it is to be published, on the pass's own clock."""

    @property
    def t_publish_s(self) -> float:
        """When, UTC seconds."""

    @property
    def record(self) -> Record:
        """What."""


class Feeder:
    """Sends records when they are due, until the end or until stopped.

    Parameters
    ----------
    publisher : Publisher
        Bound already; closed by whoever made it.
    messages : iterable of Due
        In order of publication.
    speed : float
        Pass seconds a second, above 0.
    clock : callable
        Monotonic or wall seconds; only differences count.
    subscriber_wait_s : float
        How long to wait for a first subscriber before the first message.
    on_begin : callable, optional
        Told right before the first message is timed.
    adds_heartbeats : bool
        Send each source's last number about once a pass second: for passes that hold none.
    """

    def __init__(
        self,
        publisher: Publisher,
        messages: Iterable[Due],
        *,
        speed: float,
        clock: Callable[[], float],
        subscriber_wait_s: float = 10.0,
        on_begin: Callable[[], None] | None = None,
        adds_heartbeats: bool = False,
    ) -> None:
        self._publisher = publisher
        self._messages = messages
        self._speed = speed
        self._clock = clock
        self._wait_s = subscriber_wait_s
        self._on_begin = on_begin
        self._adds_heartbeats = adds_heartbeats
        self._beat_s: float | None = None
        self._stop = threading.Event()
        self._done = threading.Event()
        self._thread = threading.Thread(target=self._run, name="feeder", daemon=True)
        self.sent = 0
        self.failure: str | None = None

    def start(self) -> None:
        """Begin publishing."""
        self._thread.start()

    def stop(self) -> None:
        """End publishing and wait for the thread."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(JOIN_TIMEOUT_S)

    def wait(self, timeout_s: float | None = None) -> bool:
        """Wait until everything was published; False where time ran out."""
        return self._done.wait(timeout_s)

    @property
    def is_done(self) -> bool:
        """Whether everything was published or publishing ended early."""
        return self._done.is_set()

    def _run(self) -> None:
        try:
            self._publisher.wait_for_subscriber(self._wait_s)
            if self._on_begin is not None:
                self._on_begin()
            for message in self._due():
                self._publisher.send(message.record, Form.MESSAGEPACK)
                self.sent += 1
                if self._adds_heartbeats:
                    self._beat(message.t_publish_s)
        except (OSError, UsageError) as error:
            self.failure = str(error)
        finally:
            self._done.set()

    def _beat(self, now_s: float) -> None:
        if self._beat_s is None or now_s - self._beat_s >= HEARTBEAT_S:
            self._beat_s = now_s
            self._publisher.heartbeat(now_s)

    def _due(self) -> Iterator[Due]:
        begin_s = self._clock()
        first_s: float | None = None
        for message in self._messages:
            if first_s is None:
                first_s = message.t_publish_s
            due_s = begin_s + (message.t_publish_s - first_s) / self._speed
            while (wait_s := due_s - self._clock()) > 0.0:
                if self._stop.wait(min(wait_s, 0.2)):
                    return
            if self._stop.is_set():
                return
            yield message
