"""What a screen reader is told in every view, and that everything can be reached by keys."""

from __future__ import annotations

from pathlib import Path

import pytest
from fakes.accessible import bound_keys, controls, faults, interface, reached_by_tab, told_keys
from fakes.port import FakePort
from fakes.rehearsals import write_worked
from fakes.snapshots import nominal
from fakes.worst import worst_snapshot, worst_status
from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible
from PySide6.QtWidgets import QApplication, QLabel, QWidget
from pytestqt.qtbot import QtBot
from test_panels import overlaps

from console.app.debrief import debrief_view
from console.app.rehearse import rehearse_view
from console.window.main_window import MainWindow
from console.window.panels.entry import EntryLine
from console.window.panels.manual import ManualReader
from console.window.panels.sheet import KeySheet
from console.window.start_page import StartPage
from console.window.watch_view import WatchView


class Nothing:
    """An opener nobody asks."""

    def open_pass(self, path: Path, t: float | None = None) -> None:
        """Open nothing."""

    def open_debrief(self, path: Path) -> None:
        """Open nothing."""

    def say(self, text: str) -> None:
        """Say nothing."""


def watch(folder: Path) -> QWidget:
    """Make the Watch view on a situation."""
    view = WatchView(FakePort(nominal()))
    view.bridge.take()
    return view


def start(folder: Path) -> QWidget:
    """Make the page of a Watch without a pass."""
    return StartPage([folder / "a.leadmark", folder / "b.csv"], lambda path: None)


def rehearse(folder: Path) -> QWidget:
    """Make the trainer's page."""
    limits, _ = write_worked(folder / "exercises")
    return rehearse_view(Nothing(), limits=limits)


def score(folder: Path) -> QWidget:
    """Make the Rehearse view with its score page in front."""
    view = rehearse(folder)
    view._show(view.score)
    return view


def debrief(folder: Path) -> QWidget:
    """Make the Debrief view, nothing opened."""
    return debrief_view(Nothing(), None)


SPELT_OTHERWISE = {"Ctrl+Enter", "Ctrl+=", "?"}
"""Other keys for the same, left off the sheet for room."""

VIEWS = {"Watch": watch, "Start": start, "Rehearse": rehearse, "Score": score, "Debrief": debrief}


@pytest.fixture(params=VIEWS)
def view(request: pytest.FixtureRequest, qtbot: QtBot, tmp_path: Path) -> QWidget:
    """Give each view, shown in a window."""
    made = VIEWS[request.param](tmp_path)
    window = MainWindow((made,), title="Test")
    qtbot.addWidget(window)
    window.resize(1600, 900)
    window.show()
    window.activateWindow()
    QApplication.processEvents()
    return made


def test_every_control_tells_its_name_and_value(view):
    """Name, role and value of everything that takes the keyboard."""
    assert list(controls(view))
    assert faults(view) == []


def test_tab_reaches_every_control(view):
    """No control is for the mouse alone, and Tab comes round."""
    missed = set(controls(view)) - reached_by_tab(view) - {view}
    assert [interface(one).text(QAccessible.Text.Name) for one in missed] == []


def test_one_key_shows_every_key(view, qtbot):
    """F1 lays the sheet over the view; each key that does something there is on it; Esc closes."""
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_F1)
    sheet = next(part for part in view.findChildren(KeySheet) if part.isVisible())
    assert bound_keys(view) - told_keys(view) <= SPELT_OTHERWISE
    sheet.grab()
    assert [drawn.shown for drawn in sheet.drawn if drawn.is_cut] == []
    assert view.rect().contains(sheet.rect().translated(sheet.mapTo(view, sheet.rect().topLeft())))
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Escape)
    assert not sheet.isVisible()


def test_one_key_opens_the_manual(view, qtbot):
    """F2 opens it with the keyboard in it; again, or Esc, gives the keyboard back."""
    before = QApplication.focusWidget()
    for closing in (Qt.Key.Key_F2, Qt.Key.Key_Escape):
        qtbot.keyClick(before, Qt.Key.Key_F2)
        manual = next(part for part in view.findChildren(ManualReader) if part.isVisible())
        assert manual.isAncestorOf(QApplication.focusWidget())
        assert manual.text.toPlainText()
        page = manual.parentWidget()
        beside = page.width() - manual.width()
        assert beside == 0 or manual.width() <= 0.6 * page.width()  # no rim of half words
        qtbot.keyClick(QApplication.focusWidget(), closing)
        assert not manual.isVisible()
        assert QApplication.focusWidget() is before


def test_the_foot_names_both(view):
    """Who knows no key finds the two that tell the rest at the foot of the view."""
    view.window().resize(1280, 720)
    QApplication.processEvents()
    words = [label.text() for label in view.findChildren(QLabel) if label.isVisible()]
    for entry in view.findChildren(EntryLine):
        entry.grab()
        words += [drawn.shown for drawn in entry.drawn]
    foot = " ".join(words)
    assert "F1 keys" in foot
    assert "F2 manual" in foot


@pytest.mark.parametrize("size", [(1280, 720), (1600, 900)], ids=str)
def test_the_sheet_has_every_key_at_twice_the_text(view, qtbot, size):
    """Page by page with F1, each key once, nothing cut or over an edge; then it is gone."""
    view.window().resize(*size)
    view.window().set_text_size(2.0)
    QApplication.processEvents()
    sheets = view.findChildren(KeySheet)
    told: list[str] = []
    wanted: list[str] = []
    for _ in range(20):
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_F1)
        shown = [sheet for sheet in sheets if sheet.isVisible()]
        if not shown:
            break
        (sheet,) = shown
        sheet.grab()
        inside = sheet.rect().toRectF()
        assert view.rect().contains(sheet.geometry())
        assert all(inside.contains(drawn.box) and not drawn.is_cut for drawn in sheet.drawn)
        wanted = [words for row in sheet._rows for words in row]
        told += [drawn.shown for drawn in sheet.drawn[1:]]
    assert told
    assert told == wanted


@pytest.mark.parametrize("text_size", [1.0, 1.25, 1.5, 1.75, 2.0])
@pytest.mark.parametrize("size", [(1280, 720), (1600, 900)], ids=str)
def test_watch_cuts_nothing_at_larger_text(qtbot, size, text_size):
    """The longest texts there are, in every panel: none cut, none on another."""
    view = WatchView(FakePort(worst_snapshot(), now=worst_status()))
    window = MainWindow((view,), title="Test")
    qtbot.addWidget(window)
    window.resize(*size)
    window.show()
    window.set_text_size(text_size)
    view.bridge.take()
    QApplication.processEvents()
    for panel in view.panels:
        panel.grab()
        assert [drawn.wanted for drawn in panel.drawn if drawn.is_cut] == [], panel.title
        assert overlaps(panel.drawn) == [], panel.title
