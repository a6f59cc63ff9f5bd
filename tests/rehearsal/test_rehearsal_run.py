"""Whole runs without a window: the same engine, a recording that says everything, the terminal."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from fakes.rehearsals import T0, write_worked

from console.app import at_hand, rehearse
from console.app.around import Around
from console.app.input_file import load_limits, load_setup
from console.app.rehearse import ExerciseDesk, runs_on_file
from console.app.rehearse_feed import RehearsalFeed
from console.app.rehearse_lines import rehearsal_lines
from console.app.rehearse_run import Rehearsal, RunOrder
from console.app.rehearse_stage import Staged, read_exercise, stage
from console.app.score import ScoreOrder, score_one
from console.approach.action import AnyAction, Say
from console.approach.engine_time import EngineTime
from console.approach.event import AnyEvent, CallMade
from console.approach.intake import Intake
from console.approach.state import StateModel
from console.archive.recording import Recording, open_recording
from console.archive.recording.taken import ActionTaken, FrameTaken
from console.cli import main
from console.core.errors import InputError
from console.present.rehearse_draft import Draft
from console.rehearsal.review import is_rehearsal, review
from console.rehearsal.score import RehearsalScore
from tests.fakes.changed import replace

SCRIPT = ((21.5, "mark:10"), (24.0, "seen:roll"), (66.0, "seen:pitch_yaw"), (80.0, "hold"))


class HandClock:
    """Stands where it is set."""

    now_s = T0

    def __call__(self) -> float:
        """Give the time that was set."""
        return self.now_s


def staged_in(folder: Path, **changes: object) -> tuple[Staged, RunOrder]:
    """Give the worked exercise ready to run, and what it runs with."""
    limits_path, path = write_worked(folder)
    limits, setup = load_limits(limits_path), load_setup(None)
    exercise = replace(read_exercise(path), **changes)  # type: ignore[arg-type]
    order = RunOrder("AB", limits, setup, Around(), folder / "run.leadmark")
    return stage(exercise, folder, limits, setup), order


def run(staged: Staged, order: RunOrder, script: tuple = SCRIPT, end_s: float = 142.0) -> Path:
    """Run to the end on the caller's own thread: receive, feed, call, close."""
    clock = HandClock()
    rehearsal = Rehearsal(staged, order, clock)
    watch = rehearsal._assembled.watch
    rehearsal._feed.begin()
    for past_s, call in (*script, (end_s, "")):
        clock.now_s = T0 + past_s
        for frame in rehearsal._feed.poll(0.0):
            watch._hand_over(frame)
        while not watch._queue.empty():
            watch._take(watch._queue.get())
        watch._idle(clock.now_s)
        if call:
            rehearsal.port.act(Say(order.trainee, call))
            watch._do_actions()
    watch._finish()
    rehearsal._assembled.recorder.close()
    return rehearsal.path


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the recording of one run of the worked exercise."""
    return run(*staged_in(tmp_path_factory.mktemp("run")))


def test_the_recording_alone_gives_the_score(recorded: Path, tmp_path: Path) -> None:
    """Moved away from exercise, limits and pass, it still reviews the same."""
    with open_recording(recorded) as recording:
        there = review(recording)
    moved = tmp_path / recorded.name
    moved.write_bytes(recorded.read_bytes())
    with open_recording(moved) as recording:
        assert is_rehearsal(recording.meta)
        assert there == review(recording)
    assert (there.trainee, sum(one.called_t is not None for one in there.events)) == ("AB", 4)
    assert tuple(sorted(part.value for part in there.hidden)) == (
        "calls",
        "exceedances",
        "margins",
    )
    assert [f.words for f in there.faults] == ["bias, roll, +3 deg", "bias, pitch, +5 deg"]


def test_a_replay_gives_the_same_events_to_the_byte(recorded: Path) -> None:
    """The recorded inputs fed again give the recorded event log."""
    with open_recording(recorded) as recording:
        limits = load_limits(recorded.parent / "limits.toml")
        intake = Intake(StateModel(limits, load_setup(None)), EngineTime.RECEIVE)
        log: list[AnyEvent] = []
        for item in recording.inputs():
            if isinstance(item, FrameTaken):
                log += intake.frame(item.frame)
            elif isinstance(item, ActionTaken):
                log += intake.action(item.t, item.action)
            else:
                log += intake.advance(item.t)
        assert recording.events() == tuple(msgspec.json.encode(event) for event in log)


def test_calls_change_nothing_that_is_judged(recorded: Path, tmp_path: Path) -> None:
    """A run without a single call has the same events but for the calls."""
    silent = run(*staged_in(tmp_path), script=())
    logs = []
    for path in (recorded, silent):
        with open_recording(path) as recording:
            events = [msgspec.json.decode(line, type=AnyEvent) for line in recording.events()]
            logs.append([event for event in events if not isinstance(event, CallMade)])
    assert logs[0] == logs[1]
    assert len(logs[0]) > 8


def test_how_often_the_clock_is_looked_at_changes_nothing(recorded: Path, tmp_path: Path) -> None:
    """Played in steps of 0.7 s or in five leaps: the same samples at the same receive times."""
    steps = tuple((0.7 * i, "") for i in range(1, 203))
    fine = run(*staged_in(tmp_path), script=steps)
    frames = []
    for path in (recorded, fine):
        with open_recording(path) as recording:
            frames.append([frame for _, frame in recording.frames()])
    assert frames[0] == frames[1]


def test_nothing_is_played_before_the_begin_or_after_the_close(tmp_path: Path) -> None:
    """The feed gives what is due, once, and nothing when it is closed."""
    staged, _ = staged_in(tmp_path)
    clock = HandClock()
    feed = RehearsalFeed(staged.messages, clock, 2.0)
    assert feed.poll(0.0) == []
    feed.begin()
    clock.now_s = T0 + 1.0
    due = feed.poll(0.0)
    # 2 s of the pass in one, 0.1 s apart: received 0.05 s apart
    assert len(due) == 21
    assert [frame.t_received_s - T0 for frame in due] == pytest.approx(
        [0.05 * i for i in range(21)], abs=1e-6
    )
    assert feed.poll(0.0) == []
    clock.now_s = T0 + 500.0
    feed.close()
    assert feed.poll(0.0) == []
    assert not feed.is_done


def test_a_run_at_another_speed_goes_by_the_samples_own_time(tmp_path: Path) -> None:
    """At 4x the recording says so, and the calls are scored in pass time."""
    staged, order = staged_in(tmp_path, speed=4.0)
    script = tuple((past_s / 4.0, call) for past_s, call in SCRIPT)
    path = run(staged, order, script, 142.0 / 4.0)
    with open_recording(path) as recording:
        assert EngineTime.NEWEST is recording.meta.engine_time
        score = review(recording)
    delays = {one.event.subject: one.delay_s for one in score.events if one.delay_s is not None}
    assert (pytest.approx(delays, abs=0.11)) == {
        "mark:10": 1.5,
        "seen:roll": 4.0,
        "seen:pitch_yaw": 6.0,
        "stop": 19.0,
    }


def test_an_ended_run_is_asked_only_for_what_it_showed(tmp_path: Path) -> None:
    """Ended at 50 s: the mark at 20 s and roll count; the mark at 70 s was never seen."""
    path = run(*staged_in(tmp_path), script=SCRIPT[:2], end_s=50.0)
    with open_recording(path) as recording:
        score = review(recording)
    assert [one.event.subject for one in score.events] == ["mark:10", "seen:roll"]
    assert (score.hits, score.misses) == (2, 0)


def test_a_recording_that_is_no_rehearsal_is_refused(recorded: Path, tmp_path: Path) -> None:
    """And so is one whose truth cannot be read: one line, the file named."""
    with open_recording(recorded) as recording:
        more = dict(recording.meta.more)
        recording.meta.more.clear()
        with pytest.raises(InputError, match=r"run\.leadmark: no rehearsal was recorded"):
            review(recording)
        recording.meta.more.update(more, rehearsal_truth="{}")
        with pytest.raises(InputError, match="rehearsal_truth: cannot be read"):
            review(recording)


@pytest.mark.parametrize("line", [b"{}", b'{"kind": "\xcf\xff"}'])
def test_events_that_are_none_are_refused(
    recorded: Path, monkeypatch: pytest.MonkeyPatch, line: bytes
) -> None:
    """A recording somebody has changed by hand: one line, the file and the table named."""
    with open_recording(recorded) as recording:
        monkeypatch.setattr(recording, "events", lambda: (line,))
        with pytest.raises(InputError, match=r"run\.leadmark: events: cannot be read"):
            review(recording)


def test_score_tells_a_rehearsal_and_compares_several(
    recorded: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """``leadmark score`` prints it after the judging; two runs are put side by side."""
    other = tmp_path / "other.leadmark"
    other.write_bytes(recorded.read_bytes())
    assert main(["score", str(recorded), str(other)]) == 1
    said = capsys.readouterr().out
    assert said.count("Rehearsal AB: Worked by hand") == 2
    assert "Stop: hold called while it still helped, 11.5 s to spare" in said
    assert "Trainees: runs, hit, missed" in said
    assert "AB  2  8" in said
    assert list(rehearsal_lines([tmp_path / "worked.csv"])) == []
    outcome = score_one(recorded, ScoreOrder()).outcome
    assert [e["id"] for e in outcome["exceedances"]] == ["roll-caution", "pitch-yaw"]


def test_runs_on_file_are_found_and_odd_files_left_out(recorded: Path, tmp_path: Path) -> None:
    """A damaged file and a file that is something else are no runs."""
    (tmp_path / "a.leadmark").write_bytes(recorded.read_bytes())
    (tmp_path / "b.leadmark").write_bytes(b"something else")
    assert [run.recording for run in runs_on_file(tmp_path)] == ["a.leadmark"]


def test_closing_leaves_the_other_runs_unread(
    recorded: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While a score is made the desk is closed: the run in hand is read, no other, none lost."""
    for number in range(4):
        (tmp_path / f"{number}.leadmark").write_bytes(recorded.read_bytes())
    monkeypatch.setattr(at_hand, "recordings_folder", lambda: tmp_path)
    desk, read = ExerciseDesk(), []

    def slowly(recording: Recording) -> RehearsalScore:
        read.append(recording.path.name)
        if len(read) == 2:
            desk._closing.set()
        return review(recording)

    monkeypatch.setattr(rehearse, "review", slowly)
    found = desk.review(recorded).result(30.0)
    desk.close()
    assert read == [recorded.name, "3.leadmark"]
    assert [run.recording for run in found.others] == ["3.leadmark"]
    assert found.score.recording == recorded.name


def test_an_exercise_is_saved_and_read_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Below the data folder, under a name of its own; its pass is found from there."""
    monkeypatch.setenv("LEADMARK_DATA", str(tmp_path / "data"))
    _, path = write_worked(tmp_path / "made")
    desk = ExerciseDesk()
    draft = desk.read(str(path))
    first, second = desk.save(draft), desk.save(draft)
    assert first != second
    again = ExerciseDesk().read(str(first))
    assert (draft.title, draft.faults) == (again.title, again.faults)
    assert Path(again.name).is_absolute()
    assert str(first) in desk.choices().exercises
    with pytest.raises(InputError, match="this exercise: "):
        desk.save(Draft(title="", name="nominal"))
    desk.close()


def test_an_action_that_names_no_mark_is_only_words() -> None:
    """A call of a broken recording ends nothing."""
    model = StateModel(load_limits(None), load_setup(None))
    action: AnyAction = Say("AB", "mark:near")
    (event,) = model.act(action, T0)
    assert isinstance(event, CallMade)
