"""Whether a link is up, from ZeroMQ's own events and from the data.

Theory of operation. A connection says nothing: the kernel accepts one for a process that is
stopped. A link is up when its handshake succeeded and it was not cut since, or when data is
fresh: an older peer may never report a handshake, yet what it sends is proof enough. ZMTP
heartbeats, sent both ways, turn a peer that hangs into a cut. That data is *fresh enough to use*
is another question, answered by the age of the samples themselves.

ZeroMQ tries again after an ordinary cut, but gives an endpoint up without a word after what it
takes for an offence: a refused key, a foreign protocol, a message beyond the size limit (libzmq
4.3). It then reports a cut and no retry. The monitor notices, and the socket is connected anew.
"""

from __future__ import annotations

import struct
import time
from dataclasses import dataclass

import zmq

from console.core.errors import UsageError

HEARTBEAT_MS = 500
HEARTBEAT_TIMEOUT_MS = 1500
HANDSHAKE_MS = 3000
CONNECT_TIMEOUT_MS = 3000
RECONNECT_MS = 100
RECONNECT_LIMIT_MS = 1000
GIVEN_UP_S = 1.0
FRESH_S = 2.0

BROKEN_OFF = "handshake broken off"
NOT_UNDERSTOOD = "handshake not understood"
KEY_REFUSED = "key refused"
_FAILURES = {
    int(zmq.Event.HANDSHAKE_FAILED_NO_DETAIL): BROKEN_OFF,
    int(zmq.Event.HANDSHAKE_FAILED_PROTOCOL): NOT_UNDERSTOOD,
    int(zmq.Event.HANDSHAKE_FAILED_AUTH): KEY_REFUSED,
}
# One and the same obstacle shows in several ways, try by try: the last of these says most.
_TELLING = (BROKEN_OFF, NOT_UNDERSTOOD, KEY_REFUSED)
# What each failure means, without and with keys on this end, as tried with libzmq 4.3.
_WHY = {
    (KEY_REFUSED, True): "key refused: the publisher must have this console's leadmark.key "
    "in its authorised folder",
    (KEY_REFUSED, False): "refused: the publisher wants keys, give --keys DIR",
    (NOT_UNDERSTOOD, True): "refused: the publisher goes without keys, or is none",
    (NOT_UNDERSTOOD, False): "refused: the publisher wants keys, give --keys DIR, or is none",
    (BROKEN_OFF, True): "the publisher breaks off: it has another key than expected, "
    "goes without keys, or hangs",
    (BROKEN_OFF, False): "the publisher breaks off: it may want keys (--keys DIR), or hangs",
}
_UP = int(zmq.Event.HANDSHAKE_SUCCEEDED)
_CUT = int(zmq.Event.DISCONNECTED)
_RETRIES = frozenset({int(zmq.Event.CONNECT_RETRIED), int(zmq.Event.CONNECT_DELAYED)})
_EVENT = struct.Struct("=hi")


@dataclass(frozen=True, slots=True)
class LinkHealth:
    """The state of one endpoint's link.

    Attributes
    ----------
    endpoint : str
    is_up : bool
        Handshake done and not cut since, or data fresh.
    frames : int
        Messages received, malformed ones among them.
    malformed : int
        Messages of another number of frames than two.
    last_frame_s : float or None
        When the newest message came.
    handshakes, handshake_failures, cuts : int
    failure : str
        What handshakes failed of since the last that succeeded: the most telling of all tries.
    has_keys : bool
        Whether this end expects CURVE.
    given_up : int
        Messages that were read and given up because more came than could be taken.
    """

    endpoint: str
    is_up: bool
    frames: int
    malformed: int
    last_frame_s: float | None
    handshakes: int
    handshake_failures: int
    cuts: int
    failure: str
    has_keys: bool = False
    given_up: int = 0

    @property
    def why_down(self) -> str:
        """Say why it is down and what may mend it; empty while it is up."""
        if self.is_up:
            return ""
        if self.failure:
            return _WHY[self.failure, self.has_keys]
        return "it was cut, nobody answers since" if self.cuts else "no publisher answers yet"


class LinkMonitor:
    """Follows the events of a socket, and of those that take its place.

    Used by the thread that owns the socket.
    """

    def __init__(self) -> None:
        self._socket: zmq.Socket[bytes] | None = None
        self._events: zmq.Socket[bytes] | None = None
        self.is_connected = False
        self.handshakes = 0
        self.handshake_failures = 0
        self.cuts = 0
        self.failure = ""
        self._cut_mono_s: float | None = None

    def follow(self, socket: zmq.Socket[bytes]) -> None:
        """Follow a new socket, not yet connected; what was counted stands."""
        self._socket = socket
        self._events = socket.get_monitor_socket(_watched())
        self._cut_mono_s = None

    @property
    def events(self) -> zmq.Socket[bytes]:
        """Where the events of the socket come from, for a poller."""
        if self._events is None:
            raise UsageError("no socket is followed")
        return self._events

    def drain(self) -> None:
        """Take all events that wait."""
        try:
            while True:
                parts = self.events.recv_multipart(zmq.NOBLOCK)
                if parts and len(parts[0]) == _EVENT.size:
                    self._note(_EVENT.unpack(parts[0])[0] & 0xFFFF)
        except zmq.Again:
            return

    def is_given_up(self) -> bool:
        """Tell once that ZeroMQ no longer tries: a cut was not followed by a retry."""
        cut_s = self._cut_mono_s
        if cut_s is None or time.monotonic() - cut_s < GIVEN_UP_S:
            return False
        self._cut_mono_s = None
        return True

    def close(self) -> None:
        """End the events; the socket itself stays open. A link that stood is cut with it."""
        if self._socket is None:
            return
        self.cuts += self.is_connected
        self.is_connected = False
        self._socket.disable_monitor()
        self.events.close(linger=0)
        self._socket = self._events = None

    def _note(self, event: int) -> None:
        if event == _UP:
            self.is_connected = True
            self.handshakes += 1
            self.failure = ""
        elif event in _FAILURES:
            self.is_connected = False
            self.handshake_failures += 1
            self.failure = max(self.failure, _FAILURES[event], key=("", *_TELLING).index)
        elif event == _CUT:
            # A connection that never shook hands ends as well: that is no cut of a link.
            self.cuts += self.is_connected
            self.is_connected = False
            self._cut_mono_s = time.monotonic()
        elif event in _RETRIES:
            self._cut_mono_s = None


def _watched() -> int:
    return sum({_UP, _CUT, *_FAILURES, *_RETRIES})


def set_common(socket: zmq.Socket[bytes], is_ipv6: bool) -> None:
    """Set what both ends need: heartbeats, and handshakes that do not wait for ever."""
    socket.set(zmq.LINGER, 0)
    socket.set(zmq.IPV6, int(is_ipv6))
    socket.set(zmq.HEARTBEAT_IVL, HEARTBEAT_MS)
    socket.set(zmq.HEARTBEAT_TIMEOUT, HEARTBEAT_TIMEOUT_MS)
    socket.set(zmq.HEARTBEAT_TTL, HEARTBEAT_TIMEOUT_MS)
    socket.set(zmq.HANDSHAKE_IVL, HANDSHAKE_MS)
