"""Watching without a screen: text, recording trouble, link trouble, a real cut, a real kill."""

from __future__ import annotations

import random
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import get_args, get_type_hints

import pytest
from app_tools import STATUS, T0, HandClock, Script, environment, replay, sample_frame

from console.app import watching
from console.app.clock import SystemClock
from console.app.headless import StatusLines, line_of
from console.app.input_file import load_limits
from console.app.live import LiveWatch
from console.app.watching import WatchOrder, subscribe, watch_headless
from console.approach.engine_time import EngineTime
from console.approach.event import AnyEvent, Event, Phase
from console.approach.snapshot import Snapshot
from console.approach.state import StateModel
from console.archive.passes import read_pass
from console.archive.recording import open_recording
from console.core.errors import InputError
from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.envelope.setup import Setup
from console.link.publisher import Publisher
from console.present.port import WatchStatus
from console.tracking.contact_time import BISECTIONS, FAR_REACH

LIMITS = load_limits(None)


def order(record: Path | None) -> WatchOrder:
    """Give the order for a watch of a script."""
    return WatchOrder("Live", ["a script"], LIMITS, Setup(), record=record)


class Heard:
    """Speech that only notes what was asked of it."""

    def __init__(self) -> None:
        self.asked: list[str] = []

    def start(self) -> None:
        """Note it."""
        self.asked.append("start")

    def stop(self) -> None:
        """Note it."""
        self.asked.append("stop")

    def words(self) -> str:
        """Say how it is."""
        return "speech on"

    def on_event(self, event: AnyEvent) -> None:
        """Say nothing."""


@pytest.mark.parametrize("in_window", [False, True])
def test_a_watch_that_cannot_begin_leaves_nobody_speaking(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, in_window: bool
) -> None:
    """The system gives no more threads: the refusal is told, and speech has ended."""
    heard = Heard()
    refusal = InputError.of("the watch", "", "cannot begin", "try again")

    def refuse(watch: LiveWatch) -> None:
        watch._stop_half_started()
        raise refusal

    monkeypatch.setattr(watching, "speech_of", lambda **_: heard)
    monkeypatch.setattr(LiveWatch, "start", refuse)
    asked = replace(order(tmp_path / "a.leadmark"), speak=True)
    clock = HandClock()
    script = Script(clock, [])
    begin: Callable[..., object] = watching.watch_in_window
    if in_window:
        pytest.importorskip("PySide6")
    else:
        begin = partial(watch_headless, is_over=lambda: True, write=lambda _: None)
    with pytest.raises(InputError, match="cannot begin"):
        begin(asked, clock, script)
    assert heard.asked == ["start", "stop"]


def test_unwritable_place_is_said_and_the_watch_goes_on(tmp_path: Path) -> None:
    """Where no recording can be made the watch says so, and still judges and calls."""
    blocker = tmp_path / "file"
    blocker.write_text("not a folder")
    frames = [sample_frame(n / 10, 10.3 - 0.009 * n, n) for n in range(60)]
    clock = HandClock()
    script = Script(clock, [(T0 + 0.1 * n, [frame]) for n, frame in enumerate(frames)])
    said: list[str] = []
    begin = time.monotonic()
    state = watch_headless(
        order(blocker / "a.leadmark"), clock, script,  # type: ignore[arg-type]
        lambda: script.is_over.is_set() and time.monotonic() - begin > 0.3, said.append,
    )  # fmt: skip
    assert any(line.startswith("NOT RECORDING: ") for line in said)
    assert any("10 metres, closing" in line for line in said)
    assert state.judged == 60


def test_recording_that_begins_is_named(tmp_path: Path) -> None:
    """The first line says where the recording is; the file is there at the end and closed."""
    path = tmp_path / "deep" / "a.leadmark"
    clock = HandClock()
    script = Script(clock, [(T0 + 0.1, [sample_frame(0.0, 9.0, 1)])])
    said: list[str] = []
    begun: list[bool] = []
    watch_headless(
        order(path), clock, script, script.is_over.is_set, said.append,  # type: ignore[arg-type]
        begin=lambda: begun.append(True),
    )  # fmt: skip
    assert begun == [True]
    assert f"Recording to {path}" in said
    with open_recording(path) as recording:
        assert recording.was_closed
        assert recording.meta.limits_sha256 == LIMITS.sha256


def test_failure_of_the_watch_ends_the_command(tmp_path: Path) -> None:
    """A defect is not swallowed: it ends the command with its own error."""
    clock = HandClock()

    class Broken(Script):
        def poll(self, timeout_s: float) -> list:
            raise RuntimeError("broken")

    with pytest.raises(RuntimeError, match="broken"):
        watch_headless(
            order(tmp_path / "a.leadmark"), clock, Broken(clock, []),  # type: ignore[arg-type]
            lambda: False, lambda line: None,
        )  # fmt: skip


def test_status_lines_say_changes_once() -> None:
    """Recording, insecurity and link are said when they change, the link when it has stood."""
    said: list[str] = []
    lines = StatusLines(said.append)
    path = Path("a.leadmark")

    def status(**changes: object) -> WatchStatus:
        fields = {"mode": "Live", "endpoint": "x", "recording": "a.leadmark", "insecure": True}
        return WatchStatus(**{**fields, **changes})  # type: ignore[arg-type]

    for n in range(100):
        lines.look(status(notice="link down" if n < 60 else ""), path, n / 10)
    full = status(recording=None, not_recording_because="the disk is full")
    lines.look(full, path, 11.0)
    lines.look(full, path, 12.0)
    lines.look(status(), path, 13.0)
    assert said == [
        "INSECURE: the link leaves this machine without keys",
        "Recording to a.leadmark",
        "link down",
        "link is up",
        "NOT RECORDING: the disk is full; the watch goes on",
        "Recording to a.leadmark",
    ]


def example(kind: type[Event]) -> Event:
    """Give an event of a kind with every field filled by something of its type."""
    values: dict[str, object] = {}
    for name, hint in get_type_hints(kind).items():
        options = [one for one in get_args(hint) or (hint,) if one is not type(None)]
        values[name] = {
            "t": T0, "phase": Phase.HOLD, "before": Phase.APPROACH, "holders": ("crew",),
        }.get(name, FILLED.get(options[0], "word"))  # fmt: skip
    return kind(**values)


FILLED: dict[object, object] = {float: 1.5, int: 2, bool: True, str: "word"}


@pytest.mark.parametrize("kind", get_args(AnyEvent), ids=lambda kind: kind.__name__)
def test_every_kind_of_event_has_a_line_of_its_own(kind: type[Event]) -> None:
    """No event is told without words, or under a tag that says nothing."""
    line = line_of(example(kind))  # type: ignore[arg-type]
    stamp, tag, *words = line.split()
    assert stamp.startswith("2031-03-24T")
    assert tag != "event"
    assert words


def test_clock_stands_until_it_is_started() -> None:
    """A clock given its own time stands there until started; another goes from now on."""
    clock = SystemClock(T0)
    assert clock() == clock() == T0
    clock.start()
    first = clock()
    assert T0 <= first < T0 + 5.0
    clock.start()
    assert clock() >= first
    assert abs(SystemClock()() - time.time()) < 5.0


# ---------------------------------------------------------------------- over real loopback


class Sender:
    """Publishes an approach at a rate, on a thread of its own, noting when each was sent."""

    def __init__(
        self, endpoint: str, rate_hz: float, first_seq: int = 0, begin_s: float | None = None
    ) -> None:
        self.begin_s = time.time() if begin_s is None else begin_s
        self.publisher = Publisher(endpoint, clock=time.time)
        self.sent: list[tuple[int, float]] = []
        self._rate_hz = rate_hz
        self._seq = first_seq
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def start(self) -> None:
        """Wait for a console and begin."""
        assert self.publisher.wait_for_subscriber(30.0)
        self._thread.start()

    def stop(self) -> int:
        """End; give the next number."""
        self._stop.set()
        self._thread.join(5.0)
        self.publisher.close(0.0)
        return self._seq

    def _range_m(self, now: float) -> float:
        return 12.0 - 0.09 * (now - self.begin_s)

    def _run(self) -> None:
        begin = time.monotonic()
        count = 0
        while not self._stop.is_set():
            wait_s = begin + count / self._rate_hz - time.monotonic()
            if wait_s > 0.0:
                self._stop.wait(wait_s)
            now, seq = time.time(), self._seq
            wobble = 0.001 * ((seq * 7) % 11 - 5)
            self.publisher.send(
                RelativeSample(
                    SourceId("optical"), seq, now, self._range_m(now) + wobble,
                    -0.09 + 0.1 * wobble, wobble, 0.01, 0.1, 0.2, 0.3 + wobble,
                )
            )  # fmt: skip
            self.sent.append((seq, time.time()))
            self._seq += 1
            count += 1


def free_endpoint() -> str:
    """Give a loopback endpoint that is free at this moment."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return f"tcp://127.0.0.1:{probe.getsockname()[1]}"


def kill_once(folder: Path, rng: random.Random, margin_s: float) -> None:
    """Kill a recording watch at a random moment and look at what it left."""
    path = folder / "killed.leadmark"
    sender = Sender("tcp://127.0.0.1:*", 100.0)
    words = ["watch", "--headless", "--record", str(path), sender.publisher.endpoint]
    console = subprocess.Popen(
        [sys.executable, "-m", "console", *words], env=environment(folder),
        stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip
    try:
        sender.start()
        time.sleep(rng.uniform(0.5, 3.0))
        killed_at = time.time()
        console.send_signal(signal.SIGKILL)
        console.wait(10.0)
    finally:
        sender.stop()
        console.kill()
        console.communicate()
    shown = {seq for seq, at in sender.sent if at < killed_at - margin_s}
    with open_recording(path) as recording:
        assert not recording.was_closed
        kept = {record.seq for _, record in recording.records() if hasattr(record, "range_m")}
    missing = shown - kept
    assert not missing, f"{len(missing)} samples from {min(missing)} on"
    recorded, replayed = replay(path, LIMITS)
    assert replayed[: len(recorded)] == recorded
    assert recorded
    assert read_pass(path).rejected_count == 0


@pytest.mark.parametrize("number", range(2))
def test_kill_loses_no_more_than_the_last_moment(number: int, tmp_path: Path) -> None:
    """Killed while recording: what was there half a second before is kept, and replays."""
    kill_once(tmp_path, random.Random(number), margin_s=0.5)


@pytest.mark.slow
def test_twenty_kills_lose_no_more_than_200_ms(tmp_path: Path) -> None:
    """Killed twenty times at random moments: what came more than 200 ms before is always kept."""
    for number in range(20):
        folder = tmp_path / str(number)
        folder.mkdir()
        kill_once(folder, random.Random(100 + number), margin_s=0.25)


@pytest.mark.slow
def test_publisher_pulled_over_real_loopback(tmp_path: Path) -> None:
    """The publisher gone for 8 s on a real socket: told, coasted ever wider, recovered."""
    endpoint = free_endpoint()
    clock = SystemClock()
    sender = Sender(endpoint, 10.0)
    watch = LiveWatch(
        StateModel(LIMITS, Setup()), subscribe([endpoint], clock, keys=None, insecure=False),
        clock=clock, engine_time=EngineTime.RECEIVE, recorder=None, status=STATUS,
    )  # fmt: skip
    watch.start()
    sender.start()
    time.sleep(12.0)
    seen: list[Snapshot] = []
    next_seq = sender.stop()
    pulled = time.monotonic()
    while time.monotonic() - pulled < 8.0:
        snapshot = watch.snapshot()
        assert snapshot is not None
        seen.append(snapshot)
        time.sleep(0.05)
    assert "is down" in watch.status().notice
    again = Sender(endpoint, 10.0, next_seq, sender.begin_s)
    again.start()
    time.sleep(4.0)
    after = watch.snapshot()
    again.stop()
    watch.stop()
    assert watch.failure is None
    check_the_cut(seen)
    assert after is not None
    assert after.phase is Phase.APPROACH
    assert after.age_s < 0.5
    assert not [e for e in after.exceedances if e.cleared is None and e.source]


def check_the_cut(seen: list[Snapshot]) -> None:
    """Hold the snapshots of a silence against what must be seen in it."""

    def first_age(name: str) -> float:
        for s in seen:
            standing = [e.id for e in s.exceedances if e.cleared is None]
            if name in standing and s.age_s is not None:
                return s.age_s
        raise AssertionError(f"{name} never stood")

    assert 1.0 < first_age("data:stale") < 1.3
    assert 5.0 < first_age("data:link") < 5.3
    lost = [s for s in seen if s.age_s is not None and s.age_s > 5.3]
    assert {s.phase for s in lost} == {Phase.DATA_LOST}
    coasted = [s for s in seen if s.stale]
    assert all(s.coasted for s in coasted)
    widths = [s.to_contact.high_s - s.to_contact.low_s for s in coasted]
    assert widths[-1] > widths[0]
    # each bound is known to half its last bracket, FAR_REACH half-widths halved BISECTIONS times;
    # two bounds in two snapshots may so differ by this share of the width and no more
    step = FAR_REACH / 2**BISECTIONS
    assert all(b >= a - step * a for a, b in pairwise(widths))
