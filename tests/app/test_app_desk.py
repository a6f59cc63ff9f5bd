"""The real window: a live watch, a replay or the bench in front, and the other views behind."""

from __future__ import annotations

from pathlib import Path

import pytest
from fakes.port import FakePort
from fakes.snapshots import nominal
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from console.app.at_hand import shipped_passes
from console.app.desk import Desk, Tab
from console.app.desk_build import Texts, bench_desk, live_desk, replay_desk
from console.app.replay_window import open_replay
from console.archive.places import DATA_VARIABLE
from console.present.theme import DARK
from console.window.application import application
from console.window.refusal_page import RefusalPage
from console.window.start_page import StartPage
from console.window.watch_view import WatchView

CONTROL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture(autouse=True)
def _own_data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path / "data"))
    application()


def shown(qtbot: QtBot, desk: Desk) -> Desk:
    """Show a desk's window; it is closed at the end."""
    qtbot.addWidget(desk.window)
    desk.window.show()
    desk.window.activateWindow()
    QApplication.processEvents()
    return desk


def one(name: str) -> Path:
    """Give a shipped pass."""
    return next(path for path in shipped_passes() if path.name == name)


def test_every_view_opens_behind_a_live_watch_that_goes_on(qtbot: QtBot) -> None:
    """All four by key; none is a refusal; the watch is asked for snapshots all the while."""
    desk = shown(qtbot, live_desk(FakePort(nominal()), texts=Texts()))
    for key, tab in zip("1234", Tab, strict=True):
        qtbot.keyClick(desk.window, key, CONTROL)
        view = desk.slots[tab].view
        assert view is not None, tab
        assert not isinstance(view, RefusalPage), tab
    watch = desk.slots[Tab.WATCH].view
    assert isinstance(watch, WatchView)
    assert watch.bridge.is_running
    desk.window.close()
    assert not watch.bridge.is_running


def test_a_pass_opens_beside_a_replay_in_its_place(qtbot: QtBot) -> None:
    """The one before ends; the new one stands where it was asked for."""
    view, session = open_replay(one("nominal_short.csv"))
    desk = shown(qtbot, replay_desk(view, texts=Texts(), theme=DARK, title="Leadmark"))
    t = session.replay().t_first + 5.0
    with qtbot.waitSignal(view.closed):
        desk.open_pass(one("frozen_optical.csv"))
    new = desk.slots[Tab.WATCH].view
    assert isinstance(new, WatchView)
    assert new is not view
    desk.open_pass(one("nominal_short.csv"), t)
    again = desk.slots[Tab.WATCH].view
    assert isinstance(again, WatchView)
    qtbot.waitUntil(lambda: _stands_at(again) == pytest.approx(t, abs=0.2), timeout=20_000)
    desk.window.close()


def test_the_bench_in_front_offers_passes_in_watch(qtbot: QtBot) -> None:
    """Broken limits are said in the bench's place, and the shipped passes are offered."""

    def refuse(_: object) -> RefusalPage:
        return RefusalPage("Bench", "limits.toml: not TOML")

    desk = shown(qtbot, bench_desk(refuse, texts=Texts(), theme=DARK, title="Leadmark"))
    assert desk.window.tabs.currentIndex() == 2
    qtbot.keyClick(desk.window, Qt.Key.Key_1, CONTROL)
    page = desk.slots[Tab.WATCH].view
    assert isinstance(page, StartPage)
    assert page.list.count() == len(shipped_passes()) >= 8


def _stands_at(view: WatchView) -> float | None:
    assert view.replay is not None
    snapshot = view.bridge.watched().snapshot
    return None if snapshot is None else snapshot.t
