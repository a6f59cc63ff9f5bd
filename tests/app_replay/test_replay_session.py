"""A replay as the window uses it: playing, standing elsewhere, notes, a second pass."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from replay_tools import flown, record

from console.app import replay_scan, replay_worker
from console.app.input_file import load_limits
from console.app.pass_rules import rules_of
from console.app.replay import ReplaySession, session_of
from console.approach.action import AcknowledgeAll
from console.approach.engine_time import EngineTime
from console.archive.pass_notes import read_notes
from console.archive.passes import read_pass
from console.core.errors import InputError
from console.present.port import Watched
from console.present.replay_port import TickKind, Way
from console.present.status_line import status_line


class HandClock:
    """Seconds that go on when told to."""

    def __init__(self) -> None:
        self.now_s = 100.0

    def __call__(self) -> float:
        """Give the time that was set."""
        return self.now_s


class Driven:
    """A session turned by hand, on the test's own thread."""

    def __init__(self, path: Path, limits: Path | None = None, speed: float = 1.0) -> None:
        self.clock = HandClock()
        one = read_pass(path)
        rules = rules_of(one, limits, None)
        self.session = ReplaySession(one, rules, clock=self.clock, speed=speed)

    def settle(self) -> None:
        """Turn until there is nothing left to do at this time."""
        while self.session.turn() == 0.0:
            pass
        self.clock.now_s += 1.0  # so that it is shown
        self.session.turn()

    def play_for(self, wall_s: float) -> None:
        """Let the clock go on in frames of a screen, with nothing else happening."""
        end = self.clock.now_s + wall_s
        while self.clock.now_s < end:
            self.clock.now_s = min(self.clock.now_s + 0.02, end)
            while self.session.turn() == 0.0:
                pass


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Record a fast approach from 4.5 m to a little after contact."""
    path = tmp_path_factory.mktemp("pass") / "fast.leadmark"
    one = flown("fast_closing", 4.5, EngineTime.RECEIVE)
    record(path, one, one.frames[:560])
    return path


@pytest.fixture(scope="module")
def read(recorded: Path) -> Iterator[Driven]:
    """Read a session over it to the end, once for all."""
    made = Driven(recorded)
    made.settle()
    yield made
    made.session.stop()


@pytest.fixture
def driven(read: Driven) -> Driven:
    """Give that session, paused at the begin."""
    read.session.pause()
    read.session.go_to_end(Way.BACK)
    read.settle()
    read.session.take_events()
    return read


def test_it_begins_paused_at_the_begin(recorded: Path) -> None:
    """At the start the first input is shown, nothing plays, and the rest is read bit by bit."""
    made = Driven(recorded)
    now = made.session.replay()
    assert not now.is_playing
    assert now.t_first == now.t
    assert now.read_t < now.t_last
    assert made.session.snapshot() is not None
    made.settle()
    assert made.session.replay().is_read
    made.session.stop()


@pytest.mark.parametrize("speed", [0.25, 1.0, 60.0])
def test_it_plays_at_its_speed(recorded: Path, speed: float) -> None:
    """So many pass seconds go by for a second of the clock; paused none do."""
    made = Driven(recorded, speed=speed)
    made.settle()
    begin = made.session.replay().t
    made.session.toggle()
    made.play_for(0.5)
    gone = made.session.replay().t - begin
    assert 0.5 * speed - 0.1 * max(speed, 1.0) <= gone <= 0.5 * speed + 1e-6
    made.session.toggle()
    made.play_for(0.1)
    stands = made.session.replay().t
    made.play_for(1.0)
    assert stands == made.session.replay().t
    assert made.session.status().paused
    made.session.stop()


def test_played_to_the_end_it_gives_every_event(driven: Driven) -> None:
    """Played through at 60x it hands over each event of the recording once, and stops there."""
    session = driven.session
    for _ in range(12):
        session.change_speed(Way.ON)
    session.toggle()
    driven.play_for(3.0)
    later = [found.event for found in session._engine.scan.events if found.count > 1]
    assert later == session.take_events()
    now = session.replay()
    assert not now.is_playing
    assert now.t_last == now.t
    assert "ends here" in now.told


def test_seeks_in_a_row_take_the_last(driven: Driven) -> None:
    """A drag over the line stands at once where it ended; no event is handed over by it."""
    now = driven.session.replay()
    for share in (0.2, 0.9, 0.5):
        driven.session.seek(now.t_first + share * (now.t_last - now.t_first))
    driven.settle()
    stands = driven.session.replay()
    assert pytest.approx(0.5, abs=1e-8) == (stands.t - now.t_first) / (now.t_last - now.t_first)
    assert driven.session.take_events() == []


def test_unread_place_is_waited_for(recorded: Path) -> None:
    """A seek to a place not read yet says that it waits, then stands there."""
    made = Driven(recorded)
    end = made.session.replay().t_last
    made.session.seek(end - 1.0)
    made.session.turn()
    assert made.session.replay().wanted_t == end - 1.0
    made.settle()
    assert made.session.replay().wanted_t is None
    assert made.session.replay().t == pytest.approx(end - 1.0)
    made.session.stop()


def test_steps_go_from_sample_to_sample(driven: Driven) -> None:
    """A step on and one back stand at the same sample; each step is one sample of any source."""
    session = driven.session
    session.skip(8.0)
    driven.settle()
    seen = []
    for way in (Way.ON, Way.ON, Way.BACK, Way.ON):
        session.step(way)
        driven.settle()
        snapshot = session.snapshot()
        assert snapshot is not None
        seen.append((session.replay().t, sum(s.received for s in snapshot.sources)))
    assert seen[0] == seen[2]
    assert seen[1] == seen[3]
    assert seen[0][1] + 1 == seen[1][1]


def test_events_and_least_margins_are_jumped_to(driven: Driven) -> None:
    """N goes through the line's marks in order and P back; M stands where a margin was least."""
    session = driven.session
    ticks = session.ticks()
    assert {TickKind.WARNING, TickKind.MARK} <= {tick.kind for tick in ticks}
    stood = []
    for way in (Way.ON, Way.ON, Way.ON, Way.BACK):
        session.go_to_event(way)
        driven.settle()
        stood.append(session.replay().t)
    moments = sorted({tick.t for tick in ticks if tick.t > session.replay().t_first + 1e-6})
    assert pytest.approx(moments[:3]) == stood[:3]
    assert pytest.approx(stood[1]) == stood[3]
    assert session.replay().told
    session.go_to_end(Way.BACK)
    session.go_to_least_margin(Way.ON)
    driven.settle()
    assert "least margin" in session.replay().told


def test_least_margin_is_the_least_of_all_samples(driven: Driven) -> None:
    """The least margin noted of a limit is that of a snapshot there, and no snapshot's is less."""
    engine = driven.session._engine
    least = engine.scan.least["closing-fast"]
    found = []
    for count in range(1, engine.scan.count, 7):
        engine.seek_count(count)
        limits = {limit.id: limit for limit in engine.state.desk.limits_now(is_stale=False)}
        if "closing-fast" in limits and limits["closing-fast"].margin is not None:
            found.append(limits["closing-fast"].margin)
    assert least.limit.margin is not None
    assert least.limit.margin <= min(found)
    engine.seek_count(least.count)
    limits = {limit.id: limit for limit in engine.state.desk.limits_now(is_stale=False)}
    assert least.limit.margin == limits["closing-fast"].margin


@pytest.mark.parametrize(
    ("words", "part"),
    [("4 m", "range"), ("3.25m", "range"), ("+10", "after"), ("+0:10", "after")],
)
def test_places_may_be_typed(driven: Driven, words: str, part: str) -> None:
    """A range stands where it is first reached, a time where it says."""
    assert driven.session.go_to_words(words) == ""
    driven.settle()
    now = driven.session.replay()
    if part == "after":
        assert now.t == pytest.approx(now.t_first + 10.0)
        return
    assert now.range_m is not None
    assert float(words.rstrip("m ")) - 0.05 < now.range_m <= float(words.rstrip("m "))


@pytest.mark.parametrize("words", ["", "near", "25:99", "-3", "2031-04-11", "+99:00:00", "nan m"])
def test_what_is_no_place_is_said(driven: Driven, words: str) -> None:
    """Anything else stays where it was and says in one line what may be typed."""
    before = driven.session.replay().t
    fault = driven.session.go_to_words(words)
    driven.settle()
    assert fault
    assert "\n" not in fault
    assert before == driven.session.replay().t


def test_range_never_reached_is_said(driven: Driven) -> None:
    """A range that the pass never comes in to is refused in words."""
    driven.session.go_to_words("180 m")
    driven.settle()
    assert "never comes in to 180 m" in driven.session.replay().told


def frames_of(path: Path) -> list[tuple[object, ...]]:
    """Give every recorded row that a replay must not change."""
    with sqlite3.connect(path) as connection:
        rows = connection.execute("SELECT * FROM frames").fetchall()
        rows += connection.execute("SELECT * FROM actions").fetchall()
        rows += connection.execute("SELECT * FROM events").fetchall()
    connection.close()
    return rows


def test_deeds_are_refused_and_notes_kept(recorded: Path) -> None:
    """The operator's deeds change nothing; a trainer's note is kept and found again."""
    before = frames_of(recorded)
    made = Driven(recorded)
    made.session.act(AcknowledgeAll(initials="MK"))
    made.settle()
    assert "changes nothing" in made.session.replay().told
    made.session.skip(5.0)
    made.settle()
    stood = made.session.replay().t
    made.session.note("MK", "the call came late")
    made.settle()
    assert made.session.replay().told == "note kept with the pass"
    made.session.stop()
    assert before == frames_of(recorded)
    notes = [note for note in read_notes(recorded) if note.text == "the call came late"]
    assert [("MK", stood)] == [(note.initials, note.t) for note in notes]
    again = Driven(recorded)
    again.settle()
    kept = [tick for tick in again.session.ticks() if tick.kind is TickKind.NOTE]
    assert any("the call came late" in tick.words and tick.t == stood for tick in kept)
    again.session.stop()


def test_second_pass_is_laid_over(driven: Driven, recorded: Path) -> None:
    """A second pass gives its path by range; one that cannot be read is refused in one line."""
    session = driven.session
    session.lay_over(str(recorded))
    driven.settle()
    overlay = session.overlay()
    assert overlay is not None
    assert overlay.name == recorded.name
    assert overlay.trail.count == session._engine.scan.trail.count
    session.lay_over("no such file")
    driven.settle()
    assert session.overlay() is None
    assert session.replay().told.startswith("! no such file")


def test_other_limits_are_said_plainly(recorded: Path, tmp_path: Path) -> None:
    """Under other limits the status line names those the pass was watched under, in amber."""
    text = load_limits(None).text.replace("revision = 7", "revision = 8")
    other = tmp_path / "other.toml"
    other.write_text(text, encoding="utf-8")
    made = Driven(recorded, limits=other)
    made.settle()
    status = made.session.status()
    assert status.limits_revision == 8
    assert "r7" in status.other_limits
    spoken = status_line(Watched(made.session.snapshot(), status, made.session.limits)).spoken
    assert "under other limits: watched under" in spoken
    assert "not recording" not in spoken
    made.session.stop()
    same = Driven(recorded)
    assert same.session.status().other_limits == ""
    same.session.stop()


def test_what_finds_no_room_in_a_replay_is_said(
    recorded: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Events a window never asked for, events beyond those kept, keys faster than the thread."""
    monkeypatch.setattr(replay_worker, "EVENTS_KEPT", 3)
    monkeypatch.setattr(replay_worker, "WANTS_KEPT", 2)
    monkeypatch.setattr(replay_scan, "EVENTS_KEPT", 5)
    made = Driven(recorded)
    made.settle()
    beyond = made.session._engine.scan.dropped
    assert beyond > 0
    assert made.session.status().events_dropped == beyond
    for _ in range(5):
        made.session.change_speed(Way.ON)
    assert made.session.status().deeds_dropped == 3
    made.session.play()
    made.play_for(200.0)
    status = made.session.status()
    assert status.events_dropped > beyond
    spoken = status_line(Watched(made.session.snapshot(), status, made.session.limits)).spoken
    assert f"{status.events_dropped} events are not listed, there were too many" in spoken
    assert f"{status.deeds_dropped} keys were not obeyed, there were too many" in spoken
    made.session.stop()


def test_empty_table_is_refused(tmp_path: Path) -> None:
    """A pass without a single sample is refused in one line."""
    path = tmp_path / "empty.csv"
    path.write_text(
        "seq,t,source,range_m,range_rate_mps,y_m,z_m,roll_deg,pitch_deg,yaw_deg\n",
        encoding="utf-8",
    )
    with pytest.raises(InputError, match="no sample and no message"):
        session_of(path)


def test_session_runs_and_ends_on_its_own_thread(recorded: Path) -> None:
    """Started, it reads the whole pass by itself; stopped, its thread is gone."""
    session = session_of(recorded)
    session.start()
    for _ in range(200):
        if session.replay().is_read:
            break
        session._stop.wait(0.05)
    assert session.replay().is_read
    assert session.failure is None
    session.stop()
    assert not session._thread.is_alive()
