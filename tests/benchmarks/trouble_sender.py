"""A publisher that misbehaves on command: the other end of ``trouble``, in a process of its own.

It sends two sources at 10 Hz, as an approach does, and in between does what a line of JSON on
standard input asks for. When it is done it answers with a line: how many messages that took.
"""

from __future__ import annotations

import json
import queue
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeAlias

import msgspec

from console.core.ids import SourceId
from console.core.records import Record, RelativeSample
from console.link.curve import load_keys
from console.link.publisher import Publisher
from console.wire.encode import encode

Bytes: TypeAlias = tuple[bytes, bytes]
"""Topic and payload."""
STEP_S = 0.1
SOURCES = ("optical", "radio")
BEGIN_M, CLOSING_MPS = 60.0, 0.09
BURST = 500
"""Messages of a flood between two looks at the clock."""
_pack = msgspec.msgpack.Encoder().encode


class Sender:
    """The publisher and what it does."""

    def __init__(self, endpoint: str, keys: Path | None) -> None:
        loaded = None if keys is None else load_keys(keys)
        self.publisher = Publisher(endpoint, clock=time.time, keys=loaded)
        self.begin_s = time.time()
        self.seq = 0
        self.clock_off_s = 0.0
        self.is_mute = False
        self.sent = 0
        self.history: list[Bytes] = []

    def sample(self, source: str, seq: int, t: float) -> RelativeSample:
        """Make a sample: closing, with a little of everything."""
        wobble = 0.001 * ((seq * 7) % 11 - 5)
        range_m = BEGIN_M - CLOSING_MPS * (t - self.clock_off_s - self.begin_s) + wobble
        return RelativeSample(
            SourceId(source), seq, t, range_m, -CLOSING_MPS + 0.1 * wobble, wobble, 0.01,
            0.1, 0.2, 0.3 + wobble,
        )  # fmt: skip

    def send(self, record: Record) -> None:
        """Publish and remember a record."""
        frame = encode(record)
        self.history = [*self.history[-400:], frame]
        self.put(*frame)

    def put(self, topic: bytes, payload: bytes) -> None:
        """Publish bytes."""
        self.publisher.send_frame(topic, payload)
        self.sent += 1

    def step(self) -> None:
        """Send both sources' next sample."""
        if self.is_mute:
            return
        t = time.time() + self.clock_off_s
        for source in SOURCES:
            self.send(self.sample(source, self.seq, t))
        self.seq += 1

    # -- what it can be asked for ----------------------------------------------------------

    def mute(self, is_mute: bool) -> None:
        """Send nothing by itself, or again."""
        self.is_mute = is_mute

    def jump(self, seconds: float, once: bool = False) -> None:
        """Set the clock of both sources, for good or for a single sample."""
        before, self.clock_off_s = self.clock_off_s, self.clock_off_s + seconds
        if once:
            self.step()
            self.clock_off_s = before

    def restart(self) -> None:
        """Count from zero again, as a publisher that was started anew."""
        self.seq = 0

    def again(self, count: int) -> None:
        """Send the newest messages a second time."""
        for topic, payload in self.history[-count:]:
            self.put(topic, payload)

    def shuffle(self, pairs: int) -> None:
        """Send pairs of samples the later first."""
        for _ in range(pairs):
            time.sleep(2 * STEP_S)
            t, seq = time.time(), self.seq
            self.seq += 2
            for source in SOURCES:
                self.send(self.sample(source, seq + 1, t))
                self.send(self.sample(source, seq, t - STEP_S))

    def garbage(self, count: int) -> None:
        """Send bytes that are no records, of every kind in turn."""
        wrong = (
            (b"rel/optical", b"\xff\x00"), (b"rel/optical", b"{"), (b"nonsense", b"x"),
            (b"rel/", _pack({})), (b"rel/optical", _pack({"seq": 1})),
            (b"rel/optical", b"[" * 999),
        )  # fmt: skip
        for n in range(count):
            self.put(*wrong[n % len(wrong)])

    def large(self, size: int) -> None:
        """Send a payload of so many bytes."""
        self.put(b"rel/optical", bytes(size))

    def forge(self, seconds: float, rate_hz: float) -> None:
        """Send under a new name with every message, the approach going on in between."""
        _, payload = encode(self.sample("optical", 1, time.time()))
        self._flood(seconds, rate_hz, lambda n: (b"rel/forged%d" % n, payload), goes_on=True)

    def flood(self, seconds: float, rate_hz: float) -> None:
        """Send valid samples of one source far too fast."""
        fields = {
            name: value
            for name, value in msgspec.structs.asdict(self.sample("optical", 0, 0.0)).items()
            if value is not None and name not in ("source", "seq", "t")
        }
        fields["range_m"] = BEGIN_M - CLOSING_MPS * (time.time() - self.begin_s)

        def frame(n: int) -> Bytes:
            return b"rel/optical", _pack({"seq": self.seq + n, "t": time.time(), **fields})

        self.seq += self._flood(seconds, rate_hz, frame, goes_on=False)

    def _flood(
        self, seconds: float, rate_hz: float, frame: Callable[[int], Bytes], *, goes_on: bool
    ) -> int:
        begin_s, count, steps = time.monotonic(), 0, 0
        while (past_s := time.monotonic() - begin_s) < seconds:
            if goes_on and past_s >= steps * STEP_S:
                self.step()
                steps += 1
            if count >= past_s * rate_hz:
                time.sleep(0.0005)
                continue
            for _ in range(BURST):
                self.put(*frame(count))
                count += 1
        return count


def main() -> None:
    """Obey standard input until it ends."""
    endpoint, keys = sys.argv[1], sys.argv[2] if len(sys.argv) > 2 else ""
    sender = Sender(endpoint, Path(keys) if keys else None)
    orders: queue.Queue[dict[str, object] | None] = queue.Queue()

    def read() -> None:
        for line in sys.stdin:
            orders.put(json.loads(line))
        orders.put(None)

    threading.Thread(target=read, daemon=True).start()
    print(json.dumps({"endpoint": sender.publisher.endpoint}), flush=True)
    next_s = time.monotonic()
    while True:
        try:
            order = orders.get(timeout=max(0.0, next_s - time.monotonic()))
        except queue.Empty:
            sender.step()
            next_s = max(next_s + STEP_S, time.monotonic() - STEP_S)
            continue
        if order is None:
            break
        before = sender.sent
        getattr(sender, str(order.pop("do")))(**order)
        answer = {"took": sender.sent - before, "refused": sender.publisher.refused}
        print(json.dumps(answer), flush=True)
    sender.publisher.close(0.0)


if __name__ == "__main__":
    main()
