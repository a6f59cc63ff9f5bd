"""The processes of `tests.benchmarks.latency`: a publisher, the console, and two bare baselines.

``python -m tests.benchmarks.latency_ends publish RATE SECONDS`` prints its endpoint, waits for a
subscription, and writes to ``OUT`` when each sample was published; ``console``, ``receive`` and
``plot`` take an endpoint and stay until they are told to end (SIGTERM), then write what each
painting (or receipt) showed and when it was done. All stamps are of the one clock of this machine.
"""

from __future__ import annotations

import json
import signal
import sys
import threading
import time
from array import array
from collections import deque
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import zmq

TOPIC, BEAT = b"rel/optical", b"hb/optical"
START_M, RATE_MPS = 90.0, -0.09
POINTS = 1800
FRAME_MS = 16
NOISES = 4096


class Stamp(msgspec.Struct):
    """All that a baseline decodes of a sample."""

    t: float
    range_rate_mps: float


# ---------------------------------------------------------------------- publisher


def publish(rate: float, seconds: float, burst: int, out: Path) -> None:
    """Publish samples at a rate, each stamped when it is sent; then, maybe, a burst in a second.

    After that only heartbeats go out, until standard input closes.
    """
    with zmq.Context() as context, context.socket(zmq.XPUB) as socket:
        socket.set(zmq.SNDHWM, 0)
        socket.bind("tcp://127.0.0.1:*")
        tell(socket.get(zmq.LAST_ENDPOINT).decode())
        socket.recv()
        sender = Sender(socket)
        sys.stdin.readline()
        tell("begun")
        sender.send_for(rate, seconds)
        tell("steady")
        if burst:
            sender.send_for(burst, 1.0)
        np.asarray(sender.stamps).tofile(out)
        tell("done")
        threading.Thread(target=lambda: (sys.stdin.readline(), sender.end.set())).start()
        while not sender.end.wait(0.5):
            sender.beat()


class Sender:
    """Sends samples of a slow, noisy way in."""

    def __init__(self, socket: zmq.Socket[bytes]) -> None:
        self.end = threading.Event()
        self.stamps = array("d")
        self._socket = socket
        self._noise = np.random.default_rng(1).normal(0.0, 1.0, (NOISES, 8)).tolist()
        self._encode = msgspec.msgpack.Encoder().encode
        self._begin_s = time.time()

    def send_for(self, rate: float, seconds: float) -> None:
        """Keep to a rate, however late a single waking is."""
        begin_s, sent, last_beat = time.time(), 0, 0.0
        total = round(rate * seconds)
        while sent < total:
            due = min(int((time.time() - begin_s) * rate) + 1, total)
            while sent < due:
                self._send()
                sent += 1
            if time.time() - last_beat > 1.0:
                last_beat = time.time()
                self.beat()
            time.sleep(max(begin_s + sent / rate - time.time(), 0.0))

    def _send(self) -> None:
        seq = len(self.stamps)
        noise = self._noise[seq % NOISES]
        t = time.time()
        self.stamps.append(t)
        body = {
            "seq": seq, "t": t,
            "range_m": START_M + RATE_MPS * (t - self._begin_s) + 0.01 * noise[0],
            "range_rate_mps": RATE_MPS + 0.001 * noise[1],
            "y_m": 0.01 * noise[2], "z_m": 0.01 * noise[3],
            "roll_deg": 0.05 * noise[4], "pitch_deg": 0.05 * noise[5], "yaw_deg": 0.05 * noise[6],
            "y_rate_mps": 0.001 * noise[7], "z_rate_mps": 0.001 * noise[0],
            "roll_rate_dps": 0.01 * noise[1], "pitch_rate_dps": 0.01 * noise[2],
            "yaw_rate_dps": 0.01 * noise[3], "valid": True,
        }  # fmt: skip
        self._socket.send(TOPIC, zmq.SNDMORE)
        self._socket.send(self._encode(body))

    def beat(self) -> None:
        """Tell the last number sent, so that loss at the tail is seen."""
        body = {"t": time.time(), "last_seq": len(self.stamps) - 1}
        self._socket.send_multipart([BEAT, self._encode(body)])


# ---------------------------------------------------------------------- what shows it


class Log:
    """What was shown, and when that was done."""

    def __init__(self) -> None:
        self.shown = array("d")
        self.done = array("d")
        self._of: object = None

    def note(self, t: float, of: object = None) -> None:
        """Note the stamp of the newest sample shown, now; of one picture its last part counts."""
        if of is not None and of is self._of:
            self.done[-1] = time.time()
            return
        self._of = of
        self.shown.append(t)
        self.done.append(time.time())

    def write(self, out: Path, **facts: Any) -> None:
        """Write everything for the process that compares."""
        np.stack([np.asarray(self.shown), np.asarray(self.done)]).tofile(out)
        out.with_suffix(".json").write_text(json.dumps(facts), encoding="utf-8")


def receive(endpoint: str, out: Path) -> None:
    """Keep the newest sample and do nothing else."""
    log, newest = Log(), b""
    decode = msgspec.msgpack.Decoder(Stamp).decode
    with zmq.Context() as context, context.socket(zmq.SUB) as socket:
        socket.set(zmq.RCVHWM, 0)
        socket.subscribe(TOPIC)
        socket.connect(endpoint)
        told_to_end = ended()
        tell("ready")
        while not told_to_end.is_set():
            if socket.poll(100):
                while socket.getsockopt(zmq.EVENTS) & zmq.POLLIN:
                    socket.recv()
                    newest = socket.recv()
                log.note(decode(newest).t)
    log.write(out)


def plot(endpoint: str, out: Path) -> None:
    """Draw the newest 1,800 samples in one bare pyqtgraph plot, sixty times a second."""
    import pyqtgraph as pg
    from PySide6.QtCore import Qt, QTimer

    app = pg.mkQApp()
    log, ring, told_to_end = Log(), deque[Stamp](maxlen=POINTS), ended()

    class Plot(pg.PlotWidget):  # type: ignore[misc]
        def paintEvent(self, event: object) -> None:  # noqa: N802 - Qt's own name
            shown = ring_shown[-1] if ring_shown else None
            super().paintEvent(event)
            if shown is not None:
                log.note(shown)
            stands()

    stands = once("ready")
    ring_shown: deque[float] = deque(maxlen=1)
    widget = Plot()
    curve = widget.plot()
    widget.setXRange(0, POINTS)
    widget.setYRange(RATE_MPS - 0.01, RATE_MPS + 0.01)
    widget.resize(850, 670)
    widget.show()

    def take() -> None:
        decode = msgspec.msgpack.Decoder(Stamp).decode
        with zmq.Context() as context, context.socket(zmq.SUB) as socket:
            socket.set(zmq.RCVHWM, 0)
            socket.subscribe(TOPIC)
            socket.connect(endpoint)
            while not told_to_end.is_set():
                if socket.poll(100):
                    while socket.getsockopt(zmq.EVENTS) & zmq.POLLIN:
                        socket.recv()
                        ring.append(decode(socket.recv()))

    def draw() -> None:
        if told_to_end.is_set():
            app.quit()
        points = list(ring)
        if points and (not ring_shown or points[-1].t != ring_shown[-1]):
            ring_shown.append(points[-1].t)
            curve.setData(np.array([p.range_rate_mps for p in points]))

    thread = threading.Thread(target=take)
    thread.start()
    timer = QTimer()
    timer.setTimerType(Qt.TimerType.PreciseTimer)
    timer.timeout.connect(draw)
    timer.start(FRAME_MS)
    app.exec()
    thread.join()
    log.write(out)


def console(endpoint: str, out: Path, record: str) -> None:
    """Run ``leadmark watch`` whole, noting what each painting of the plots shows."""
    import console.app.watching as watching
    from console.app.clock import SystemClock
    from console.app.input_file import load_limits, load_procedure, load_setup
    from console.window.plots.canvas import PlotCanvas

    log, behind, path = Log(), array("d"), out.with_suffix(".leadmark")
    made: list[Any] = []
    stands = once("ready")
    paint, assemble = PlotCanvas.paintEvent, watching.assemble

    def painted(canvas: PlotCanvas, event: Any) -> None:
        snapshot = canvas._snapshot
        paint(canvas, event)
        stands()
        if snapshot is not None and snapshot.measured is not None:
            log.note(snapshot.measured.t, of=snapshot)

    def assembled(*given: Any) -> Any:
        made.append(assemble(*given))
        return made[0]

    PlotCanvas.paintEvent = painted  # type: ignore[method-assign]
    watching.assemble = assembled
    if record == "off":
        without_recording(watching)
    clock = SystemClock()
    order = watching.WatchOrder(
        "Live", (endpoint,), load_limits(None), load_setup(None), record=path,
        procedure=load_procedure(None),
    )  # fmt: skip
    link = watching.subscribe((endpoint,), clock, keys=None, insecure=False)

    def look() -> None:
        while made[0].watch._receiving.is_alive():
            behind.append(made[0].watch.status().behind_s)
            time.sleep(0.1)

    watcher = threading.Thread(target=look, daemon=True)
    watching.watch_in_window(order, clock, link, begin=watcher.start)
    watch = made[0].watch
    total = made[0].state.sequence.total()
    log.write(
        out, most_behind_s=max(behind, default=0.0), overflowed=watch._overflowed,
        received=total.received, lost=total.lost, judged=made[0].state.judged,
        failure=None if watch.failure is None else repr(watch.failure),
    )  # fmt: skip


def without_recording(watching: Any) -> None:
    """Let a watch go without its recorder, to see what recording costs."""
    from dataclasses import replace as changed

    assemble = watching.assemble

    def assembled(*given: Any) -> Any:
        made = assemble(*given)
        made.watch._recorder = None
        made.recorder.close()
        return changed(made)

    watching.assemble = assembled


def ended() -> threading.Event:
    """Give an event that the request to end sets."""
    event = threading.Event()
    signal.signal(signal.SIGTERM, lambda *_: event.set())
    return event


def once(line: str) -> Callable[[], None]:
    """Give a call that tells a line the first time and does nothing after that."""
    lines = [line]

    def told() -> None:
        while lines:
            tell(lines.pop())

    return told


def tell(line: str) -> None:
    """Write a line at once."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def main(role: str, *given: str) -> None:
    """Be one of the ends."""
    if role == "publish":
        publish(float(given[0]), float(given[1]), int(given[2]), Path(given[3]))
    elif role == "receive":
        receive(given[0], Path(given[1]))
    elif role == "plot":
        plot(given[0], Path(given[1]))
    else:
        console(given[0], Path(given[1]), given[2])


if __name__ == "__main__":
    main(*sys.argv[1:])
