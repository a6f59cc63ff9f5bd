"""``leadmark replay --headless``: the lines of the live watch, at any speed and from any place."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from replay_tools import flown, record

from console.app.headless import line_of, summary
from console.app.replay_headless import ReplayOrder, replay_headless
from console.approach.engine_time import EngineTime
from console.approach.intake import Intake
from console.archive.recording import open_recording
from console.archive.recording.taken import ActionTaken, FrameTaken
from console.cli import main
from console.core.errors import InputError


class Wall:
    """A clock that goes on by what is waited for, and knows how much that was."""

    def __init__(self) -> None:
        self.now_s = 0.0

    def __call__(self) -> float:
        """Give the time."""
        return self.now_s

    def wait(self, seconds: float) -> None:
        """Let time pass."""
        assert seconds > 0.0
        self.now_s += seconds


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Record a nominal approach from 2 m to capture."""
    path = tmp_path_factory.mktemp("pass") / "a.leadmark"
    one = flown("nominal", 2.2, EngineTime.RECEIVE)
    record(path, one, one.frames[:600])
    return path


def live_lines(path: Path) -> list[str]:
    """Give the lines a headless watch wrote: each event as it came, then the summary."""
    one = flown("nominal", 2.2, EngineTime.RECEIVE)
    intake = Intake(one.make(), EngineTime.RECEIVE)
    lines: list[str] = []
    with open_recording(path) as recording:
        for item in recording.inputs():
            if isinstance(item, FrameTaken):
                events = intake.frame(item.frame)
            elif isinstance(item, ActionTaken):
                events = intake.action(item.t, item.action)
            else:
                events = intake.advance(item.t)
            lines += [line_of(event) for event in events]
    return lines + summary(intake.state)


@pytest.mark.parametrize("speed", [1.0, 60.0, math.inf])
def test_lines_are_those_of_the_live_watch(recorded: Path, speed: float) -> None:
    """At 1x, 60x and as fast as it goes the lines are the same; it lasts as long as it should."""
    wall, said = Wall(), []
    order = ReplayOrder(recorded, speed=speed)
    replay_headless(order, said.append, clock=wall, wait=wall.wait)
    assert "Port C final approach r7" in said[0]
    assert "OTHER LIMITS" not in said[0]
    assert live_lines(recorded) == said[1:]
    with open_recording(recorded) as recording:
        extent = recording.extent
    assert extent.t_first is not None
    assert extent.end_t is not None
    lasts = (extent.end_t - extent.t_first) / speed
    assert wall.now_s == pytest.approx(lasts, abs=0.06)


@pytest.mark.parametrize("at", ["1.5m", "+5"])
def test_it_begins_where_it_is_told_to(recorded: Path, at: str) -> None:
    """Begun at a place, it says nothing of before, and the same summary at the end."""
    whole: list[str] = []
    part: list[str] = []
    replay_headless(ReplayOrder(recorded, speed=math.inf), whole.append)
    replay_headless(ReplayOrder(recorded, speed=math.inf, at=at), part.append)
    assert 1 < len(part) < len(whole)
    assert whole[-len(part) + 1 :] == part[1:]


def test_other_limits_are_named_first(recorded: Path, tmp_path: Path) -> None:
    """Under other limits the first line says so, with both files' names and hashes."""
    with open_recording(recorded) as recording:
        text = recording.meta.limits_text
    other = tmp_path / "other.toml"
    other.write_text(text.replace("revision = 7", "revision = 9"), encoding="utf-8")
    said: list[str] = []
    replay_headless(ReplayOrder(recorded, limits=other, speed=math.inf), said.append)
    assert "OTHER LIMITS than the pass was watched under" in said[0]
    assert "r9" in said[0]
    assert "r7" in said[0]


def test_interrupt_sums_up(recorded: Path) -> None:
    """Ended by the keyboard it still says what it came to, as a live watch does."""
    said: list[str] = []

    def wait(seconds: float) -> None:
        raise KeyboardInterrupt

    state = replay_headless(ReplayOrder(recorded), said.append, clock=Wall(), wait=wait)
    assert summary(state) == said[-len(summary(state)) :]


def test_no_place_is_refused(recorded: Path) -> None:
    """A place that cannot be read is refused in one line that says what it may be."""
    with pytest.raises(InputError, match="--at: here: a range such as 15 m"):
        replay_headless(ReplayOrder(recorded, at="here"), lambda line: None)


def test_command_line(recorded: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The command writes the lines and ends well; a missing file is status 2 in one line."""
    assert main(["replay", str(recorded), "--headless", "--speed", "max"]) == 0
    assert "Summary" in capsys.readouterr().out
    assert main(["replay", "none.csv", "--headless"]) == 2
    assert capsys.readouterr().err.count("\n") == 1
