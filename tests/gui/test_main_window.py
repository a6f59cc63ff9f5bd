"""The main window: views by key, theme, text size, closing."""

from __future__ import annotations

import inspect
from pathlib import Path

import pytest
from fakes.port import FakePort
from fakes.snapshots import nominal
from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QImage, QPalette
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from console.present.theme import DARK, LIGHT, Theme
from console.window.application import application, render
from console.window.keys import REPLAY_KEYS, WATCH_KEYS, WINDOW_KEYS, Intent, sheet_rows
from console.window.main_window import TEXT_STEPS, MainWindow, scale_of
from console.window.palette import THEMES, next_theme, palette_of
from console.window.run import run_window, watch_window
from console.window.view_slot import ViewSlot


class Blank(QWidget):
    """A view that keeps what it was told."""

    def __init__(self, title: str) -> None:
        super().__init__()
        self.title = title
        self.told: list[tuple[str, float]] = []
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Keep it."""
        self.told.append((theme.name, scale))


def opened(qtbot: QtBot, *titles: str) -> tuple[MainWindow, list[Blank]]:
    """Give a shown window of blank views."""
    application()
    views = [Blank(title) for title in titles]
    window = MainWindow(views, title="Leadmark")
    qtbot.addWidget(window)
    window.show()
    window.activateWindow()
    views[0].setFocus()
    QApplication.processEvents()
    return window, views


def test_a_single_view_has_no_tabs(qtbot: QtBot) -> None:
    """Tabs appear with the second view."""
    one, _ = opened(qtbot, "Watch")
    assert not one.tabs.isVisible()
    two, _ = opened(qtbot, "Watch", "Bench")
    assert two.tabs.isVisible()
    assert [two.tabs.tabText(i) for i in range(2)] == ["Watch", "Bench"]


@pytest.mark.parametrize(
    ("room", "fills"), [((1600, 900), True), ((1280, 720), True), ((1920, 1080), False)]
)
def test_the_foot_of_the_window_is_never_off_the_screen(
    qtbot: QtBot, room: tuple[int, int], fills: bool
) -> None:
    """Where size and frame do not fit it fills the screen: its foot says it advises only."""
    application()
    window = MainWindow([Blank("Watch")], title="Pass")
    qtbot.addWidget(window)
    window.show_within(QSize(*room))
    assert window.isVisible()
    assert window.isMaximized() is fills
    normal = window.normalGeometry() if fills else window.geometry()
    assert normal.width() <= room[0]
    assert normal.height() <= room[1]


class Draft(Blank):
    """A view whose work is not saved."""

    def unsaved(self) -> str:
        """Say so."""
        return "The draft is not saved."


def test_closing_once_does_not_lose_a_draft(qtbot: QtBot) -> None:
    """The first wish shows the view and says what would be lost; the second is followed."""
    application()
    closed: list[bool] = []
    views = [Blank("Watch"), ViewSlot("Bench", lambda: Draft("Bench"))]
    window = MainWindow(views, title="x", on_close=lambda: closed.append(True))
    qtbot.addWidget(window)
    window.show()
    window.show_view("Bench")
    window.show_view("Watch")
    QApplication.processEvents()
    assert not window.close()
    assert window.isVisible()
    assert window.tabs.currentIndex() == 1
    assert window.said.text() == "The draft is not saved. Close again to leave without it."
    assert not closed
    assert window.close()
    assert closed == [True]


def test_a_wish_to_close_is_forgotten_with_its_line(qtbot: QtBot) -> None:
    """Who went on working after the warning is warned again."""
    application()
    window = MainWindow([Draft("Bench")], title="x")
    qtbot.addWidget(window)
    window.show()
    assert not window.close()
    window.said.say("another line")
    assert not window.close()


def test_the_system_may_end_the_program_at_once(qtbot: QtBot) -> None:
    """A signal to end asks nobody."""
    application()
    window = MainWindow([Draft("Bench")], title="x")
    qtbot.addWidget(window)
    window.show()
    window.close_now()
    assert not window.isVisible()


def test_control_and_a_number_choose_the_view(qtbot: QtBot) -> None:
    """Tab and page go together."""
    window, views = opened(qtbot, "Watch", "Rehearse", "Bench")
    qtbot.keyClick(window, Qt.Key.Key_3, Qt.KeyboardModifier.ControlModifier)
    assert window.stack.currentWidget() is views[2]
    assert window.tabs.currentIndex() == 2
    qtbot.keyClick(window, Qt.Key.Key_1, Qt.KeyboardModifier.ControlModifier)
    assert window.stack.currentWidget() is views[0]


def test_the_theme_key_steps_through_the_themes_and_dresses_everything(qtbot: QtBot) -> None:
    """Views are told, and the palette of standard controls follows."""
    window, views = opened(qtbot, "Watch")
    assert views[0].told[-1] == ("dark", 1.0)
    qtbot.keyClick(window, Qt.Key.Key_T)
    assert window.theme is LIGHT
    assert views[0].told[-1] == ("light", 1.0)
    ground = QApplication.palette().color(QPalette.ColorRole.Window).name()
    assert ground == LIGHT.ground
    qtbot.keyClick(window, Qt.Key.Key_T)
    assert window.theme is DARK


def test_text_grows_to_twice_its_size_and_back(qtbot: QtBot) -> None:
    """Ctrl and plus, minus, nought; never beyond 100 to 200 %."""
    window, views = opened(qtbot, "Watch")
    control = Qt.KeyboardModifier.ControlModifier
    for _ in range(10):
        qtbot.keyClick(window, Qt.Key.Key_Plus, control)
    assert window.text_size == TEXT_STEPS[-1] == 2.0
    assert views[0].told[-1] == ("dark", 2.0)
    qtbot.keyClick(window, Qt.Key.Key_Minus, control)
    assert window.text_size == 1.75
    qtbot.keyClick(window, Qt.Key.Key_0, control)
    assert window.text_size == 1.0
    qtbot.keyClick(window, Qt.Key.Key_Minus, control)
    assert window.text_size == 1.0


@pytest.mark.parametrize(
    ("size", "text_size", "expected"),
    [
        ((1600, 900), 1.0, 1.0),
        ((1280, 720), 1.0, 0.92),
        ((3840, 2160), 1.0, 2.4),
        ((3840, 900), 1.0, 1.0),
        ((640, 400), 2.0, 1.84),
        ((20000, 12000), 1.0, 4.0),
    ],
)
def test_the_scale_follows_the_window_and_stays_readable(
    size: tuple[int, int], text_size: float, expected: float
) -> None:
    """The narrower side decides; small windows keep a readable size."""
    assert scale_of(*size, text_size) == pytest.approx(expected)


def test_full_screen_is_a_key(qtbot: QtBot) -> None:
    """F11 goes there and back."""
    window, _ = opened(qtbot, "Watch")
    qtbot.keyClick(window, Qt.Key.Key_F11)
    assert window.windowState() & Qt.WindowState.WindowFullScreen
    qtbot.keyClick(window, Qt.Key.Key_F11)
    assert not window.windowState() & Qt.WindowState.WindowFullScreen


def test_closing_is_told_once(qtbot: QtBot) -> None:
    """The application hears of it, and the view no longer asks for snapshots."""
    told: list[str] = []
    port = FakePort(nominal())
    window, view = watch_window(port, on_close=lambda: told.append("closed"))
    qtbot.addWidget(window)
    window.show()
    view.bridge.start()
    window.close()
    window.close()
    assert told == ["closed"]
    assert not view.bridge.is_running


def test_the_loop_shows_the_window_and_ends_with_it(qtbot: QtBot) -> None:
    """The loop ends when the window closes, with status 0."""
    port = FakePort(nominal())
    asked: list[int] = []
    take = port.take_events

    def take_and_close() -> list:
        asked.append(1)
        if len(asked) == 3:
            for window in QApplication.topLevelWidgets():
                window.close()
        return take()

    port.take_events = take_and_close  # type: ignore[method-assign]
    window, view = watch_window(port, theme=LIGHT, title="Kittiwake")
    view.bridge.start()
    status = run_window(window)
    assert status == 0
    assert len(asked) >= 3


def test_render_writes_a_picture_of_the_size_asked_for(qtbot: QtBot, tmp_path: Path) -> None:
    """And says where it could not."""
    window, view = watch_window(FakePort(nominal()))
    qtbot.addWidget(window)
    path = tmp_path / "watch.png"
    view.bridge.take()
    render(window, path, (1280, 720))
    image = QImage(str(path))
    assert (image.width(), image.height()) == (1280, 720)
    with pytest.raises(OSError, match="nowhere"):
        render(window, tmp_path / "nowhere" / "watch.png", (1280, 720))


def test_every_intent_has_a_key_and_no_key_two_intents() -> None:
    """The tables are whole and unambiguous, and all of the watch's is on the sheet."""
    keys = (*WATCH_KEYS, *WINDOW_KEYS)
    assert {key.intent for key in (*keys, *REPLAY_KEYS)} == set(Intent)
    sequences = [sequence for key in keys for sequence in key.sequences]
    assert len(sequences) == len(set(sequences))
    words = [row[1] for row in sheet_rows(WATCH_KEYS, with_views=True)]
    assert {key.words for key in keys} <= set(words)
    assert "choose the view" in words


def test_themes_step_round() -> None:
    """After the last comes the first."""
    theme = THEMES[0]
    for _ in THEMES:
        theme = next_theme(theme)
    assert theme is THEMES[0]


@pytest.mark.parametrize("theme", THEMES, ids=lambda t: t.name)
def test_standard_controls_wear_the_themes_colours(theme: Theme) -> None:
    """Text on fields and selected text are told apart from their ground."""
    palette = palette_of(theme)
    assert palette.color(QPalette.ColorRole.Text).name() == theme.text
    assert palette.color(QPalette.ColorRole.Base).name() == theme.panel


def test_the_window_opens_no_message_box() -> None:
    """No module of the window names a dialog: messages take a line in the window."""
    import console.window

    root = Path(inspect.getfile(console.window)).parent
    for path in root.rglob("*.py"):
        source = path.read_text(encoding="utf-8")
        for word in ("QMessageBox", "QDialog", "QInputDialog", "QErrorMessage"):
            assert word not in source, path
