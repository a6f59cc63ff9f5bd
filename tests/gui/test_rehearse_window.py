"""A scripted trainee through the real window, scored against what is worked out by hand."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import pytest
from fakes.rehearsals import T0, write_worked
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from console.app.rehearse import rehearse_view
from console.archive.recording import open_recording
from console.rehearsal.matching import CallOutcome
from console.rehearsal.review import review
from console.rehearsal.score import StopVerdict
from console.window.main_window import MainWindow
from console.window.rehearse_view import RehearseView

SHIFT, CONTROL = Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.ControlModifier


class HandClock:
    """Stands where it is set."""

    now_s = T0

    def __call__(self) -> float:
        """Give the time that was set."""
        return self.now_s


@dataclass
class Asked:
    """An opener that keeps what it was asked for."""

    passes: list[Path]
    debriefs: list[Path]

    def open_pass(self, path: Path, t: float | None = None) -> None:
        """Keep it."""
        self.passes.append(path)

    def open_debrief(self, path: Path) -> None:
        """Keep it."""
        self.debriefs.append(path)

    def say(self, text: str) -> None:
        """Take it."""


class Trainer:
    """Drives the view by the keyboard and the clock by hand."""

    def __init__(self, qtbot: QtBot, folder: Path) -> None:
        self.qtbot = qtbot
        self.clock = HandClock()
        self.asked = Asked([], [])
        limits, _ = write_worked(folder / "exercises")
        view = rehearse_view(self.asked, limits=limits, clock=self.clock)
        assert isinstance(view, RehearseView)
        self.view = view
        self.window = MainWindow((view,), title="Rehearse")
        qtbot.addWidget(self.window)
        self.window.show()
        self.window.activateWindow()
        QApplication.processEvents()

    def choose(self, name: str) -> None:
        """Choose an exercise file by the arrow keys."""
        box = self.view.order.exercise
        box.setFocus()
        while box.currentText() != name:
            before = box.currentText()
            self.qtbot.keyClick(box, Qt.Key.Key_Down)
            assert box.currentText() != before, "not on file"

    def start(self, initials: str) -> None:
        """Name the trainee and start."""
        self.qtbot.keyClicks(self.view.order.initials, initials)
        self.qtbot.keyClick(self.view.order.initials, Qt.Key.Key_Return, CONTROL)
        self.qtbot.waitUntil(lambda: self.view.watch is not None, timeout=20_000)

    @property
    def engine(self):
        """The running live watch itself."""
        assert self.view.watch is not None
        return self.view.watch.running._assembled.watch

    def go(self, past_s: float) -> None:
        """Let the pass go on to so many seconds past its begin."""
        self.clock.now_s = T0 + past_s
        self.qtbot.waitUntil(
            lambda: self.engine._intake.now >= T0 + past_s and self.engine._queue.qsize() < 3,
            timeout=20_000,
        )

    def press(self, key: Qt.Key | str, modifier: Qt.KeyboardModifier | None = None) -> None:
        """Press a key where the keyboard is, and wait until the engine took the call."""
        target = self.window.focusWidget() or self.view
        self.qtbot.keyClick(target, key, modifier or Qt.KeyboardModifier.NoModifier)
        self.qtbot.waitUntil(lambda: not self.engine._actions, timeout=5_000)

    def seen(self, call: str) -> None:
        """Press the digit of an exceedance."""
        assert self.view.watch is not None
        keys = {one.call: one.key for one in self.view.watch.running.seen_keys}
        self.press(keys[call])

    def end(self) -> Path:
        """End the run by its key; give the recording once the score is shown."""
        assert self.view.watch is not None
        path = self.view.watch.running.path  # type: ignore[attr-defined]
        self.qtbot.keyClick(self.window.focusWidget() or self.view, Qt.Key.Key_E, CONTROL)
        self.qtbot.waitUntil(self.view.score.isVisible, timeout=20_000)
        return path


@pytest.fixture
def trainer(qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Trainer:
    """Give a window with the worked exercise on file, its data in a folder of the test."""
    monkeypatch.setenv("LEADMARK_DATA", str(tmp_path))
    return Trainer(qtbot, tmp_path)


def words_of(table: QWidget) -> list[list[str]]:
    """Give a table's texts."""
    rows, columns = table.rowCount(), table.columnCount()  # type: ignore[attr-defined]
    return [
        [table.item(r, c).text() for c in range(columns)]  # type: ignore[attr-defined]
        for r in range(rows)
    ]


def test_a_scripted_trainee_gets_the_score_worked_out_by_hand(trainer: Trainer) -> None:
    """Twelve calls at known times give every figure of the score.

    The vehicle closes from 12 m at 0.1 m/s: marks 10, 5 and 2 at 20, 70 and 100 s, hands-off at
    102 s, contact at 120 s, soft capture at 121.4 s. Roll is off from 20 to 29.9 s (caution,
    cleared at 31 s), pitch from 60 to 79.9 s (warning, raised at 61 s, cleared at 81 s).

    A stop helps until 2.85 m (1.8 + 0.1 * 5.5 + 0.1^2 / 0.02), so until 91.5 s.

    Windows are 3 s before to 15 s after, so a trial is 18 s. The time before contact that no
    exceedance takes is 0-17 s (no whole trial), 35-57 s (one) and 81-120 s (two). The false
    calls at 45 and 85 s fall into the first and second: 2 of 2 signal, 2 of 3 noise trials.
    Log-linear rates 2.5/3 and 2.5/4 have z .96742 and .31864.
    """
    trainer.choose("worked.toml")
    trainer.start("ab")
    trainer.go(21.5)
    trainer.press("R")  # 10 m, 1.5 s late, at 9.85 m
    trainer.go(24.0)
    trainer.seen("seen:roll")  # 4 s after its onset
    trainer.go(45.0)
    trainer.seen("seen:closing_rate")  # nothing of the kind
    trainer.go(66.0)
    trainer.seen("seen:pitch_yaw")  # 6 s after its onset
    trainer.go(72.0)
    trainer.press("R")  # 5 m, 2 s late, at 4.80 m
    trainer.go(80.0)
    trainer.press("H", SHIFT)  # hold, 19 s after the warning, 11.5 s to spare
    trainer.go(85.0)
    trainer.seen("seen:pitch_yaw")  # it has cleared
    trainer.go(101.5)
    trainer.press("H")  # hands off, half a second early
    trainer.go(121.0)
    trainer.press("K")  # contact, 1 s late
    trainer.go(123.0)
    trainer.press("F")  # soft capture, 1.6 s late
    trainer.go(142.0)
    path = trainer.end()
    with open_recording(path) as recording:
        score = review(recording)

    assert (score.trainee, score.title, score.seed) == ("AB", "Worked by hand", 3)
    assert (score.hits, score.misses, score.false_alarms) == (8, 1, 2)
    delays = {one.event.subject: one.delay_s for one in score.events}
    expected = {
        "mark:10": 1.5, "seen:roll": 4.0, "seen:pitch_yaw": 6.0, "stop": 19.0, "mark:5": 2.0,
        "mark:2": None, "hands_off": -0.5, "contact": 1.0, "soft_capture": 1.6,
    }  # fmt: skip
    assert delays == pytest.approx(expected, abs=1e-3)
    assert [mark.range_m for mark in score.marks] == [10, 5, 2]
    assert pytest.approx([m.error_m for m in score.marks[:2]], abs=1e-3) == [-0.15, -0.20]
    assert score.marks[2].called_t is None
    assert (
        score.trials.hits, score.trials.misses,
        score.trials.false_alarms, score.trials.correct_rejections,
    ) == (2, 0, 2, 1)  # fmt: skip
    found = score.detection
    assert found is not None
    assert found.d_prime == pytest.approx(0.96742 - 0.31864, abs=2e-5)
    assert found.criterion == pytest.approx(-(0.96742 + 0.31864) / 2, abs=2e-5)
    seen, milestones = score.exceedance_delays, score.milestone_delays
    assert pytest.approx((seen.count, seen.missed, seen.median_s, seen.p90_s), abs=1e-3) == (
        2,
        0,
        5.0,
        5.8,
    )
    # -0.5 1.0 1.5 1.6 2.0: middle 1.5; position 3.6 of 0..4 is 1.6 + 0.6 * 0.4
    assert pytest.approx(
        (milestones.count, milestones.missed, milestones.median_s, milestones.p90_s), abs=1e-3
    ) == (5, 1, 1.5, 1.84)
    assert score.stop.verdict is StopVerdict.IN_TIME
    assert score.stop.until_t == pytest.approx(T0 + 91.5, abs=1e-3)
    assert score.stop.spare_s == pytest.approx(11.5, abs=1e-3)
    outcomes = [call.outcome for call in score.calls]
    assert outcomes.count(CallOutcome.HIT) == 8
    assert score.mean_mark_error_m == pytest.approx(0.175, abs=1e-3)
    assert math.isclose(score.t_begin, T0)

    shown = words_of(trainer.view.score.log)
    at_five = next(row for row in shown if row[1] == "5 metres")
    assert at_five[2:] == ["✓ hit", "+2.0", "4.80"]
    assert sum(row[2] == "▲ false alarm" for row in shown) == 2
    trainer.qtbot.keyClick(trainer.view.score.log, Qt.Key.Key_W)
    trainer.qtbot.keyClick(trainer.view.score.log, Qt.Key.Key_D)
    assert ([path], [path]) == (trainer.asked.passes, trainer.asked.debriefs)
