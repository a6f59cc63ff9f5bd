"""What a screen reader is told on the bench, and that everything there can be reached by keys."""

from __future__ import annotations

from bench_view_tools import bench_on, settle
from fakes.accessible import bound_keys, controls, faults, interface, reached_by_tab, told_keys
from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from console.window.main_window import MainWindow

OTHERWISE = {"Ctrl+=", "?", "Ins", "Ctrl+Shift+Z", "Ctrl+S"}
"""Other keys for the same: the sheet tells two at most."""


def test_the_bench_by_ear_and_by_keys(qtbot: QtBot) -> None:
    """Names and values; Tab comes round; F1 tells every key, F2 opens the manual, Esc closes."""
    view = bench_on(6)
    window = MainWindow((view,), title="Test")
    qtbot.addWidget(window)
    window.resize(1600, 900)
    window.show()
    window.activateWindow()
    settle(view)
    assert faults(view) == []
    missed = set(controls(view)) - reached_by_tab(view) - {view}
    assert [interface(one).text(QAccessible.Text.Name) for one in missed] == []
    before = QApplication.focusWidget()
    QTest.keyClick(before, Qt.Key.Key_F1)
    assert view.sheet.isVisible()
    assert bound_keys(view) - told_keys(view) <= OTHERWISE
    QTest.keyClick(before, Qt.Key.Key_Escape)
    assert not view.sheet.isVisible()
    QTest.keyClick(before, Qt.Key.Key_F2)
    assert view.manual.isAncestorOf(QApplication.focusWidget())
    assert view.manual.text.toPlainText()
    QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_Escape)
    assert view.manual.isHidden()
    assert QApplication.focusWidget() is before
    view.entry.grab()
    assert {"F1", "F2"} <= {drawn.shown for drawn in view.entry.drawn}


def test_the_headline_is_whole_at_larger_text(qtbot: QtBot) -> None:
    """It takes a second line before a word of it is cut."""
    view = bench_on(6)
    window = MainWindow((view,), title="Test")
    qtbot.addWidget(window)
    window.show()
    for size in ((1280, 720), (1600, 900)):
        for text_size in (1.0, 1.5, 2.0):
            window.resize(*size)
            window.set_text_size(text_size)
            settle(view)
            view.headline.grab()
            assert [drawn.wanted for drawn in view.headline.drawn if drawn.is_cut] == []
            assert view.headline.rect().contains(view.headline.choice.geometry())
