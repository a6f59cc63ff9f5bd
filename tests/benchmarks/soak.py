"""Soaks: a watch of hours must stay as it began.

``python -m tests.benchmarks.soak real --minutes 60 --out DIR``
    The whole of ``leadmark watch`` with its window on a virtual screen (Xvfb), a publisher in its
    own process, a real socket: 100 Hz from one source, 10 Hz from another.
``python -m tests.benchmarks.soak fast --hours 8 --out DIR``
    Simulated hours as fast as they go: real frames, decoder, intake, recorder and view models,
    10 Hz from each of two sources; with ``--window`` the offscreen window draws once a second.
``python -m tests.benchmarks.soak report DIR/soak.csv``
    Slopes with their intervals, and ``soak.svg`` beside the table.

Every 5 s (of the watch's own time: 10 s when fast) a row is written to ``soak.csv``: memory, the
share of it the plots' bounded trail has been written to, size of the recording, queues, counts,
delays from sent to snapshot and to painted. Goal: no more than 1 MB an hour beyond the trail.
"""

from __future__ import annotations

import argparse
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

from console.app.live import MOMENTS, LiveWatch, _Moment
from console.core.ids import SourceId
from tests.benchmarks.soak_figures import draw, report
from tests.benchmarks.soak_meter import Meter
from tests.benchmarks.soak_traffic import OPTICAL, RADIO, last_leg_from_s, traffic
from tests.fakes.fed_watch import Idle

ROOT = Path(__file__).parents[2]
REAL_HZ = {OPTICAL: 100.0, RADIO: 10.0}
FAST_HZ = {OPTICAL: 10.0, RADIO: 10.0}
EVERY_S = 5.0
FAST_EVERY_S = 10.0
ACKNOWLEDGE_EVERY_S = 60.0
WARM_UP_S = 600.0
SCREEN = "1600x900x24"


def main() -> int:
    """Run one of the soaks, one of its processes, or the report."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("what", choices=("real", "fast", "report", "publish", "console"))
    parser.add_argument("words", nargs="*")
    parser.add_argument("--minutes", type=float, default=60.0)
    parser.add_argument("--hours", type=float, default=8.0)
    parser.add_argument("--out", type=Path, default=Path("soaked"))
    parser.add_argument("--window", action="store_true")
    options = parser.parse_args()
    if options.what == "report":
        tell(Path(options.words[0]))
        return 0
    if options.what == "publish":
        return publish(options.words[0], 60.0 * options.minutes)
    options.out.mkdir(parents=True, exist_ok=True)
    if options.what == "console":
        return console(options.words[0], options.out)
    if options.what == "fast":
        soak_fast(options.out, 3600.0 * options.hours, with_window=options.window)
    else:
        soak_real(options.out, options.minutes)
    tell(options.out / "soak.csv")
    return 0


def tell(path: Path) -> None:
    """Print what a table says, and draw it."""
    from tests.benchmarks.soak_figures import columns_of

    end_s = float(columns_of(path)["past_s"][-1])
    from_s, until_s = min(WARM_UP_S, end_s / 4.0), last_leg_from_s(end_s)
    title = f"A watch of {end_s / 3600.0:.1f} h"
    for line in report(path, from_s=from_s, until_s=until_s, title=title):
        print(line)
    draw(path, path.with_suffix(".svg"), from_s=from_s, until_s=until_s, title=title)


# ------------------------------------------------------------------------------------ real time


def soak_real(out: Path, minutes: float) -> None:
    """Start screen, console and publisher; end when the publisher does."""
    (out / "recorded.leadmark").unlink(missing_ok=True)
    read, write = os.pipe()
    command = ["Xvfb", "-displayfd", str(write), "-screen", "0", SCREEN, "-nolisten", "tcp"]
    screen = subprocess.Popen(command, pass_fds=(write,), stderr=subprocess.DEVNULL)
    os.close(write)
    with os.fdopen(read) as file:
        display = f":{file.readline().strip()}"
    own = [sys.executable, "-m", "tests.benchmarks.soak"]
    ends = ["--minutes", str(minutes), "--out", str(out)]
    endpoint = f"tcp://127.0.0.1:{_free_port()}"
    environment = {**os.environ, "DISPLAY": display, "QT_QPA_PLATFORM": "xcb"}
    window = subprocess.Popen([*own, "console", endpoint, *ends], cwd=ROOT, env=environment)
    sender = subprocess.Popen([*own, "publish", endpoint, *ends], cwd=ROOT)
    try:
        while sender.poll() is None and window.poll() is None:
            time.sleep(0.5)
        time.sleep(2.0)
    finally:
        for process in (window, sender, screen):
            if process.poll() is None:
                process.send_signal(signal.SIGINT if process is window else signal.SIGTERM)
            process.wait(30.0)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def publish(endpoint: str, length_s: float) -> int:
    """Send the traffic in real time; each sample's ``t`` is the moment it is sent."""
    from console.link.publisher import Publisher

    with Publisher(endpoint, clock=time.time) as publisher:
        if not publisher.wait_for_subscriber(120.0):
            return 2
        time.sleep(1.0)
        begin_t, begin_s = time.time(), time.monotonic()
        for sent in traffic(length_s, REAL_HZ, begin_t):
            while (wait_s := begin_s + sent.at_s - time.monotonic()) > 0.0:
                time.sleep(wait_s)
            publisher.send_frame(sent.topic, sent.payload)
    return 0


def console(endpoint: str, out: Path) -> int:
    """Watch in the window as the command does, with a meter inside."""
    from console.app import watching
    from console.app.clock import SystemClock
    from console.app.input_file import load_limits, load_procedure, load_setup
    from console.approach.action import AcknowledgeAll
    from console.window.plots.canvas import PlotCanvas
    from console.window.plots.port_plane import PortPlanePlot

    clock = SystemClock()
    meters: list[Meter] = []
    made: list[watching.Assembled] = []
    assemble, paint = watching.assemble, PlotCanvas.paintEvent

    def assembled(*words: object, **more: object) -> watching.Assembled:
        made.append(assemble(*words, **more))  # type: ignore[arg-type]
        file = (out / "soak.csv").open("w", newline="")
        meter = Meter(made[0].watch, made[0].recorder, file, time.time)
        meter.listen()
        meters.append(meter)
        return made[0]

    def painted(self: PlotCanvas, event: object) -> None:
        paint(self, event)  # type: ignore[arg-type]
        snapshot = self._snapshot
        if meters and isinstance(self, PortPlanePlot) and snapshot and snapshot.measured:
            meters[0].painted.note(snapshot.measured.t)

    def measure() -> None:
        begin_s = time.monotonic()
        number, acknowledged_s = 1, 0.0
        while not made[0].watch._stop.wait(
            max(0.0, begin_s + number * EVERY_S - time.monotonic())
        ):
            past_s = time.monotonic() - begin_s
            meters[0].row(past_s)
            number += 1
            if past_s - acknowledged_s >= ACKNOWLEDGE_EVERY_S:
                acknowledged_s = past_s
                made[0].watch.act(AcknowledgeAll(initials="AB"))

    watching.assemble = assembled  # type: ignore[assignment]
    PlotCanvas.paintEvent = painted  # type: ignore[assignment,method-assign]
    order = watching.WatchOrder(
        mode="Live", endpoints=[endpoint], limits=load_limits(None), setup=load_setup(None),
        procedure=load_procedure(None), record=out / "recorded.leadmark",
    )  # fmt: skip
    source = watching.subscribe([endpoint], clock, keys=None, insecure=False)
    thread = threading.Thread(target=measure, daemon=True)
    return watching.watch_in_window(order, clock, source, begin=thread.start)


# ------------------------------------------------------------------------------------- fast time


def soak_fast(
    out: Path,
    length_s: float,
    *,
    with_window: bool = False,
    every_s: float = FAST_EVERY_S,
    rates_hz: dict[SourceId, float] = FAST_HZ,
) -> None:
    """Feed a watch by a clock that is set, on this thread; the recorder keeps its own."""
    from console.app.input_file import load_limits, load_procedure, load_residuals
    from console.approach.action import AcknowledgeAll
    from console.approach.engine_time import EngineTime
    from console.approach.state import StateModel
    from console.archive.recording.meta import RecordingMeta
    from console.archive.recording.recorder import Recorder
    from console.core.records import Frame
    from console.envelope.setup import Setup
    from console.present.port import WatchStatus

    now_s = begin_t = 1_933_580_000.0
    path = out / "recorded.leadmark"
    path.unlink(missing_ok=True)
    limits = load_limits(None)
    recorder = Recorder(
        path,
        RecordingMeta(started_s=begin_t, engine_time=EngineTime.RECEIVE, limits_text=limits.text),
    )
    state = StateModel(limits, Setup(), archive=load_residuals(), procedure=load_procedure(None))
    watch = LiveWatch(
        state, Idle(), clock=lambda: now_s, engine_time=EngineTime.RECEIVE, recorder=recorder,
        status=WatchStatus("Live", "a soak"),
    )  # fmt: skip
    show = _views(watch, with_window=with_window)
    with (out / "soak.csv").open("w", newline="") as file:
        meter = Meter(watch, recorder, file, lambda: now_s)
        meter.listen()
        second = 0
        for sent in traffic(length_s, rates_hz, begin_t):
            while sent.at_s >= second + 1:
                second += 1
                now_s = begin_t + second
                _feed_all(watch, now_s)
                show()
                if second % ACKNOWLEDGE_EVERY_S == 0:
                    watch.act(AcknowledgeAll(initials="AB"))
                if second % every_s == 0:
                    recorder.flush(60.0)  # the disk has hours in life; here it has seconds
                    meter.row(float(second))
            now_s = begin_t + sent.at_s
            watch._hand_over(Frame(now_s, sent.topic, sent.payload))
        _feed_all(watch, now_s)
        watch._finish()
        meter.row(float(second + 1))
    recorder.close(60.0)


def _feed_all(watch: LiveWatch, now_s: float) -> None:
    watch._queue.put(_Moment(now_s), MOMENTS)
    while not watch._queue.empty():
        watch._feed_some()


def _views(watch: object, *, with_window: bool):
    """Give what shows the watch once: the view models, or the window that draws them."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    if not with_window:
        return watch.take_events  # type: ignore[attr-defined]
    from console.window.run import application, watch_window

    app = application()
    window, view = watch_window(watch)  # type: ignore[arg-type]
    window.resize(1600, 900)
    window.show()
    taken: list[object] = []
    view.bridge.events_taken.connect(taken.extend)

    def show() -> list[object]:
        taken.clear()
        view.bridge.take()
        app.processEvents()
        return list(taken)

    return show


if __name__ == "__main__":
    sys.exit(main())
