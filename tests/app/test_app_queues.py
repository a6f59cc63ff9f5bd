"""The bounded queues of a watch: what they let go is counted, and what is old is said to be."""

from __future__ import annotations

import sys
import threading
from pathlib import Path
from queue import Empty

import msgspec
import pytest
from app_tools import T0, HandWatch, sample_frame

from console.app import live
from console.app.arrival_rate import ArrivalRate
from console.app.drained import CountedQueue, drained
from console.app.fair_queue import FairQueue
from console.app.headless import AGAIN_AFTER_S, StatusLines, summary
from console.app.input_file import load_limits
from console.approach.action import Note
from console.archive.recording.backlog import Backlog, Bounds
from console.core.ids import SourceId
from console.core.records import CaptureStatus, Frame, Heartbeat
from console.present.port import WatchStatus
from console.wire.encode import encode

LIMITS = load_limits(None)


def test_a_full_queue_lets_its_oldest_go_and_counts() -> None:
    """However it is filled."""
    queue: CountedQueue[int] = CountedQueue(3)
    queue.extend(range(5))
    queue.append(5)
    assert queue.dropped == 3
    assert drained(queue) == [3, 4, 5]
    queue.append(6)
    assert (queue.dropped, list(queue)) == (3, [6])


def test_a_share_that_is_full_leaves_room_for_the_others() -> None:
    """A flood under one name crowds out itself alone; what is taken out makes room again."""
    queue: FairQueue[int] = FairQueue(100, 10)
    assert [queue.put(n, b"flood") for n in range(30)] == [True] * 10 + [False] * 20
    assert queue.put(99, b"rel/optical")
    assert [queue.get() for _ in range(10)] == [*range(10)]
    assert queue.put(30, b"flood")
    assert [queue.get(), queue.get()] == [99, 30]
    assert (queue.empty(), queue.qsize()) == (True, 0)
    with pytest.raises(Empty):
        queue.get(0.001)


def test_the_whole_is_bounded_too() -> None:
    """Many shares together hold no more than the queue."""
    queue: FairQueue[int] = FairQueue(25, 10)
    assert sum(queue.put(n, b"%d" % (n % 7)) for n in range(70)) == 25


def test_a_flood_of_names_does_not_crowd_out_the_approach(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """While forged names fill their share, every sample of the source in use is judged."""
    monkeypatch.setattr(live, "QUEUE_FRAMES_A_TOPIC", 50)
    watch = HandWatch(LIMITS, tmp_path / "a.leadmark")
    watch.step(0.0, sample_frame(0.0, 9.0, 0))
    payload = sample_frame(0.0, 3.0, 0).payload
    for n in range(1, 40):
        for k in range(100):
            topic = f"rel/forged{n}-{k}".encode()
            watch.watch._hand_over(Frame(T0 + n / 10, topic, payload))
        watch.watch._hand_over(sample_frame(n / 10, 9.0 - 0.009 * n, n))
    assert watch.watch.status().overflowed == 39 * 100 - 50
    watch.step(4.0)
    assert watch.state.judged == 40
    watch.finish()


def beat_frame(past_s: float, last_seq: int) -> Frame:
    """Give a heartbeat of the optical source."""
    return Frame(T0 + past_s, *encode(Heartbeat(SourceId("optical"), T0 + past_s, last_seq)))


def test_what_was_dropped_here_is_not_lost_on_the_way_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """A gap left by messages dropped here is told as dropped, every other as lost."""
    monkeypatch.setattr(live, "QUEUE_FRAMES_A_TOPIC", 50)
    watch = HandWatch(LIMITS)
    seq = 0

    def counts() -> tuple[int, int, int]:
        status, snapshot = watch.watch.status(), watch.watch.snapshot()
        assert snapshot is not None
        return status.lost, status.overflowed, snapshot.sources[0].lost

    def sample(skipping: int = 0) -> Frame:
        nonlocal seq
        seq += 1 + skipping
        return sample_frame(seq / 10, 12.0 - 0.009 * seq, seq)

    watch.step(0.1, sample())
    watch.step(15.0, *(sample() for _ in range(100)))
    assert counts() == (0, 50, 0)  # nothing came after them that shows a gap
    watch.step(16.0, sample(skipping=3))
    assert counts() == (3, 50, 53)
    watch.step(17.0, *(sample(skipping=1) for _ in range(60)))
    watch.step(31.0, beat_frame(30.0, seq + 2))  # behind the ten dropped with their ten gaps
    assert counts() == (3 + 60 + 2, 60, 53 + 50 + 20 + 2)
    seq += 2
    watch.step(32.0, sample())
    assert counts() == (65, 60, 125)


def explained(watch: HandWatch, frames: list[Frame], own: set[int]) -> tuple[int, int]:
    """Take frames, drop those at some places; give the lost on the way, then those explained."""
    for place, frame in enumerate(frames):
        if place in own:
            watch.watch._own_drops.drop(frame.topic)
        else:
            watch.step(frame.t_received_s - T0, frame)
    return watch.watch.status().lost, watch.watch._own_drops.explained


@pytest.mark.parametrize("between", ["nothing", "refused", "repeated", "late"])
def test_a_message_that_finds_no_gap_leaves_a_drop_to_be_found(between: str) -> None:
    """Refused, repeated or late, it says nothing of what was dropped before it."""
    numbers = [1, 2, 4, 5, 6, 7] if between == "late" else [1, 2, 3, 4, 5, 6, 7]
    frames = [sample_frame(n / 10, 12.0 - 0.009 * n, n) for n in numbers]
    dropped = 3  # number 5 or 4
    come = {
        "nothing": [],
        "refused": [Frame(T0 + 0.51, frames[0].topic, b'{"seq":5}')],
        "repeated": [msgspec.structs.replace(frames[1], t_received_s=T0 + 0.51)],
        "late": [msgspec.structs.replace(sample_frame(0.3, 11.97, 3), t_received_s=T0 + 0.51)],
    }[between]
    frames[dropped + 1 : dropped + 1] = come
    assert explained(HandWatch(LIMITS), frames, {dropped}) == (0, 1)


def test_a_drop_that_left_no_gap_explains_no_later_one() -> None:
    """A repeated message dropped here is settled by the next new one; a loss then is one."""
    numbers = [1, 2, 2, 3, 5, 6]
    frames = [sample_frame(n / 10, 12.0 - 0.009 * n, n) for n in numbers]
    assert explained(HandWatch(LIMITS), frames, {2}) == (1, 0)


@pytest.mark.parametrize("has_samples", [False, True])
def test_a_heartbeat_shows_the_drops_of_the_kind_it_speaks_for(*, has_samples: bool) -> None:
    """Capture statuses where the source sends no samples, else its samples alone."""
    source = SourceId("optical")
    statuses = [
        Frame(T0 + n, *encode(CaptureStatus(source=source, seq=n, t=T0 + n))) for n in range(1, 5)
    ]
    frames = [*statuses[:3], beat_frame(3.5, 3), statuses[3]]
    if has_samples:
        frames = [sample_frame(0.1, 12.0, 3), *frames]
    dropped = 2 + has_samples
    assert explained(HandWatch(LIMITS), frames, {dropped}) == (0, 1)


def test_the_summary_tells_them_apart(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Lost on the way and dropped here stand beside each other, the recording's counts as ever."""
    monkeypatch.setattr(live, "QUEUE_FRAMES_A_TOPIC", 50)
    watch = HandWatch(LIMITS, tmp_path / "a.leadmark")
    watch.step(0.1, sample_frame(0.1, 12.0, 1))
    frames = [sample_frame(n / 10, 12.0 - 0.009 * n, n) for n in (*range(2, 92), 94)]
    watch.step(9.0, *frames[:-1])
    watch.step(9.6, frames[-1])
    watch.finish()
    (line,) = (s for s in summary(watch.state, watch.watch.status()) if "messages" in s)
    assert line == (
        "  messages 52, lost 2, dropped here 40, repeated 0, rejected 0; samples judged 52"
    )
    (line,) = (s for s in summary(watch.state) if "messages" in s)
    assert "lost 42, repeated" in line


def test_rows_may_be_put_while_frames_are_refused() -> None:
    """Two threads hand in while gaps come and go: nobody fails, and counts add up."""
    backlog = Backlog(Bounds(frames=4))
    over = threading.Event()
    failed: list[BaseException] = []

    def put_rows() -> None:
        try:
            while not over.is_set():
                backlog.put("samples", (backlog.number,), backlog.number)
        except RuntimeError as error:
            failed.append(error)

    thread = threading.Thread(target=put_rows)
    before = sys.getswitchinterval()
    sys.setswitchinterval(1e-5)
    try:
        thread.start()
        for n in range(20_000):
            backlog.put_frame(Frame(T0 + n, b"rel/x", b""), "")
            if n % 10 == 9:
                backlog.written(backlog.take())
    finally:
        over.set()
        thread.join()
        sys.setswitchinterval(before)
    assert failed == []
    assert backlog.refused_frames > 0


def test_the_rate_is_right_at_any_rate() -> None:
    """A hundred thousand a second, and ten, over the last two seconds."""
    fast, slow = ArrivalRate(), ArrivalRate()
    for n in range(30_000):
        fast.note(T0 + n * 1e-4)
    for n in range(40):
        slow.note(T0 + n * 0.1)
    assert fast.per_s(T0 + 3.0) == pytest.approx(10_000, rel=0.06)
    assert slow.per_s(T0 + 4.0) == pytest.approx(10.0, rel=0.06)
    assert slow.per_s(T0 + 60.0) == 0.0


def test_what_is_shown_late_is_said_to_be() -> None:
    """While frames wait in the queue, their age counts; once they are fed, nothing is behind."""
    watch = HandWatch(LIMITS)
    watch.step(0.0, sample_frame(0.0, 9.0, 0))
    for n in range(1, 50):
        watch.watch._hand_over(sample_frame(n / 10, 9.0, n))
    watch.clock.now_s = T0 + 5.0
    assert watch.watch.status().behind_s == pytest.approx(5.0)
    watch.step(5.0)
    assert watch.watch.status().behind_s == 0.0


def test_events_and_deeds_that_find_no_room_are_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    """A window that never asks, and an operator faster than the engine."""
    monkeypatch.setattr(live, "EVENTS_KEPT", 5)
    monkeypatch.setattr(live, "ACTIONS_KEPT", 5)
    watch = HandWatch(LIMITS)
    watch.step(0.0, sample_frame(0.0, 9.0, 0))
    for n in range(8):
        watch.watch.act(Note(initials="ab", text=str(n)))
    assert watch.watch.status().deeds_dropped == 3
    watch.step(0.1)
    watch.step(0.2, *(sample_frame(0.2, 9.0, n) for n in range(2, 40, 2)))
    status = watch.watch.status()
    assert status.events_dropped == len(watch.events) - 5
    assert status.events_dropped > 0


def test_troubles_are_written_as_they_begin_and_then_now_and_then() -> None:
    """The text form says each kind at once, and growing numbers every ten seconds."""
    said: list[str] = []
    lines = StatusLines(said.append)
    for n in range(200):
        status = WatchStatus("Live", "x", recording="a", rejected=n)
        lines.look(status, Path("a"), n / 10)
    assert said[0] == "Recording to a"
    assert said[1:] == [f"caution: {n} rejected" for n in (1, 1 + round(AGAIN_AFTER_S * 10))]


def test_a_disk_that_is_behind_is_written() -> None:
    """The text form says why, and when it has caught up."""
    said: list[str] = []
    lines = StatusLines(said.append)
    slow = WatchStatus("Live", "x", recording="a", not_recording_because="the disk is slow")
    for status in (slow, slow, WatchStatus("Live", "x", recording="a")):
        lines.look(status, Path("a"), 0.0)
    assert said == ["Recording to a, behind: the disk is slow", "Recording to a"]


def test_old_frames_played_again_are_dropped_and_counted(tmp_path: Path) -> None:
    """Somebody sends what was sent before: nothing is judged twice, and the screen can say so."""
    watch = HandWatch(LIMITS, tmp_path / "a.leadmark")
    frames = [sample_frame(n / 10, 9.0 - 0.009 * n, n) for n in range(50)]
    watch.step(5.0, *frames)
    judged = watch.state.judged
    again = [Frame(T0 + 5.1, frame.topic, frame.payload) for frame in frames[:30]]
    snapshot = watch.step(5.2, *again)
    assert snapshot is not None
    assert watch.state.judged == judged
    assert snapshot.counts.repeated == 30
    watch.finish()
