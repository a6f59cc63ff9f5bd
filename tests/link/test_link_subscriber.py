"""The link over real sockets on loopback TCP: what arrives, what is refused, what heals."""

from __future__ import annotations

import signal
import socket as sockets
import subprocess
import sys
import threading
from dataclasses import replace

import pytest
from link_tools import ANY_PORT, SetClock, T, collect, poll_until, sample

from console.core.errors import InputError, WireError
from console.core.records import Frame, Heartbeat
from console.link.health import FRESH_S, KEY_REFUSED, LinkMonitor
from console.link.publisher import Publisher
from console.link.subscriber import Subscriber
from console.wire.decode import decode
from console.wire.encode import Form, encode
from console.wire.reason import Reason


@pytest.fixture
def publisher():
    """Give a bound publisher."""
    with Publisher(ANY_PORT, clock=SetClock()) as bound:
        yield bound


@pytest.fixture
def subscriber(publisher):
    """Give a subscriber whose subscription the publisher has heard."""
    with Subscriber([publisher.endpoint], clock=SetClock()) as connected:
        assert publisher.wait_for_subscriber(10.0)
        yield connected


def reason(frame: Frame) -> str:
    """Give why a frame is refused."""
    with pytest.raises(WireError) as caught:
        decode(frame.topic, frame.payload)
    return caught.value.reason


def test_nothing_is_lost_once_subscribed(publisher, subscriber):
    """Every message sent after the subscription arrives, whole and in order, in both forms."""
    sent = [sample(seq) for seq in range(2000)]
    for record in sent:
        publisher.send(record, (Form.MESSAGEPACK, Form.JSON)[record.seq % 2])
    frames = collect(subscriber, 2000)
    assert [decode(frame.topic, frame.payload) for frame in frames] == sent


def test_a_burst_is_held(publisher, subscriber):
    """50,000 messages at once while the subscriber does not look are all there afterwards."""
    topic, payload = encode(sample(1))
    for _ in range(50_000):
        publisher.send_frame(topic, payload)
    assert len(collect(subscriber, 50_000)) == 50_000


def test_stamps_are_the_clocks(publisher):
    """Each message carries the time the clock gave when it was taken."""
    clock = SetClock()
    with Subscriber([publisher.endpoint], clock=clock) as subscriber:
        assert publisher.wait_for_subscriber(10.0)
        for step in range(3):
            clock.now_s = T + step
            publisher.send(sample(step))
            assert [frame.t_received_s for frame in collect(subscriber, 1)] == [T + step]


def test_batches_are_bounded(publisher, subscriber):
    """One poll gives at most what was asked for; the rest waits."""
    for seq in range(100):
        publisher.send(sample(seq))
    seen = collect(subscriber, 1)
    while len(seen) < 100:
        frames = subscriber.poll(5.0, most=30)
        assert 0 < len(frames) <= 30
        seen += frames
    assert [decode(*frame_bytes(frame)).seq for frame in seen] == list(range(100))
    assert subscriber.poll(0.0) == []


def frame_bytes(frame: Frame) -> tuple[bytes, bytes]:
    """Give topic and payload."""
    return frame.topic, frame.payload


def test_several_publishers():
    """One subscriber hears several endpoints, and tells their links apart."""
    clock = SetClock()
    with (
        Publisher(ANY_PORT, clock=clock) as one,
        Publisher(ANY_PORT, clock=clock) as two,
        Subscriber([one.endpoint, two.endpoint], clock=clock) as subscriber,
    ):
        for bound in (one, two):
            assert bound.wait_for_subscriber(10.0)
        one.send(sample(1, "optical"))
        two.send(sample(1, "radio"))
        two.send(sample(2, "radio"))
        topics = sorted(frame.topic for frame in collect(subscriber, 3))
        assert topics == [b"rel/optical", b"rel/radio", b"rel/radio"]
        health = subscriber.health()
        assert [link.endpoint for link in health] == [one.endpoint, two.endpoint]
        assert [link.frames for link in health] == [1, 2]


def test_heartbeats_carry_the_last_number(publisher, subscriber):
    """A publisher's heartbeat names each source's last sample, at the time given."""
    for seq in (4, 5):
        publisher.send(sample(seq))
    publisher.send(sample(9, "radio"))
    publisher.heartbeat(T + 7.0)
    publisher.heartbeat()
    records = [decode(*frame_bytes(frame)) for frame in collect(subscriber, 7)]
    assert records[3:] == [
        Heartbeat("optical", T + 7.0, 5),
        Heartbeat("radio", T + 7.0, 9),
        Heartbeat("optical", T, 5),
        Heartbeat("radio", T, 9),
    ]


@pytest.mark.parametrize("count", [1, 3, 4, 700])
def test_messages_of_other_shapes_are_counted(publisher, subscriber, count):
    """A message that has not two frames becomes a reject, and the next one is whole again."""
    publisher._socket.send_multipart([b"rel/optical"] * count)
    publisher.send(sample(1))
    odd, good = collect(subscriber, 2)
    assert reason(odd) == Reason.FRAMES
    assert decode(*frame_bytes(good)) == sample(1)
    (link,) = subscriber.health()
    assert (link.frames, link.malformed) == (2, 1)


def test_huge_messages_of_many_frames_are_kept_bounded(publisher, subscriber):
    """Of a message of many large frames only a bounded part is kept."""
    publisher._socket.send_multipart([b"x" * 60_000] * 20)
    (odd,) = collect(subscriber, 1)
    assert reason(odd) == Reason.FRAMES
    assert len(odd.payload) == 65_536


@pytest.mark.parametrize("size", [65_537, 1_000_000, 15_000_000])
def test_oversize_payloads_are_refused_not_the_link(publisher, subscriber, size):
    """A payload over 64 KiB is a reject like any other: the link stays, memory stays bounded."""
    topic, _ = encode(sample(1))
    publisher.send_frame(topic, b"{" + b" " * (size - 1))
    publisher.send_frame(b"rel/" + b"y" * size, b"{}")
    publisher.send(sample(2))
    large, long_topic, good = collect(subscriber, 3)
    assert (reason(large), len(large.payload)) == (Reason.TOO_LARGE, 65_537)
    assert reason(long_topic) == Reason.SOURCE_NAME
    assert len(long_topic.topic) < 1000
    assert decode(*frame_bytes(good)) == sample(2)
    assert subscriber.health()[0].cuts == 0


def test_a_payload_of_exactly_64_kib_arrives_whole(publisher, subscriber):
    """The largest allowed payload is handed on untouched."""
    topic, payload = encode(sample(1), Form.JSON)
    whole = payload[:-1] + b" " * (65_536 - len(payload)) + b"}"
    publisher.send_frame(topic, whole)
    (frame,) = collect(subscriber, 1)
    assert frame_bytes(frame) == (topic, whole)
    assert decode(*frame_bytes(frame)) == sample(1)


def test_a_message_beyond_all_bounds_cuts_the_link_which_heals(publisher, subscriber):
    """ZeroMQ cuts the link at a message over 16 MiB; it comes back by itself."""
    poll_until(subscriber, lambda: subscriber.health()[0].handshakes == 1)
    publisher.send_frame(b"rel/optical", b"x" * (17 * 1024 * 1024))
    poll_until(subscriber, lambda: subscriber.health()[0].cuts >= 1)
    poll_until(subscriber, lambda: subscriber.health()[0].handshakes >= 2)
    seen: list[Frame] = []

    def arrived() -> bool:
        publisher.send(sample(3))
        seen.extend(subscriber.poll(0.05))
        return any(frame.topic == b"rel/optical" for frame in seen)

    poll_until(subscriber, arrived)
    assert decode(*frame_bytes(seen[0])) == sample(3)


def test_it_reconnects_by_itself():
    """When a publisher ends and another begins at the same place, data goes on."""
    clock = SetClock()
    first = Publisher(ANY_PORT, clock=clock)
    with Subscriber([first.endpoint], clock=clock) as subscriber:
        assert first.wait_for_subscriber(10.0)
        first.send(sample(1))
        assert len(collect(subscriber, 1)) == 1
        clock.now_s += FRESH_S + 1.0
        assert subscriber.health()[0].is_up
        first.close()
        poll_until(subscriber, lambda: not subscriber.health()[0].is_up)
        clock.now_s -= 1000.0  # set back: what came last came in the future, and is not fresh
        assert not subscriber.health()[0].is_up
        clock.now_s += 1000.0
        assert subscriber.poll(0.0) == []
        with Publisher(first.endpoint, clock=clock) as second:
            # The subscription must reach the new publisher while the subscriber polls.
            poll_until(subscriber, lambda: second.wait_for_subscriber(0.01))
            second.send(sample(2))
            (frame,) = collect(subscriber, 1)
            assert decode(*frame_bytes(frame)) == sample(2)
            (link,) = subscriber.health()
            assert link.is_up
            assert (link.handshakes, link.cuts) == (2, 1)


def test_it_may_start_before_the_publisher():
    """A subscriber waits for a publisher that is not there yet, and polls in time meanwhile."""
    clock = SetClock()
    with sockets.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
    endpoint = f"tcp://127.0.0.1:{port}"
    with Subscriber([endpoint], clock=clock) as subscriber:
        assert subscriber.poll(0.05) == []
        assert not subscriber.health()[0].is_up
        with Publisher(endpoint, clock=clock) as publisher:
            poll_until(subscriber, lambda: publisher.wait_for_subscriber(0.01))
            assert subscriber.health()[0].is_up


def test_a_connection_alone_is_no_link():
    """A peer that accepts and says nothing is not up, however long it holds the line."""
    with sockets.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
        with Subscriber([f"tcp://127.0.0.1:{port}"], clock=SetClock()) as subscriber:
            line, _ = server.accept()
            with line:
                assert line.recv(10)[:1] == b"\xff"  # ZMTP's greeting: it is connected
                assert subscriber.poll(0.3) == []
                (link,) = subscriber.health()
                assert (link.is_up, link.handshakes) == (False, 0)


def test_a_peer_that_talks_nonsense_is_no_link():
    """Bytes that are no ZMTP never raise, and whatever ZeroMQ reads in them is refused."""
    with sockets.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
        with Subscriber([f"tcp://127.0.0.1:{port}"], clock=SetClock()) as subscriber:
            line, _ = server.accept()
            with line:
                line.sendall(b"HTTP/1.1 400 Bad Request\r\n\r\n" * 20)
                for frame in subscriber.poll(0.2):
                    assert reason(frame)
            assert subscriber.health()[0].handshakes == 0


def test_fresh_data_is_a_link():
    """Where a peer's handshake is not reported, data keeps the link up while it is fresh."""
    clock = SetClock()
    with (
        Publisher(ANY_PORT, clock=clock) as publisher,
        Subscriber([publisher.endpoint], clock=clock) as subscriber,
    ):
        assert publisher.wait_for_subscriber(10.0)
        publisher.send(sample(1))
        collect(subscriber, 1)
        subscriber._receivers[0].monitor.is_connected = False
        assert subscriber.health()[0].is_up
        clock.now_s += FRESH_S + 0.1
        assert not subscriber.health()[0].is_up


HANGING = """
import sys
from console.link.publisher import Publisher
with Publisher("tcp://127.0.0.1:0", clock=lambda: 0.0) as publisher:
    print(publisher.endpoint, flush=True)
    publisher.wait_for_subscriber(30.0)
    sys.stdin.read()
"""


@pytest.mark.skipif(sys.platform == "win32", reason="stops a process by a POSIX signal")
def test_a_peer_that_hangs_is_a_cut():
    """A stopped publisher is noticed by ZMTP heartbeats, and the link heals when it goes on."""
    process = subprocess.Popen(
        [sys.executable, "-c", HANGING], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    with process, Subscriber([process.stdout.readline().strip()], clock=SetClock()) as subscriber:
        poll_until(subscriber, lambda: subscriber.health()[0].is_up)
        process.send_signal(signal.SIGSTOP)
        try:
            poll_until(subscriber, lambda: not subscriber.health()[0].is_up)
            assert subscriber.health()[0].cuts == 1
        finally:
            process.send_signal(signal.SIGCONT)
        poll_until(subscriber, lambda: subscriber.health()[0].is_up)
        process.stdin.close()
        process.wait(10.0)


def test_health_from_another_thread(publisher, subscriber):
    """Health can be asked for while another thread polls."""
    stop, states = threading.Event(), []

    def ask() -> None:
        while not stop.is_set():
            states.append(subscriber.health()[0].frames)

    thread = threading.Thread(target=ask)
    thread.start()
    for seq in range(500):
        publisher.send(sample(seq))
    collect(subscriber, 500)
    stop.set()
    thread.join()
    assert states == sorted(states)
    assert subscriber.health()[0].frames == 500


def test_closing_is_quiet_and_final(publisher):
    """A closed subscriber gives nothing and closes again without a word."""
    subscriber = Subscriber([publisher.endpoint], clock=SetClock())
    subscriber.close()
    subscriber.close()
    assert subscriber.poll(5.0) == []
    assert len(subscriber.health()) == 1


@pytest.mark.parametrize(
    ("endpoints", "words"),
    [
        ([], "none given"),
        (["nonsense"], "not a ZeroMQ endpoint"),
        (["tcp://127.0.0.1:5556", "tcp://127.0.0.1:5556"], "stands twice"),
        (["tcp://10.0.0.5:5556"], "--insecure"),
    ],
)
def test_endpoints_refused(endpoints, words):
    """A subscriber refuses what it cannot or must not connect to."""
    with pytest.raises(InputError, match=words):
        Subscriber(endpoints, clock=SetClock())


def test_insecure_is_said():
    """Going in the clear beyond loopback must be asked for, and is known afterwards."""
    with Subscriber(["tcp://192.0.2.1:5556"], clock=SetClock(), insecure=True) as subscriber:
        assert subscriber.is_insecure
    with Subscriber(["tcp://127.0.0.1:5556"], clock=SetClock(), insecure=True) as subscriber:
        assert not subscriber.is_insecure


def test_monitor_knows_every_failure():
    """Each way a handshake fails has its words."""
    import zmq

    with Subscriber(["tcp://127.0.0.1:5556"], clock=SetClock()) as subscriber:
        monitor: LinkMonitor = subscriber._receivers[0].monitor
        for event in (
            zmq.Event.HANDSHAKE_FAILED_NO_DETAIL,
            zmq.Event.HANDSHAKE_FAILED_PROTOCOL,
            zmq.Event.HANDSHAKE_FAILED_AUTH,
        ):
            monitor._note(int(event))
            assert monitor.failure
            for has_keys in (False, True):
                link = replace(subscriber.health()[0], has_keys=has_keys)
                assert link.why_down
        assert monitor.handshake_failures == 3
        assert monitor.failure == KEY_REFUSED
        monitor._note(int(zmq.Event.HANDSHAKE_FAILED_NO_DETAIL))
        assert monitor.failure == KEY_REFUSED  # the try that told most stands
        monitor._note(int(zmq.Event.HANDSHAKE_SUCCEEDED))
        assert (monitor.failure, subscriber.health()[0].why_down) == ("", "")
        monitor._note(int(zmq.Event.DISCONNECTED))
        assert subscriber.health()[0].why_down == "it was cut, nobody answers since"
