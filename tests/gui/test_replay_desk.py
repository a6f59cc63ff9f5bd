"""A shipped pass opened in the window: it plays, is exchanged, and leaves no thread."""

from __future__ import annotations

import shutil
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from console.app.desk import Builders, Desk
from console.app.replay_window import open_replay
from console.archive.shipped import shipped
from console.core.errors import InputError
from console.present.replay_port import Way
from console.window.watch_view import WatchView


class Said:
    """An opener that keeps what it is told."""

    def __init__(self) -> None:
        self.lines: list[str] = []

    def open_pass(self, path: Path, t: float | None = None) -> None:
        """Do nothing."""

    def open_debrief(self, path: Path) -> None:
        """Do nothing."""

    def say(self, text: str) -> None:
        """Keep it."""
        self.lines.append(text)


def threads() -> list[str]:
    """Give the names of the replays' threads."""
    return [t.name for t in threading.enumerate() if t.name == "replay"]


def until(holds: Callable[[], bool], within_s: float = 20.0) -> None:
    """Let the window work until something holds."""
    end = time.monotonic() + within_s
    while not holds() and time.monotonic() < end:
        QApplication.processEvents()
        time.sleep(0.005)
    assert holds()


@pytest.fixture
def table(tmp_path: Path) -> Path:
    """Give a copy of a shipped table."""
    return Path(shutil.copy(shipped("replay_data", "passes", "nominal_short.csv"), tmp_path))


def test_pass_opens_plays_and_ends(qtbot: QtBot, table: Path) -> None:
    """It says what it opened, stands where it was told to, plays, and its thread ends with it."""
    opener = Said()
    view, session = open_replay(table, opener, overlay=table)
    qtbot.addWidget(view)
    view.resize(1280, 720)
    view.show()
    assert opener.lines == ["nominal_short.csv is open in Watch"]
    until(lambda: session.replay().is_read and session.overlay() is not None)
    session.go_to_words("5 m")
    until(lambda: 4.9 < (session.replay().range_m or 0.0) <= 5.0)
    shows = view.replay.bar
    until(lambda: shows.view is not None and shows.view.range_m in ("4.99 m", "5.00 m"))
    stood = session.replay().t
    session.change_speed(Way.ON)
    session.toggle()
    until(lambda: session.replay().t > stood + 0.5)
    until(lambda: view.status.view is not None and "Replay 2×" in view.status.view.spoken)
    assert threads() == ["replay"]
    view.close()
    assert threads() == []
    assert session.failure is None


def test_desk_exchanges_one_pass_for_another(qtbot: QtBot, table: Path, tmp_path: Path) -> None:
    """Opened from another view it is in Watch; the next one takes its place and its thread."""

    def nothing(*_: object) -> QWidget:
        raise InputError.of("x", "", "not built here", "")

    def replay(path: Path, t: float | None, opener: object) -> QWidget:
        return open_replay(path, opener, at=t)[0]  # type: ignore[arg-type]

    first, session = open_replay(table)
    at = session.replay().t_first + 12.0
    first.close()
    desk = Desk(
        Builders(
            watch=lambda opener: replay(table, None, opener),
            replay=replay, rehearse=nothing, bench=nothing, debrief=nothing,
        )
    )  # fmt: skip
    qtbot.addWidget(desk.window)
    desk.window.show()
    until(lambda: threads() == ["replay"])
    desk.open_pass(table, at)
    view = next(slot.view for slot in desk.slots.values() if slot.view is not None)
    assert isinstance(view, WatchView)
    until(lambda: view.replay.bar.view is not None and "0:12 of" in view.replay.bar.view.elapsed)
    assert threads() == ["replay"]
    desk.open_pass(tmp_path / "none.csv")
    assert "no such file" in desk.window.said.text()
    assert threads() == ["replay"]
    desk.window.close()
    until(lambda: threads() == [])
