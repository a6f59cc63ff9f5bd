"""A live watch over a script: what it records replays to the same events, byte for byte."""

from __future__ import annotations

import threading
import time
from itertools import pairwise
from pathlib import Path

import pytest
from app_tools import (
    STATUS,
    T0,
    HandClock,
    HandWatch,
    Script,
    batches_of,
    log_of,
    recorder_at,
    replay,
    sample_frame,
    scenario_frames,
)

from console.app import live
from console.app.input_file import load_limits
from console.app.live import LiveWatch
from console.app.pace import IDLE_EVERY_S
from console.approach.action import AcknowledgeAll, ChooseSource, Note, Say
from console.approach.engine_time import EngineTime
from console.approach.event import AnyEvent, ExceedanceCleared, ExceedanceRaised, Phase
from console.approach.snapshot import Verdict
from console.approach.state import StateModel
from console.archive.passes import read_pass
from console.archive.recording import open_recording
from console.bench.scoring import score_pass
from console.core.errors import InputError
from console.core.records import Frame
from console.envelope.setup import Setup

LIMITS = load_limits(None)


def run_script(
    path: Path, frames: list[Frame], mode: EngineTime = EngineTime.RECEIVE, **hooks: object
) -> tuple[LiveWatch, list[AnyEvent]]:
    """Run a whole watch, threads and all, over frames; give it and what it found."""
    clock = HandClock(frames[0].t_received_s)
    script = Script(clock, batches_of(frames))
    found: list[AnyEvent] = []
    watch = LiveWatch(
        StateModel(LIMITS, Setup()), script, clock=clock, engine_time=mode,
        recorder=recorder_at(path, mode), status=STATUS, on_event=found.append,
    )  # fmt: skip
    if "on_batch" in hooks:
        script._on_batch = lambda number: hooks["on_batch"](watch, number)  # type: ignore[operator]
    watch.start()
    assert script.is_over.wait(60.0)
    watch.stop()
    assert watch.failure is None
    assert script.is_closed
    return watch, found


def assert_replays(path: Path, found: list[AnyEvent]) -> None:
    """Hold the recorded log against the live one, its replay, and its scoring."""
    recorded, replayed = replay(path, LIMITS)
    assert recorded == log_of(found)
    assert replayed == recorded
    scored: list[AnyEvent] = []
    score_pass(read_pass(path), LIMITS, Setup(), on_events=scored.extend)
    assert log_of(scored) == recorded


@pytest.mark.parametrize("mode", list(EngineTime))
@pytest.mark.parametrize(("name", "range_m"), [("nominal", 2.5), ("link_loss", 12.5)])
def test_watch_replays_to_the_byte(
    name: str, range_m: float, mode: EngineTime, tmp_path: Path
) -> None:
    """A simulated approach, its faults and its capture: live, replay and score find the same."""
    path = tmp_path / "a.leadmark"
    frames = scenario_frames(name, range_m)[:2500]
    _, found = run_script(path, frames, mode)
    assert_replays(path, found)
    kinds = {type(event).__name__ for event in found}
    assert {"MarkPassed", "HandsOffPassed", "ContactMade", "PhaseChanged"} <= kinds


def test_actions_in_the_middle_replay_at_their_place(tmp_path: Path) -> None:
    """What the operator did at any moment of a watch is fed back at that moment."""
    path = tmp_path / "a.leadmark"
    actions = [
        Note("AB", "a word"), AcknowledgeAll("AB"), ChooseSource("AB", "radio"),
        Say("AB", "hold"), ChooseSource("AB", None),
    ]  # fmt: skip

    def on_batch(watch: LiveWatch, number: int) -> None:
        if number % 37 == 5:
            watch.act(actions[number % len(actions)])

    frames = scenario_frames("source_dropout", 6.0)[:1500]
    _, found = run_script(path, frames, on_batch=on_batch)
    assert_replays(path, found)
    kinds = {type(event).__name__ for event in found}
    assert {"NoteMade", "CallMade", "SourceChanged"} <= kinds


def test_action_before_anything_is_heard_is_kept(tmp_path: Path) -> None:
    """A note given before the first message is recorded with the clock's time, and replays."""
    path = tmp_path / "a.leadmark"
    watch = HandWatch(LIMITS, path)
    watch.clock.now_s = T0
    watch.watch.act(Note("AB", "waiting for the publisher"))
    snapshot = watch.step(1.0)
    assert snapshot is not None
    assert snapshot.phase is Phase.WAITING
    for n in range(30):
        watch.step(2.0 + n / 10, sample_frame(2.0 + n / 10, 9.0 - n / 100, n))
    watch.finish()
    assert [type(event).__name__ for event in watch.events][:2] == ["NoteMade", "SourceChanged"]
    assert T0 <= watch.events[0].t <= T0 + 1.0
    assert_replays(path, watch.events)


@pytest.mark.parametrize("mode", list(EngineTime))
def test_action_without_any_message_is_kept(mode: EngineTime, tmp_path: Path) -> None:
    """A watch that never heard anything still keeps its operator's words."""
    path = tmp_path / "a.leadmark"
    watch = HandWatch(LIMITS, path, mode=mode)
    watch.watch.act(Note("AB", "nothing came"))
    watch.step(5.0)
    watch.finish()
    assert [event.t for event in watch.events] == [T0 + 5.0]
    assert_replays(path, watch.events)


def test_action_right_before_the_end_is_not_lost(tmp_path: Path) -> None:
    """What was done after the last message is fed and recorded before the file closes."""
    path = tmp_path / "a.leadmark"
    watch = HandWatch(LIMITS, path)
    watch.step(1.0, sample_frame(1.0, 9.0, 1))
    watch.watch.act(Note("AB", "last word"))
    watch.finish()
    assert type(watch.events[-1]).__name__ == "NoteMade"
    assert_replays(path, watch.events)


def test_idle_time_replays(tmp_path: Path) -> None:
    """Silence between messages, in the middle and at the end, is found again from the file."""
    path = tmp_path / "a.leadmark"
    watch = HandWatch(LIMITS, path)
    for begin_s in (0.0, 12.0, 40.0):
        for n in range(20):
            past_s = begin_s + n / 10
            watch.step(past_s + 0.05, sample_frame(past_s, 9.0 - past_s / 20, round(past_s * 10)))
        for n in range(1, 400):
            watch.step(begin_s + 2.0 + n * 0.02)
    watch.finish()
    assert sum(isinstance(event, ExceedanceRaised) for event in watch.events) == 6
    assert_replays(path, watch.events)


def test_events_of_idle_time_are_never_in_the_file_without_the_time(tmp_path: Path) -> None:
    """At any moment the file's events are those that its inputs give, in a silence too."""
    path = tmp_path / "a.leadmark"
    watch = HandWatch(LIMITS, path)
    for n in range(10):
        watch.step(n / 10 + 0.05, sample_frame(n / 10, 9.0 - n / 100, n))
    seen = set()
    for n in range(1, 350):
        watch.step(1.0 + n * 0.02)
        if n % 10 == 0:
            assert watch.recorder is not None
            watch.recorder.flush()
            recorded, replayed = replay(path, LIMITS)
            assert replayed[: len(recorded)] == recorded
            seen.add(len(recorded))
    watch.finish()
    assert len(seen) >= 3  # before stale, stale, lost


def test_overflow_is_counted_shown_and_not_fed_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Frames that found no room are recorded, counted, and left out of the replay."""
    monkeypatch.setattr(live, "QUEUE_FRAMES", 60)
    path = tmp_path / "a.leadmark"
    frames = scenario_frames("nominal", 4.0)[:1500]
    clock = HandClock(frames[0].t_received_s)
    script = Script(clock, batches_of(frames, 40))
    found: list[AnyEvent] = []

    def slow(event: AnyEvent) -> None:
        found.append(event)
        script.is_over.wait(0.1)

    watch = LiveWatch(
        StateModel(LIMITS, Setup()), script, clock=clock, engine_time=EngineTime.RECEIVE,
        recorder=recorder_at(path, EngineTime.RECEIVE), status=STATUS, on_event=slow,
    )  # fmt: skip
    watch.start()
    assert script.is_over.wait(60.0)
    watch.stop()
    overflowed = watch.status().overflowed
    assert overflowed > 0
    snapshot = watch.snapshot()
    assert snapshot is not None
    assert snapshot.counts.overflowed == overflowed
    with open_recording(path) as recording:
        assert recording.extent.frames == 1500
        assert sum(type(item).__name__ == "FrameTaken" for item in recording.inputs()) == (
            1500 - overflowed
        )
    assert_replays(path, found)


def test_stopping_feeds_what_was_received(tmp_path: Path) -> None:
    """Stopped with a full queue, a watch feeds all of it before it ends."""
    path = tmp_path / "a.leadmark"
    frames = scenario_frames("nominal", 12.0)[:1200]
    watch, _ = run_script(path, frames)
    snapshot = watch.snapshot()
    assert snapshot is not None
    with open_recording(path) as recording:
        assert recording.was_closed
        assert recording.extent.frames == 1200
    heartbeats = sum(frame.topic.startswith(b"hb/") for frame in frames)
    assert snapshot.counts.received == 1200 - heartbeats


def test_rejects_are_kept_and_counted(tmp_path: Path) -> None:
    """Messages that do not validate are in the file, counted by reason, and replay as rejects."""
    path = tmp_path / "a.leadmark"
    watch = HandWatch(LIMITS, path)
    good = sample_frame(0.0, 9.0, 1)
    watch.step(0.1, good, Frame(T0 + 0.06, b"rel/optical", b"{}"), Frame(T0, b"x", b""))
    watch.finish()
    assert watch.watch.status().rejected == 2
    with open_recording(path) as recording:
        assert sum(recording.rejects().values()) == 2
    assert_replays(path, watch.events)
    scored = score_pass(read_pass(path), LIMITS, Setup())
    assert scored.outcome["rejected"] == 2
    assert scored.outcome["samples"] == 1


def test_failure_of_the_source_ends_the_watch_and_says_so(tmp_path: Path) -> None:
    """A source that breaks ends the watch with what was received kept, and the status says so."""
    path = tmp_path / "a.leadmark"
    clock = HandClock()

    class Broken(Script):
        def poll(self, timeout_s: float) -> list[Frame]:
            if self.is_over.is_set():
                raise RuntimeError("the socket is gone")
            self.is_over.set()
            return [sample_frame(0.0, 9.0, 1)]

    watch = LiveWatch(
        StateModel(LIMITS, Setup()), Broken(clock, []), clock=clock,
        engine_time=EngineTime.RECEIVE, recorder=recorder_at(path, EngineTime.RECEIVE),
        status=STATUS,
    )  # fmt: skip
    watch.start()
    deadline = time.monotonic() + 20.0
    while watch._engine.is_alive() and time.monotonic() < deadline:
        watch._engine.join(0.1)
    assert "the socket is gone" in watch.status().notice
    with open_recording(path) as recording:
        assert recording.extent.frames == 1


@pytest.mark.parametrize("thread", ["_receiving", "_engine"])
def test_a_watch_that_cannot_begin_leaves_nothing_running(
    thread: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No more threads to be had: one line, the link closed, the recording too."""
    path = tmp_path / "a.leadmark"
    clock = HandClock()
    script = Script(clock, [])
    watch = LiveWatch(
        StateModel(LIMITS, Setup()), script, clock=clock, engine_time=EngineTime.RECEIVE,
        recorder=recorder_at(path, EngineTime.RECEIVE), status=STATUS,
    )  # fmt: skip

    def refuse() -> None:
        raise RuntimeError("can't start new thread")

    monkeypatch.setattr(getattr(watch, thread), "start", refuse)
    with pytest.raises(InputError, match="the watch: cannot begin: can't start new thread: end"):
        watch.start()
    assert script.is_closed
    assert not watch._receiving.is_alive()
    with open_recording(path) as recording:
        assert recording.was_closed
    watch.stop()  # as whoever began it does


def test_a_defect_in_judging_does_not_end_the_recording(tmp_path: Path) -> None:
    """The screen says that the watch has stopped; what comes after is recorded all the same."""
    path = tmp_path / "a.leadmark"
    clock = HandClock()
    frames = scenario_frames("nominal", 4.0)[:300]
    failed, goes_on = threading.Event(), threading.Event()

    def wait_at_the_middle(number: int) -> None:
        if number == 50:
            assert goes_on.wait(20.0)

    def fail(event: AnyEvent) -> None:
        failed.set()
        raise RuntimeError("a defect")

    script = Script(clock, batches_of(frames), wait_at_the_middle)
    watch = LiveWatch(
        StateModel(LIMITS, Setup()), script, clock=clock, engine_time=EngineTime.RECEIVE,
        recorder=recorder_at(path, EngineTime.RECEIVE), status=STATUS, on_event=fail,
    )  # fmt: skip
    watch.start()
    assert failed.wait(20.0)
    while watch.failure is None:
        time.sleep(0.01)
    assert watch.status().notice == "the watch has stopped: a defect, the recording goes on"
    goes_on.set()
    assert script.is_over.wait(20.0)
    watch.stop()
    assert watch.status().notice == "the watch has stopped: a defect"
    with open_recording(path) as recording:
        assert recording.was_closed
        assert recording.extent.frames == 300


# ---------------------------------------------------------------------- the publisher pulled


def test_publisher_pulled_for_eight_seconds() -> None:
    """Pulled for 8 s: stale, then lost, coasted with growing bounds, and recovered by itself."""
    watch = HandWatch(LIMITS)

    def publish(begin_s: float, end_s: float) -> None:
        for n in range(round(begin_s * 10), round(end_s * 10)):
            past_s = n / 10
            range_m = 12.0 - 0.09 * past_s + 0.002 * ((n * 7) % 5 - 2)
            watch.step(past_s + 0.05, sample_frame(past_s, range_m, n))

    publish(0.0, 20.0)
    widths: list[float] = []
    stale_at_s = lost_at_s = None
    for n in range(1, 400):
        past_s = 19.95 + n * 0.02
        snapshot = watch.step(past_s)
        assert snapshot is not None
        assert snapshot.age_s == pytest.approx(past_s - 19.9, abs=IDLE_EVERY_S + 0.02)
        standing = {e.id: e for e in snapshot.exceedances if e.cleared is None}
        if stale_at_s is None and "data:stale" in standing:
            stale_at_s = snapshot.age_s
            assert standing["data:stale"].level.word == "caution"
        if lost_at_s is None and "data:link" in standing:
            lost_at_s = snapshot.age_s
            assert standing["data:link"].level.word == "warning"
            assert snapshot.phase is Phase.DATA_LOST
        if snapshot.stale:
            assert snapshot.coasted
            assert {one.verdict for one in snapshot.limits} == {Verdict.UNKNOWN}
            contact = snapshot.to_contact
            assert contact.best_s is not None
            widths.append(contact.high_s - contact.low_s)
    assert 1.0 < stale_at_s < 1.15
    assert 5.0 < lost_at_s < 5.15
    assert all(b > a - 0.01 for a, b in pairwise(widths))
    assert widths[-1] > 1.1 * widths[0]
    publish(28.0, 31.0)
    snapshot = watch.watch.snapshot()
    assert snapshot is not None
    assert not [e for e in snapshot.exceedances if e.cleared is None and e.source]
    assert snapshot.phase is Phase.APPROACH
    assert not snapshot.coasted
    assert sum(isinstance(e, ExceedanceCleared) for e in watch.events) == 2
