"""A scripted trainee through the real window, scored against what is worked out by hand."""

from __future__ import annotations

import math
import threading
from dataclasses import dataclass
from pathlib import Path

import pytest
from fakes.rehearsals import T0, write_worked
from PySide6.QtCore import Qt
from PySide6.QtGui import QPalette, QShortcut
from PySide6.QtWidgets import (
    QApplication,
    QComboBox,
    QLabel,
    QLineEdit,
    QScrollArea,
    QWidget,
)
from pytestqt.qtbot import QtBot

from console import CAUTION_TEXT
from console.app import rehearse
from console.app.rehearse import ExerciseDesk, rehearse_view
from console.app.rehearse_run import Rehearsal
from console.archive.places import recordings_folder
from console.archive.recording import open_recording
from console.present.theme import DARK, LIGHT
from console.rehearsal.matching import CallOutcome
from console.rehearsal.review import review
from console.rehearsal.score import StopVerdict
from console.window import rehearse_watch
from console.window.arrangement import Arrangement
from console.window.keys import WATCH_KEYS, WINDOW_KEYS
from console.window.main_window import MainWindow
from console.window.rehearse_view import RehearseView
from console.window.rehearse_watch import TraineeWatch

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


def under_way(trainer: Trainer) -> None:
    """Choose the worked exercise, start it, and let five seconds of it pass."""
    trainer.choose("worked.toml")
    trainer.start("ab")
    trainer.go(5.0)
    assert trainer.view.watch is not None
    trainer.view.watch.view.bridge.take()


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


def test_the_page_asks_for_initials_first(trainer: Trainer) -> None:
    """Without them nothing starts, and the line says what is wanted."""
    order = trainer.view.order
    trainer.qtbot.keyClick(order.name, Qt.Key.Key_Return, CONTROL)
    assert "initials" in order.said.text()
    assert trainer.window.focusWidget() is order.initials
    assert trainer.view.watch is None


def test_a_refused_exercise_is_told_and_can_be_mended(trainer: Trainer) -> None:
    """The line names the key; the page stays, and starts once it is mended."""
    trainer.choose("worked.toml")
    order = trainer.view.order
    order.numbers["seed"].setText("many")
    trainer.qtbot.keyClicks(order.initials, "ab")
    trainer.qtbot.keyClick(order.initials, Qt.Key.Key_Return, CONTROL)
    trainer.qtbot.waitUntil(lambda: "!" in order.said.text(), timeout=10_000)
    assert "seed: found" in order.said.text()
    assert trainer.view.watch is None
    order.numbers["seed"].setText("3")
    trainer.qtbot.keyClick(order.initials, Qt.Key.Key_Return, CONTROL)
    trainer.qtbot.waitUntil(lambda: trainer.view.watch is not None, timeout=10_000)


def test_any_failure_is_told_and_leaves_the_page_usable(
    trainer: Trainer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A full disk while a run is made ready is one line, and Start works again."""
    order = trainer.view.order
    trainer.choose("worked.toml")
    trainer.qtbot.keyClicks(order.initials, "ab")

    def full(_desk: ExerciseDesk) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(ExerciseDesk, "_ground", full)
        trainer.qtbot.keyClick(order.initials, Qt.Key.Key_Return, CONTROL)
        trainer.qtbot.waitUntil(lambda: "No space left" in order.said.text(), timeout=5_000)
    assert order.start.isEnabled()
    trainer.qtbot.keyClick(order.initials, Qt.Key.Key_Return, CONTROL)
    trainer.qtbot.waitUntil(lambda: trainer.view.watch is not None, timeout=10_000)


@pytest.mark.parametrize("where", [Rehearsal, TraineeWatch])
def test_a_run_that_fails_as_it_begins_is_ended(
    trainer: Trainer, monkeypatch: pytest.MonkeyPatch, where: type
) -> None:
    """What ran already is stopped and its recording closed; one line tells, Start works again."""
    order = trainer.view.order
    trainer.choose("worked.toml")
    trainer.qtbot.keyClicks(order.initials, "ab")
    name = "start" if where is Rehearsal else "apply_theme"
    real = getattr(where, name)

    def breaks(*words: object) -> None:
        real(*words)
        raise RuntimeError("no more of something")

    with monkeypatch.context() as patch:
        patch.setattr(where, name, breaks)
        trainer.qtbot.keyClick(order.initials, Qt.Key.Key_Return, CONTROL)
        trainer.qtbot.waitUntil(lambda: "no more of" in order.said.text(), timeout=10_000)
    assert order.said.text() == "! RuntimeError: no more of something"
    assert {"engine", "receive"}.isdisjoint(one.name for one in threading.enumerate())
    (path,) = recordings_folder().glob("*.leadmark")
    with open_recording(path) as recording:
        assert recording.was_closed
    trainer.qtbot.keyClick(order.initials, Qt.Key.Key_Return, CONTROL)
    trainer.qtbot.waitUntil(lambda: trainer.view.watch is not None, timeout=10_000)


def test_faults_are_added_typed_and_removed_by_keys(trainer: Trainer) -> None:
    """Insert adds a row, a word is chosen or typed in a cell, Delete removes the row."""
    table = trainer.view.order.faults
    table.setFocus()
    for _ in range(2):
        trainer.qtbot.keyClick(table, Qt.Key.Key_Insert)
    table.setCurrentCell(0, 0)
    trainer.qtbot.keyClick(table, Qt.Key.Key_F2)
    editor = table.findChild(QComboBox)
    assert editor is not None
    assert "thruster_stuck" in [editor.itemText(i) for i in range(editor.count())]
    editor.setCurrentText("thruster_stuck")
    trainer.qtbot.keyClick(editor, Qt.Key.Key_Return)
    trainer.qtbot.waitUntil(lambda: table.faults()[0][0] == "thruster_stuck", timeout=2_000)
    table.setCurrentCell(0, 5)
    trainer.qtbot.keyClicks(table, "0")
    field = table.findChild(QLineEdit)
    assert field is not None
    trainer.qtbot.keyClicks(field, ".02")
    trainer.qtbot.keyClick(field, Qt.Key.Key_Return, CONTROL)  # wants to start: takes the cell
    assert table.faults()[0][5] == "0.02"
    assert "initials" in trainer.view.order.said.text()
    table.setFocus()
    table.setCurrentCell(0, 0)
    about = trainer.view.order.about_fault.text()
    assert "size in m/s²; value (needed): range_m, y_m, z_m" in about
    table.setCurrentCell(1, 0)
    trainer.qtbot.keyClick(table, Qt.Key.Key_Delete)
    assert len(table.faults()) == 1


def test_an_exercise_is_saved_by_a_key(trainer: Trainer) -> None:
    """Ctrl+S writes it and offers it from then on."""
    trainer.choose("worked.toml")
    order = trainer.view.order
    order.name.setText("My own")
    trainer.qtbot.keyClick(order.name, Qt.Key.Key_S, CONTROL)
    assert order.said.text().startswith("Saved as ")
    assert "my_own.toml" in [order.exercise.itemText(i) for i in range(order.exercise.count())]
    assert order.name.text() == "My own"


@pytest.mark.parametrize("size", [(1280, 720), (1600, 900)], ids=str)
def test_the_trainee_sees_the_keys_and_what_is_hidden(
    trainer: Trainer, size: tuple[int, int]
) -> None:
    """A covered panel says so, the row names every key uncut, the exceedances tell nothing."""
    trainer.window.resize(*size)
    under_way(trainer)
    watch = trainer.view.watch
    assert watch is not None
    trainer.window.grab()
    cover = watch.view.exceedances.findChild(QLabel)
    assert cover is not None
    assert cover.isVisible()
    assert cover.size() == watch.view.exceedances.size()
    assert "hidden" in watch.view.exceedances.accessibleName()
    said = watch.row.accessibleDescription()
    for words in ("R: 10 m mark", "Shift+H: hold", "0: data at fault", "Hidden: exceedances"):
        assert words in said
    assert [drawn.wanted for drawn in watch.row.drawn if drawn.is_cut] == []
    shown = " ".join(drawn.wanted for drawn in watch.view.status.drawn)
    assert "Rehearsal" in shown
    assert "worked" not in shown.lower()


def test_the_trainee_s_watch_does_not_scroll_in_a_small_window(trainer: Trainer) -> None:
    """At 1280 by 720, less a window's frame and the tabs, the lanes stay in sight."""
    trainer.window.resize(1280, 720 - 19 - 29)
    under_way(trainer)
    assert trainer.view.watch is not None
    assert trainer.view.watch.view.arrangement is Arrangement.SHORT


def test_the_mark_to_call_is_chosen_by_the_brackets(trainer: Trainer) -> None:
    """R calls the mark shown and goes on; [ goes back; after the last there is none."""
    under_way(trainer)
    watch = trainer.view.watch
    assert watch is not None
    seen = []
    for key in ("R", "[", "]", "]", "]", "R"):
        trainer.press(key)
        seen.append(watch.marks.range_m)
    assert seen == [5, 10, 5, 2, None, None]
    assert "no range mark is left" in watch.view.entry.message


def test_no_key_of_the_trainee_is_one_of_the_watch(trainer: Trainer) -> None:
    """Two shortcuts of one key would answer to neither."""
    under_way(trainer)
    watch = trainer.view.watch
    assert watch is not None
    own = [s.key().toString() for s in watch.findChildren(QShortcut) if s.parent() is watch]
    taken = {sequence for key in (*WATCH_KEYS, *WINDOW_KEYS) for sequence in key.sequences}
    assert len(own) == len(set(own)) >= 9
    assert not taken & set(own)


def test_a_run_made_ready_and_never_wanted_closes_its_recording(trainer: Trainer) -> None:
    """The window is closed while the approach is made ready: nothing is left open."""
    trainer.choose("worked.toml")
    trainer.qtbot.keyClicks(trainer.view.order.initials, "ab")
    trainer.view.order.want_start()
    trainer.window.close()
    for path in recordings_folder().glob("*.leadmark"):
        with open_recording(path) as recording:
            assert recording.was_closed


def test_while_another_view_is_looked_at_the_run_goes_on(trainer: Trainer) -> None:
    """Hidden, the view asks for nothing; shown again, it has what came meanwhile."""
    under_way(trainer)
    watch = trainer.view.watch
    assert watch is not None
    trainer.view.hide()
    assert not watch.view.bridge.is_running
    trainer.go(9.0)
    trainer.go(9.5)
    trainer.view.show()
    assert watch.view.bridge.is_running

    def is_newer() -> bool:
        snapshot = watch.running.port.snapshot()
        return snapshot is not None and snapshot.t > T0 + 8.0

    trainer.qtbot.waitUntil(is_newer, timeout=5_000)


def test_closing_the_window_ends_the_run_and_keeps_its_recording(trainer: Trainer) -> None:
    """What was recorded so far is a whole file that can be reviewed."""
    under_way(trainer)
    assert trainer.view.watch is not None
    path = trainer.view.watch.running.path  # type: ignore[attr-defined]
    trainer.window.close()
    with open_recording(path) as recording:
        assert recording.was_closed
        assert review(recording).trainee == "AB"


def test_closing_the_window_does_not_wait_for_the_score(
    trainer: Trainer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is worked out behind its back and nobody misses it; the recording is whole."""
    begun, go_on, over = threading.Event(), threading.Event(), threading.Event()

    def slow(path: Path, _is_unwanted: object) -> None:
        begun.set()
        go_on.wait(20.0)
        over.set()

    monkeypatch.setattr(rehearse, "reviewed", slow)
    under_way(trainer)
    assert trainer.view.watch is not None
    path = trainer.view.watch.running.path  # type: ignore[attr-defined]
    trainer.view.end_run()
    assert begun.wait(10.0)
    try:
        trainer.window.close()
        assert not over.is_set()
        assert not trainer.window.isVisible()
        with open_recording(path) as recording:
            assert recording.was_closed
    finally:
        go_on.set()
    assert over.wait(10.0)


def test_a_run_that_is_over_is_scored_by_itself(
    trainer: Trainer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After the last message the score comes without a key; N leads back to the page."""
    monkeypatch.setattr(rehearse_watch, "LINGERS_S", 0.0)
    under_way(trainer)
    trainer.clock.now_s = T0 + 142.0
    trainer.qtbot.waitUntil(trainer.view.score.isVisible, timeout=20_000)
    trainer.qtbot.keyClick(trainer.view.score.log, Qt.Key.Key_N)
    assert trainer.view.order.isVisible()
    assert trainer.view.order.start.isEnabled()
    assert trainer.view.order.name.text() == "Worked by hand"


def test_earlier_runs_stand_beside_the_new_one(trainer: Trainer) -> None:
    """A second run of another trainee: both in the table, the new one marked."""
    for initials in ("ab", "cd"):
        trainer.clock.now_s = T0
        trainer.view.order.initials.clear()
        trainer.choose("worked.toml")
        trainer.start(initials)
        trainer.go(60.0)
        trainer.end()
        trainer.qtbot.keyClick(trainer.view.score.log, Qt.Key.Key_N)
    runs = words_of(trainer.view.score.runs)
    assert sorted(row[1] for row in runs) == ["AB", "CD"]
    assert [row[1] for row in runs if row[0].startswith("▸")] == ["CD"]
    assert [row[0] for row in words_of(trainer.view.score.people)] == ["AB", "CD"]


def test_both_themes_and_a_large_text_dress_every_page(trainer: Trainer) -> None:
    """Nothing is left in the other theme's colours, and fonts grow."""
    for theme, scale in ((LIGHT, 1.0), (DARK, 1.5)):
        trainer.view.apply_theme(theme, scale)
        assert theme.panel in trainer.view.score.log.styleSheet()
        assert theme.panel in trainer.view.order.faults.styleSheet()
    assert trainer.view.order.name.font().pixelSize() == 20
    assert CAUTION_TEXT == trainer.view.order.caution.text() == trainer.view.score.caution.text()


@pytest.mark.parametrize("scale", [0.92, 1.0, 2.0])
def test_every_page_fits_a_small_window_at_any_text_size(trainer: Trainer, scale: float) -> None:
    """No page asks for more than 1280 by 720; what does not fit scrolls."""
    under_way(trainer)
    trainer.view.apply_theme(DARK, scale)
    for page in (trainer.view.order, trainer.view.score, trainer.view.watch):
        assert page is not None
        least = page.minimumSizeHint()
        assert least.width() <= 1280
        assert least.height() <= 720


@pytest.mark.parametrize("size", [(1280, 720), (1600, 900)], ids=str)
@pytest.mark.parametrize("text_size", [1.0, 1.5, 2.0])
def test_the_page_scrolls_one_way_only(
    qtbot: QtBot, tmp_path: Path, size: tuple[int, int], text_size: float
) -> None:
    """WCAG 2.2, 1.4.4 and 1.4.10: text twice as large needs no scrolling sideways."""
    trainer = Trainer(qtbot, tmp_path)
    trainer.window.resize(*size)
    trainer.window.set_text_size(text_size)
    for _ in range(3):
        QApplication.processEvents()
    scroll = trainer.view.order.findChild(QScrollArea)
    assert isinstance(scroll, QScrollArea)
    assert scroll.horizontalScrollBar().maximum() == 0
    for field in trainer.view.order.findChildren(QLineEdit):
        shown = field.palette().color(QPalette.ColorRole.PlaceholderText)
        assert shown.name() == DARK.text_quiet
        assert shown.alpha() == 255
