"""One endpoint's receiving socket: messages out, whatever shape they have."""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import suppress

import zmq

from console.core.records import Frame
from console.link.curve import Keys
from console.link.endpoint import Endpoint
from console.link.health import (
    CONNECT_TIMEOUT_MS,
    FRESH_S,
    RECONNECT_LIMIT_MS,
    RECONNECT_MS,
    LinkHealth,
    LinkMonitor,
    set_common,
)
from console.wire.rules import PAYLOAD_LIMIT_BYTES, SOURCE_LIMIT_BYTES
from console.wire.topic import topic_of_frames

# None: where ZeroMQ's queue is full while the link is cut and made anew (a heartbeat that was not
# read in time is enough), libzmq 4.3 ends the whole process ("Assertion failed: _input_stopped",
# its issue 3937). So its queue is never full; what bounds it are these two.
HIGH_WATER_MARK = 0
# Where as many messages wait at each look as are taken at once, and that for so long, more comes
# than can be taken: what waits is read and given up, which is ten times as fast.
SKIM_AFTER_S = 0.5
SKIM_FOR_S = 0.2
# Where even that does not help, the socket is made anew before it fills the memory.
OVERRUN_S = 2.0
# Far above the 64 KiB of the wire: ZeroMQ cuts the link at a larger message, and a payload over
# the limit is to be counted, not to cost the link.
MESSAGE_LIMIT_BYTES = 16 * 1024 * 1024
# What goes on of an oversize message: enough for the rules to refuse it, not enough to fill the
# recording.
PAYLOAD_KEPT_BYTES = PAYLOAD_LIMIT_BYTES + 1
TOPIC_KEPT_BYTES = 2 * SOURCE_LIMIT_BYTES

SKIM_BETWEEN_LOOKS = 500
_NOBLOCK = int(zmq.NOBLOCK)


class Receiver:
    """Owns one SUB socket; everything but :meth:`health` is for one thread alone."""

    def __init__(
        self,
        context: zmq.Context[zmq.Socket[bytes]],
        endpoint: Endpoint,
        keys: Keys | None,
        clock: Callable[[], float],
    ) -> None:
        self.endpoint = endpoint
        self._context = context
        self._keys = keys
        self._clock = clock
        self._frames = 0
        self._malformed = 0
        self._last_frame_s: float | None = None
        self._given_up = 0
        self._full_since_s: float | None = None
        self.monitor = LinkMonitor()
        self.socket = self._opened()

    def _opened(self) -> zmq.Socket[bytes]:
        socket = self._context.socket(zmq.SUB)
        self._set_options(socket)
        self.monitor.follow(socket)
        socket.subscribe(b"")
        socket.connect(self.endpoint.text)
        return socket

    def receive(self, frames: list[Frame], most: int) -> None:
        """Append messages that wait, at most so many, each stamped with the time now."""
        recv, clock = self.socket.recv, self._clock
        begin = len(frames)
        try:
            # Two frames with their "more" mark cost half of what recv_multipart does.
            while len(frames) - begin < most:
                first = recv(_NOBLOCK, copy=False)
                if first.more:
                    second = recv(_NOBLOCK, copy=False)
                    if not second.more:
                        frames.append(_frame(clock(), first.bytes, second.bytes))
                        continue
                    frames.append(self._odd(clock(), [first, second]))
                else:
                    frames.append(self._odd(clock(), [first]))
        except zmq.Again:
            pass
        taken = len(frames) - begin
        self._frames += taken
        if taken:
            self._last_frame_s = frames[-1].t_received_s
        if taken < most:
            self._full_since_s = None
        elif self._full_since_s is None:
            self._full_since_s = time.monotonic()
        elif time.monotonic() - self._full_since_s > SKIM_AFTER_S and self._skim():
            self._full_since_s = None

    def tend(self) -> bool:
        """Take the link's events, and connect anew where that is needed.

        Returns
        -------
        bool
            Whether there is a new socket: more came than could even be given up.
        """
        self.monitor.drain()
        if self._full_since_s is not None and time.monotonic() - self._full_since_s > OVERRUN_S:
            self._full_since_s = None
            self.monitor.close()
            self.socket.close(linger=0)
            self.socket = self._opened()
            return True
        if self.monitor.is_given_up():
            with suppress(zmq.ZMQError):  # it may be forgotten already
                self.socket.disconnect(self.endpoint.text)
            self.socket.connect(self.endpoint.text)
        return False

    def _skim(self) -> bool:
        """Read and give up what waits, for a while; tell whether nothing waits any more."""
        recv, end_s = self.socket.recv, time.monotonic() + SKIM_FOR_S
        try:
            while time.monotonic() < end_s:
                for _ in range(SKIM_BETWEEN_LOOKS):
                    while recv(_NOBLOCK, copy=False).more:
                        pass
                    self._given_up += 1
        except zmq.Again:
            return True
        return False

    def health(self) -> LinkHealth:
        """Give the link's state; may be called from any thread."""
        monitor, last_frame_s = self.monitor, self._last_frame_s
        # Nothing is fresh that came in the future: the clock has been set back since.
        is_fresh = last_frame_s is not None and abs(self._clock() - last_frame_s) <= FRESH_S
        return LinkHealth(
            endpoint=self.endpoint.text,
            is_up=monitor.is_connected or is_fresh,
            frames=self._frames,
            malformed=self._malformed,
            last_frame_s=last_frame_s,
            handshakes=monitor.handshakes,
            handshake_failures=monitor.handshake_failures,
            cuts=monitor.cuts,
            failure=monitor.failure,
            has_keys=self._keys is not None,
            given_up=self._given_up,
        )

    def _odd(self, t_received_s: float, parts: list[zmq.Frame]) -> Frame:
        """Take the rest of a message that has not two frames; keep a bounded part of it."""
        self._malformed += 1
        count = len(parts)
        kept = b"".join(part.bytes for part in parts)[:PAYLOAD_LIMIT_BYTES]
        part = parts[-1]
        while part.more:
            part = self.socket.recv(_NOBLOCK, copy=False)
            count += 1
            if len(kept) < PAYLOAD_LIMIT_BYTES:
                kept = (kept + part.bytes)[:PAYLOAD_LIMIT_BYTES]
        return Frame(t_received_s, topic_of_frames(count), kept)

    def _set_options(self, socket: zmq.Socket[bytes]) -> None:
        keys = self._keys
        set_common(socket, self.endpoint.is_ipv6)
        socket.set(zmq.RCVHWM, HIGH_WATER_MARK)
        socket.set(zmq.MAXMSGSIZE, MESSAGE_LIMIT_BYTES)
        socket.set(zmq.RECONNECT_IVL, RECONNECT_MS)
        socket.set(zmq.RECONNECT_IVL_MAX, RECONNECT_LIMIT_MS)
        socket.set(zmq.CONNECT_TIMEOUT, CONNECT_TIMEOUT_MS)
        if keys is not None:
            socket.set(zmq.CURVE_SERVERKEY, keys.publisher_of(self.endpoint))
            socket.set(zmq.CURVE_PUBLICKEY, keys.public)
            socket.set(zmq.CURVE_SECRETKEY, keys.secret)


def _frame(t_received_s: float, topic: bytes, payload: bytes) -> Frame:
    if len(payload) > PAYLOAD_KEPT_BYTES or len(topic) > TOPIC_KEPT_BYTES:
        return Frame(t_received_s, topic[:TOPIC_KEPT_BYTES], payload[:PAYLOAD_KEPT_BYTES])
    return Frame(t_received_s, topic, payload)
