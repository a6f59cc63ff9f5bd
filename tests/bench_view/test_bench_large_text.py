"""The bench at large text in a small window: the curve keeps a height, the rest scrolls."""

from __future__ import annotations

import pytest
from bench_view_tools import bench_on, settle
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from console.window.bench_view import BenchView
from console.window.main_window import MainWindow


def opened(qtbot: QtBot, size: tuple[int, int], text_size: float) -> tuple[MainWindow, BenchView]:
    """Show a bench in a window of its own."""
    view = bench_on(6)
    window = MainWindow((view,), title="Test")
    qtbot.addWidget(window)
    window.resize(*size)
    window.show()
    window.activateWindow()
    window.set_text_size(text_size)
    settle(view)
    return window, view


@pytest.mark.parametrize("text_size", [1.0, 1.25, 1.5, 1.75, 2.0])
@pytest.mark.parametrize("size", [(1280, 720), (1600, 900)])
def test_the_curve_keeps_a_height_to_work_in(
    qtbot: QtBot, size: tuple[int, int], text_size: float
) -> None:
    """At every text size it has a fifth of the window's height, between its axes."""
    _, view = opened(qtbot, size, text_size)
    view.grab()
    assert view.curve.layout_now.plot.height >= 0.2 * size[1]


def in_sight(part: QWidget, view: BenchView) -> bool:
    """Tell whether the upper left corner of a part can be seen."""
    there = view.childAt(part.mapTo(view, QPoint(2, 2)))
    return there is part or part.isAncestorOf(there)


def test_what_does_not_fit_is_whole_and_scrolls_to_the_keyboard(qtbot: QtBot) -> None:
    """No row of the summary is cut, no part is left out; Tab goes through all and shows each."""
    window, view = opened(qtbot, (1280, 720), 2.0)
    window.grab()
    assert view.summary.height() >= view.summary.natural_height(view.summary.width())
    assert [drawn.wanted for drawn in view.summary.drawn if drawn.is_cut] == []
    parts = [view.curve, view.summary, view.table, view.sweep, view.delays]
    view.curve.setFocus()
    seen = []
    for _ in range(12):
        now = QApplication.focusWidget()
        if now in parts and now not in seen:
            seen.append(now)
            assert in_sight(now, view)
            assert in_sight(view.curve, view)
        QTest.keyClick(now, Qt.Key.Key_Tab)
    assert seen == parts
    view.summary.setFocus()
    before = view.summary.mapTo(view, QPoint(0, 0)).y()
    QTest.keyClick(view.summary, Qt.Key.Key_PageDown)
    assert view.summary.mapTo(view, QPoint(0, 0)).y() < before


def test_the_parts_go_back_beside_each_other(qtbot: QtBot) -> None:
    """With smaller text again nothing scrolls."""
    window, view = opened(qtbot, (1600, 900), 2.0)
    window.set_text_size(1.0)
    window.grab()
    parts = (view.curve, view.summary, view.table, view.sweep, view.delays)
    assert all(part.parent() is view and part.isVisible() for part in parts)
    shapes = [part.geometry() for part in parts]
    assert not any(a.intersects(b) for n, a in enumerate(shapes) for b in shapes[:n])


@pytest.mark.parametrize("part", ["summary", "table", "sweep"])
def test_the_keyboard_stays_where_it_is_as_parts_move(qtbot: QtBot, part: str) -> None:
    """Into the column that scrolls and out of it again; what has it there is in sight."""
    window, view = opened(qtbot, (1280, 720), 1.0)
    held: QWidget = getattr(view, part)
    held.setFocus()
    for text_size in (2.0, 1.0):
        window.set_text_size(text_size)
        window.grab()
        assert QApplication.focusWidget() is held
        assert in_sight(held, view)


def test_the_keyboard_goes_to_the_table_from_a_part_that_is_left_out(qtbot: QtBot) -> None:
    """The sweep has no place between wide and narrow."""
    window, view = opened(qtbot, (1280, 720), 2.0)
    view.sweep.setFocus()
    window.set_text_size(1.25)
    window.grab()
    assert not view.sweep.isVisible()
    assert QApplication.focusWidget() is view.table


def test_a_pass_s_name_stands_whole_in_a_small_window(qtbot: QtBot) -> None:
    """At 1280 by 720 the table has the room for it."""
    _, view = opened(qtbot, (1280, 720), 1.0)
    shown = view.table.passes.data(view.table.passes.index(0, 0))
    needed = view.table.fontMetrics().horizontalAdvance(shown)
    assert view.table.columnWidth(0) > needed
