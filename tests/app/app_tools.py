"""A watch without a network: a clock that is set, a source that follows a script, a replay."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

import msgspec
from fakes.fed_watch import Idle

import console
from console.app.input_file import load_limits, load_scenario
from console.app.live import LiveWatch, _Moment
from console.approach.engine_time import EngineTime
from console.approach.event import AnyEvent
from console.approach.intake import Intake
from console.approach.snapshot import Snapshot
from console.approach.state import StateModel
from console.archive.recording import open_recording
from console.archive.recording.meta import RecordingMeta
from console.archive.recording.recorder import Recorder
from console.archive.recording.taken import ActionTaken, FrameTaken, Input
from console.core.ids import SourceId
from console.core.records import Frame, RelativeSample
from console.envelope.limits import LimitsFile
from console.envelope.setup import Setup
from console.present.port import WatchStatus
from console.simulation.simulate import simulate
from console.wire.encode import encode

T0 = 1_932_100_000.0
STATUS = WatchStatus(mode="Live", endpoint="a script")


class HandClock:
    """Seconds that go on when told to."""

    def __init__(self, now_s: float = T0) -> None:
        self.now_s = now_s

    def __call__(self) -> float:
        """Give the time that was set."""
        return self.now_s


class Script(Idle):
    """A frame source that gives batches of frames, each with the time it sets the clock to.

    Parameters
    ----------
    clock : HandClock
        Set to each batch's time.
    batches : iterable of (float, list of Frame)
        What each poll gives.
    on_batch : callable, optional
        Told the number of each batch before it is given.
    """

    def __init__(
        self,
        clock: HandClock,
        batches: Iterable[tuple[float, list[Frame]]],
        on_batch: Callable[[int], None] | None = None,
    ) -> None:
        self._clock = clock
        self._batches: Iterator[tuple[float, list[Frame]]] = iter(batches)
        self._on_batch = on_batch
        self._number = 0
        self.is_over = threading.Event()
        self.is_closed = False

    def poll(self, timeout_s: float) -> list[Frame]:
        """Give the next batch; when there is none, wait a moment and give nothing."""
        batch = next(self._batches, None)
        if batch is None:
            self.is_over.set()
            threading.Event().wait(0.002)
            return []
        self._clock.now_s = batch[0]
        if self._on_batch is not None:
            self._on_batch(self._number)
        self._number += 1
        return batch[1]

    def close(self) -> None:
        """Note that it was closed."""
        self.is_closed = True


class HandWatch:
    """A live watch driven step by step on the caller's own thread: no thread, no waiting."""

    def __init__(self, limits: LimitsFile, path: Path | None = None, **options: object) -> None:
        self.clock = HandClock()
        mode = options.pop("mode", EngineTime.RECEIVE)
        assert isinstance(mode, EngineTime)
        self.recorder = None if path is None else recorder_at(path, mode)
        self.state = StateModel(limits, Setup())
        self.events: list[AnyEvent] = []
        self.watch = LiveWatch(
            self.state, Script(self.clock, []), clock=self.clock, engine_time=mode,
            recorder=self.recorder, status=STATUS, on_event=self.events.append,
        )  # fmt: skip

    def step(self, past_s: float, *frames: Frame) -> Snapshot | None:
        """Let the clock stand so many seconds past the start, receive, feed, draw."""
        self.clock.now_s = T0 + past_s
        for frame in frames:
            self.watch._hand_over(frame)
        self.watch._queue.put(_Moment(self.clock.now_s), b"")
        while not self.watch._queue.empty():
            self.watch._feed_some()
        return self.watch.snapshot()

    def finish(self) -> None:
        """End as the engine's thread does."""
        self.watch._finish()
        if self.recorder is not None:
            self.recorder.close()


def recorder_at(path: Path, mode: EngineTime) -> Recorder:
    """Give a recorder that does not wait for the disk."""
    return Recorder(path, RecordingMeta(started_s=T0, engine_time=mode), synchronous="OFF")


def sample_frame(past_s: float, range_m: float, seq: int, **changes: object) -> Frame:
    """Give a healthy optical sample's frame, received 50 ms after it was measured."""
    fields: dict[str, object] = {
        "source": SourceId("optical"), "seq": seq, "t": T0 + past_s, "range_m": range_m,
        "range_rate_mps": -0.09, "y_m": 0.001 * (seq % 7), "z_m": -0.001 * (seq % 5),
        "roll_deg": 0.1, "pitch_deg": 0.2, "yaw_deg": -0.1, "y_rate_mps": 0.0, "z_rate_mps": 0.0,
        "roll_rate_dps": 0.0, "pitch_rate_dps": 0.0, "yaw_rate_dps": 0.0,
    }  # fmt: skip
    fields.update(changes)
    return Frame(T0 + past_s + 0.05, *encode(RelativeSample(**fields)))  # type: ignore[arg-type]


def scenario_frames(name: str, range_m: float, seed: int = 1) -> list[Frame]:
    """Give the frames of a simulated scenario, received when they were published."""
    flown = simulate(load_scenario(name), load_limits(None), Setup(), seed, range_m)
    return [Frame(m.t_publish_s, *encode(m.record)) for m in flown.messages]


def batches_of(frames: list[Frame], count: int = 3) -> list[tuple[float, list[Frame]]]:
    """Group frames as polls would give them, the clock standing just after the last of each."""
    groups = [frames[i : i + count] for i in range(0, len(frames), count)]
    return [(group[-1].t_received_s + 1e-4, group) for group in groups]


def log_of(events: Iterable[AnyEvent]) -> list[bytes]:
    """Give events as the lines of a log."""
    return [msgspec.json.encode(event) for event in events]


def replay(path: Path, limits: LimitsFile) -> tuple[list[bytes], list[bytes]]:
    """Give a recording's own event log, and the one its inputs give when they are fed again."""
    with open_recording(path) as recording:
        intake = Intake(StateModel(limits, Setup()), recording.meta.engine_time)
        found: list[AnyEvent] = []
        for item in recording.inputs():
            found += feed_input(intake, item)
        return list(recording.events()), log_of(found)


def run_command(
    *words: str, folder: Path, timeout_s: float = 60.0, **more: str
) -> subprocess.CompletedProcess[str]:
    """Run a command of the program without a screen, its own data folder inside ``folder``."""
    return subprocess.run(
        [sys.executable, "-m", "console", *words],
        capture_output=True, text=True, timeout=timeout_s, env=environment(folder, **more),
    )  # fmt: skip


def environment(folder: Path, **more: str) -> dict[str, str]:
    """Give this process's environment without a screen, the data folder inside ``folder``."""
    names = ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")
    kept = {name: value for name, value in os.environ.items() if name not in names}
    root = str(Path(console.__file__).parents[1])
    return {**kept, "PYTHONPATH": root, "LEADMARK_DATA": str(folder / "data"), **more}


def feed_input(intake: Intake, item: Input) -> list[AnyEvent]:
    """Feed one recorded input as it was taken live."""
    if isinstance(item, FrameTaken):
        return intake.frame(item.frame)
    if isinstance(item, ActionTaken):
        return intake.action(item.t, item.action)
    return intake.advance(item.t)
