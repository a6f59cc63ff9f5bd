"""More than can be read: the console lives, its memory is bounded, and the link heals."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
import zmq
from link_tools import ANY_PORT, SetClock, collect, poll_until, sample

from console.link import receiver
from console.link.health import LinkHealth
from console.link.publisher import Publisher
from console.link.subscriber import Subscriber
from console.wire.encode import encode

STALLED = """
import subprocess, sys, threading, time
from console.link.health import HEARTBEAT_TIMEOUT_MS
from console.link.subscriber import Subscriber

SENDER = '''
import sys, time
from console.link.publisher import Publisher
with Publisher("tcp://127.0.0.1:0", clock=time.time) as publisher:
    print(publisher.endpoint, flush=True)
    publisher.wait_for_subscriber(10.0)
    for n in range(20_000):
        publisher.send_frame(b"rel/optical", b"%d" % n)
    sys.stdin.read()
'''
sender = subprocess.Popen(
    [sys.executable, "-c", SENDER], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
)
with sender, Subscriber([sender.stdout.readline().strip()], clock=time.time) as subscriber:
    count = 0
    while not count:
        count += len(subscriber.poll(0.1))
    time.sleep(HEARTBEAT_TIMEOUT_MS / 1000.0 + 0.7)  # nobody reads, not even heartbeats
    end_s = time.monotonic() + 8.0
    while count < 20_000 and time.monotonic() < end_s:
        count += len(subscriber.poll(0.1))
    print(count, subscriber.health()[0].cuts)
    sender.stdin.close()
"""


def test_a_console_that_stalls_under_a_flood_lives_on() -> None:
    """Nobody reads for longer than a heartbeat waits: no abort, and nothing is lost.

    With a queue that could be full libzmq would end the process here.
    """
    done = subprocess.run(
        [sys.executable, "-c", STALLED], capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 0, done.stderr
    count, cuts = map(int, done.stdout.split())
    assert count == 20_000 or cuts  # on a machine so busy that the peer hangs too, some are lost


def test_the_queue_of_zeromq_is_never_full() -> None:
    """No high-water mark at the receiving end."""
    with Subscriber(["tcp://127.0.0.1:5556"], clock=SetClock()) as subscriber:
        assert subscriber._receivers[0].socket.get(zmq.RCVHWM) == 0


class Flood:
    """Sends one message again and again, as fast as it goes, on a thread of its own."""

    def __init__(self, publisher: Publisher) -> None:
        self._publisher = publisher
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    def _run(self) -> None:
        frame = encode(sample(1))
        while not self._over.is_set():
            for _ in range(500):
                self._publisher.send_frame(*frame)
            time.sleep(0.001)

    def end(self) -> None:
        """Send no more."""
        self._over.set()
        self._thread.join()


@contextmanager
def flooded(is_enough: Callable[[LinkHealth], bool]) -> Iterator[tuple[Publisher, Subscriber]]:
    """Give both ends of a link, less taken of a flood than comes until it is enough."""
    with (
        Publisher(ANY_PORT, clock=SetClock()) as publisher,
        Subscriber([publisher.endpoint], clock=SetClock()) as subscriber,
    ):
        assert publisher.wait_for_subscriber(10.0)
        flood = Flood(publisher)
        try:
            poll_little(subscriber, is_enough)
        finally:
            flood.end()
        yield publisher, subscriber


def poll_little(subscriber: Subscriber, is_enough: Callable[[LinkHealth], bool]) -> None:
    """Take less than comes until it is enough."""
    end_s = time.monotonic() + 10.0
    while not is_enough(subscriber.health()[0]):
        assert time.monotonic() < end_s, f"never: {subscriber.health()}"
        subscriber.poll(0.01, 20)
        time.sleep(0.002)  # however quick the machine: at most ten thousand a second


def test_what_cannot_be_taken_is_given_up_and_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    """A backlog that stands at every look is read and dropped; the link is not cut by that."""
    monkeypatch.setattr(receiver, "SKIM_AFTER_S", 0.1)
    with flooded(lambda link: link.given_up > 100) as (publisher, subscriber):
        collect(subscriber, 10**6, 0.3)  # what was on its way
        publisher.send(sample(77))
        assert len(collect(subscriber, 1)) == 1
        (link,) = subscriber.health()
        assert (link.is_up, link.cuts) == (True, 0)


def test_what_cannot_even_be_given_up_makes_the_socket_anew(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Memory is let go; counts go on, the link heals, data comes again."""
    monkeypatch.setattr(receiver, "SKIM_AFTER_S", 100.0)
    monkeypatch.setattr(receiver, "OVERRUN_S", 0.3)
    with flooded(lambda link: link.cuts > 0) as (publisher, subscriber):
        before = subscriber.health()[0]
        assert before.frames > 20
        poll_until(subscriber, lambda: subscriber.health()[0].handshakes >= 2)
        assert publisher.wait_for_subscriber(10.0)
        collect(subscriber, 10**6, 0.3)

        def is_heard() -> bool:
            publisher.send(sample(77))
            return subscriber.health()[0].frames > before.frames

        poll_until(subscriber, is_heard)
        assert subscriber.health()[0].is_up
