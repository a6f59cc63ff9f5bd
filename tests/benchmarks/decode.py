"""Thread CPU a message: receiving alone against receiving and decoding, over loopback TCP.

Run from the project's folder: ``python tests/benchmarks/decode.py [MESSAGES]``. The baseline is
the barest receive there is (two ``recv`` a message, nothing looked at); against it stand the
typed decoder on that same loop, and the subscriber with its checks of shape and its time stamps.
Goal: typed decoding at most 4 times the CPU of the baseline. Exit status 1 where it is missed.
"""

from __future__ import annotations

import multiprocessing
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import msgspec
import zmq

from console.archive.recording import EngineTime, Recorder, RecordingMeta
from console.core.records import Frame
from console.link.subscriber import Subscriber
from console.wire.decode import decode

GOAL = 4.0
REPEATS = 3
RECORDED = 30_000
"""Messages recorded at once: few enough to be read before the subscriber takes it for a flood."""
SILENCE_S = 5.0
TOPIC = b"rel/optical"
FIELDS = {
    "seq": 123456,
    "t": 1932100000.25,
    "range_m": 20.512345,
    "range_rate_mps": -0.0912345,
    "y_m": 0.1123,
    "z_m": -0.2234,
    "y_rate_mps": 0.00112,
    "z_rate_mps": -0.00223,
    "roll_rate_dps": 0.0134,
    "pitch_rate_dps": 0.0245,
    "yaw_rate_dps": -0.0356,
    "valid": True,
}
ANGLES = FIELDS | {"roll_deg": 0.3345, "pitch_deg": -0.4456, "yaw_deg": 0.5567}
QUATERNION = FIELDS | {"q": [0.99998, 0.0029, -0.0039, 0.0049]}
PAYLOADS = {
    "MessagePack": msgspec.msgpack.encode(ANGLES),
    "JSON": msgspec.json.encode(ANGLES),
    "MessagePack with q": msgspec.msgpack.encode(QUATERNION),
}


def publish(endpoints: multiprocessing.Queue[str], payload: bytes, count: int) -> None:
    """Send as fast as it goes, once somebody subscribed; stay until killed."""
    with zmq.Context() as context, context.socket(zmq.XPUB) as socket:
        socket.set(zmq.SNDHWM, 0)
        socket.bind("tcp://127.0.0.1:*")
        endpoints.put(socket.get(zmq.LAST_ENDPOINT).decode())
        socket.recv()
        for _ in range(count):
            socket.send(TOPIC, zmq.SNDMORE)
            socket.send(payload)
        socket.recv()


def measured(
    take: Callable[[str, int], float], payload: bytes, count: int, repeats: int = REPEATS
) -> float:
    """Give the median CPU a message of one way to receive, in microseconds."""
    results = []
    for _ in range(repeats):
        spawn = multiprocessing.get_context("spawn")
        endpoints = spawn.Queue()
        process = spawn.Process(target=publish, args=(endpoints, payload, count), daemon=True)
        process.start()
        results.append(take(endpoints.get(), count) / count * 1e6)
        process.kill()
        process.join()
    return statistics.median(results)


def bare(work: Callable[[bytes, bytes], object] | None) -> Callable[[str, int], float]:
    """Receive with two calls a message, and work on it where there is work."""

    def take(endpoint: str, count: int) -> float:
        with zmq.Context() as context, context.socket(zmq.SUB) as socket:
            socket.set(zmq.RCVHWM, 0)
            socket.subscribe(b"")
            socket.connect(endpoint)
            recv = socket.recv
            begin_s = time.thread_time()
            if work is None:
                for _ in range(count):
                    recv()
                    recv()
            else:
                for _ in range(count):
                    work(recv(), recv())
            return time.thread_time() - begin_s

    return take


def subscribed(is_decoding: bool) -> Callable[[str, int], float]:
    """Receive by the subscriber, and decode or not."""

    def take(endpoint: str, count: int) -> float:
        taken = 0
        with Subscriber([endpoint], clock=time.time) as subscriber:
            begin_s = time.thread_time()
            while taken < count:
                frames = polled(subscriber, taken, count)
                taken += len(frames)
                if is_decoding:
                    for frame in frames:
                        decode(frame.topic, frame.payload)
            return time.thread_time() - begin_s

    return take


def polled(subscriber: Subscriber, taken: int, count: int) -> list[Frame]:
    """Give what came; the subscriber lets go of what comes faster than it is read for long."""
    frames = subscriber.poll(SILENCE_S)
    if not frames:
        raise RuntimeError(f"{taken} of {count} messages came: send fewer")
    return frames


def walled(
    take: Callable[[str, int], float], payload: bytes, count: int, repeats: int = REPEATS
) -> float:
    """Give the messages a second of one way to receive, by the clock on the wall."""
    return 1e6 / measured(take, payload, count, repeats)


def bare_wall(endpoint: str, count: int) -> float:
    """Receive with two calls a message; give the time from the first to the last, s."""
    with zmq.Context() as context, context.socket(zmq.SUB) as socket:
        socket.set(zmq.RCVHWM, 0)
        socket.subscribe(b"")
        socket.connect(endpoint)
        recv = socket.recv
        recv()
        begin_s = time.perf_counter()
        recv()
        for _ in range(count - 1):
            recv()
            recv()
        return time.perf_counter() - begin_s


def recorded_wall(endpoint: str, count: int) -> float:
    """Receive, decode and record frame and columns with FULL; give the time until committed, s."""
    folder = Path(tempfile.mkdtemp(prefix="leadmark-decode-"))
    meta = RecordingMeta(started_s=time.time(), engine_time=EngineTime.RECEIVE)
    taken, begin_s = 0, 0.0
    try:
        with (
            Subscriber([endpoint], clock=time.time) as subscriber,
            Recorder(folder / "all.leadmark", meta) as recorder,
        ):
            while taken < count:
                frames = polled(subscriber, taken, count)
                begin_s = begin_s or time.perf_counter()
                taken += len(frames)
                for frame in frames:
                    number = recorder.frame(frame)
                    recorder.sample(decode(frame.topic, frame.payload), number)
            assert recorder.flush(60.0)
            took_s = time.perf_counter() - begin_s
            assert recorder.status().lost_frames == 0
    finally:
        shutil.rmtree(folder)
    return took_s


def main(count: int) -> int:
    """Measure and write a table; give the exit status."""
    say(f"{count} messages each, median of {REPEATS}, microseconds of thread CPU a message")
    head = ("payload", "bytes", "receive", "+ decode", "ratio", "subscriber", "+ decode")
    say("{:<20}{:>6}{:>9}{:>9}{:>7}{:>12}{:>9}".format(*head))
    ratios = {}
    few = min(count, RECORDED)
    for name, payload in PAYLOADS.items():
        alone_us = measured(bare(None), payload, count)
        decoded_us = measured(bare(decode), payload, count)
        stamped_us = measured(subscribed(is_decoding=False), payload, few)
        whole_us = measured(subscribed(is_decoding=True), payload, few)
        ratios[name] = decoded_us / alone_us
        say(
            f"{name:<20}{len(payload):>6}{alone_us:>9.2f}{decoded_us:>9.2f}{ratios[name]:>7.2f}"
            f"{stamped_us:>12.2f}{whole_us:>9.2f}"
        )
    payload = PAYLOADS["MessagePack"]
    alone, whole = walled(bare_wall, payload, few), walled(recorded_wall, payload, few)
    say(
        f"receive, decode and record: {whole:,.0f} messages/s, {whole / alone:.2f} of "
        f"receiving alone ({alone:,.0f})"
    )
    ratio = ratios["MessagePack"]
    say(f"typed decode of MessagePack against receiving alone: {ratio:.2f} (at most {GOAL:g})")
    return int(ratio > GOAL)


def say(line: str) -> None:
    """Write a line."""
    sys.stdout.write(line + "\n")


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 300_000))
