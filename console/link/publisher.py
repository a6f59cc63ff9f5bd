"""Publishes records on a socket: for the demo, for feeding recorded passes, and for rehearsals."""

from __future__ import annotations

import time
from collections.abc import Callable
from types import TracebackType
from typing import TYPE_CHECKING, Self

import zmq

from console.core.errors import InputError, UsageError
from console.core.ids import SourceId
from console.core.records import Heartbeat, Record
from console.link.curve import Keys
from console.link.endpoint import parse_endpoint, require_keys
from console.link.health import set_common
from console.wire.encode import Form, encode
from console.wire.topic import Kind, kind_of

if TYPE_CHECKING:
    from zmq.auth.thread import ThreadAuthenticator

HIGH_WATER_MARK = 100_000
# A subscriber sends nothing but short subscriptions.
MESSAGE_LIMIT_BYTES = 64 * 1024
SUBSCRIPTIONS_KEPT = 1000
CLOSE_LINGER_S = 1.0


class Publisher:
    """A bound XPUB socket.

    Parameters
    ----------
    endpoint : str
        Where to bind; port 0 or ``*`` takes any free one.
    keys : Keys, optional
        CURVE: only consoles whose public key is among ``keys.authorised`` are let in.
    insecure : bool
        Whether an endpoint outside the loopback range may go without keys.
    clock : callable
        UTC seconds now, for heartbeats that are given no time.

    Raises
    ------
    InputError
        The endpoint is none, is in use, or would need keys.

    Notes
    -----
    For one thread at a time. A subscriber that does not keep up loses messages at the high-water
    mark, and nothing here can tell: heartbeats let it find out.
    """

    def __init__(
        self,
        endpoint: str,
        *,
        clock: Callable[[], float],
        keys: Keys | None = None,
        insecure: bool = False,
    ) -> None:
        checked = parse_endpoint(endpoint, bind=True)
        self.is_insecure = require_keys([checked], has_keys=keys is not None, insecure=insecure)
        self._clock = clock
        self._last_seq: dict[SourceId, dict[Kind, int]] = {}
        self._subscriptions: set[bytes] = set()
        self._authenticator: ThreadAuthenticator | None = None
        self._guard: _Guard | None = None
        self._context: zmq.Context[zmq.Socket[bytes]] = zmq.Context()
        try:
            self._socket = self._context.socket(zmq.XPUB)
            set_common(self._socket, checked.is_ipv6)
            self._socket.set(zmq.SNDHWM, HIGH_WATER_MARK)
            self._socket.set(zmq.MAXMSGSIZE, MESSAGE_LIMIT_BYTES)
            if keys is not None:
                self._authenticate(keys)
            self._socket.bind(checked.text)
        except zmq.ZMQError as error:
            self._end(0.0)
            raise InputError.of(
                endpoint, "endpoint", f"cannot bind: {error.strerror}", "choose another one"
            ) from error
        except BaseException:
            self._end(0.0)
            raise
        bound = self._socket.get(zmq.LAST_ENDPOINT)
        self.endpoint = bound.rstrip(b"\x00").decode() if isinstance(bound, bytes) else endpoint

    @property
    def refused(self) -> int:
        """How often a console whose key is not authorised was turned away."""
        return 0 if self._guard is None else self._guard.refused

    def wait_for_subscriber(self, timeout_s: float) -> bool:
        """Wait until somebody subscribed; False where time ran out.

        What is sent before that is lost, however soon the subscriber's connection stood.
        """
        deadline_s = time.monotonic() + timeout_s
        while not self._has_subscriber():
            left_s = deadline_s - time.monotonic()
            if left_s <= 0.0:
                return False
            self._open_socket().poll(max(1, round(left_s * 1000.0)), zmq.POLLIN)
        return True

    def send(self, record: Record, form: Form = Form.MESSAGEPACK) -> None:
        """Publish a record."""
        self.send_frame(*encode(record, form))
        if not isinstance(record, Heartbeat):
            self._last_seq.setdefault(record.source, {})[kind_of(record)] = record.seq

    def send_frame(self, topic: bytes, payload: bytes) -> None:
        """Publish a topic and payload as they are.

        Raises
        ------
        UsageError
            The publisher is closed.
        """
        socket = self._open_socket()
        socket.send(topic, zmq.SNDMORE)
        socket.send(payload)

    def heartbeat(self, t: float | None = None, form: Form = Form.MESSAGEPACK) -> None:
        """Publish every source's last sequence number, so that loss at the tail is seen.

        Parameters
        ----------
        t : float, optional
            On the clock of the records sent; now where not given.
        form : Form
            Form of the payload.
        """
        now = self._clock() if t is None else t
        for source, numbers in self._last_seq.items():
            last_seq = numbers.get(Kind.RELATIVE, numbers.get(Kind.CAPTURE, 0))
            self.send_frame(*encode(Heartbeat(source, now, last_seq), form))

    def close(self, linger_s: float = CLOSE_LINGER_S) -> None:
        """Close; what was sent gets so long to leave. Closing twice is once."""
        if not self._context.closed:
            self._end(linger_s)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _open_socket(self) -> zmq.Socket[bytes]:
        if self._context.closed:
            raise UsageError("the publisher is closed")
        return self._socket

    def _has_subscriber(self) -> bool:
        """Take the subscriptions that wait: 1 and a prefix subscribes, 0 and it ends."""
        socket = self._open_socket()
        try:
            while True:
                word = socket.recv(zmq.NOBLOCK)
                if word[:1] == b"\x01" and len(self._subscriptions) < SUBSCRIPTIONS_KEPT:
                    self._subscriptions.add(word[1:])
                elif word[:1] == b"\x00":
                    self._subscriptions.discard(word[1:])
        except zmq.Again:
            return bool(self._subscriptions)

    def _authenticate(self, keys: Keys) -> None:
        # Deferred: it brings asyncio with it, and most watches have no keys.
        from zmq.auth.thread import ThreadAuthenticator

        authenticator = ThreadAuthenticator(self._context)
        self._guard = _Guard(keys.authorised)
        authenticator.configure_curve_callback("*", self._guard)
        self._authenticator = authenticator
        authenticator.start()
        self._socket.set(zmq.CURVE_SERVER, 1)
        self._socket.set(zmq.CURVE_PUBLICKEY, keys.public)
        self._socket.set(zmq.CURVE_SECRETKEY, keys.secret)

    def _end(self, linger_s: float) -> None:
        # The authenticator's thread holds sockets of this context: it ends first.
        if self._authenticator is not None:
            self._authenticator.stop()
            self._authenticator = None
        self._context.destroy(linger=round(linger_s * 1000.0))


class _Guard:
    """Lets the authorised keys in."""

    def __init__(self, authorised: frozenset[bytes]) -> None:
        self._authorised = authorised
        self.refused = 0

    def callback(self, domain: str, key: bytes) -> bool:
        """Answer the authenticator."""
        is_known = key in self._authorised
        self.refused += not is_known
        return is_known
