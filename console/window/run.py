"""Opening the window, and showing it until it is closed."""

from __future__ import annotations

import signal
from collections.abc import Callable

from PySide6.QtCore import QTimer

from console.present.port import SpeechSwitch, WatchPort
from console.present.theme import DARK, Theme
from console.window.application import application, render
from console.window.main_window import MainWindow
from console.window.watch_view import WatchView

__all__ = ["application", "render", "run_window", "watch_window"]

SIGNAL_LOOK_MS = 200


def watch_window(
    port: WatchPort,
    *,
    theme: Theme = DARK,
    title: str = "Leadmark",
    on_close: Callable[[], None] | None = None,
    speech: SpeechSwitch | None = None,
) -> tuple[MainWindow, WatchView]:
    """Make the window on a watch, not yet shown and not yet asking for snapshots."""
    application(theme)
    view = WatchView(port, speech=speech)
    return MainWindow((view,), title=title, theme=theme, on_close=on_close), view


def run_window(window: MainWindow) -> int:
    """Show a window until it is closed; give Qt's exit status, 0 for an ordinary close.

    An interrupt closes it as its own button would.
    """
    app = application(window.theme)
    for number in (signal.SIGINT, signal.SIGTERM):
        # not from within the signal: it may come in the middle of a painting
        signal.signal(number, lambda *_: QTimer.singleShot(0, window.close_now))
    window.show_within(app.primaryScreen().availableGeometry().size())
    looks = QTimer()
    looks.timeout.connect(_let_python_look)
    looks.start(SIGNAL_LOOK_MS)
    return app.exec()


def _let_python_look() -> None:
    """Do nothing in Python: it looks at signals only between its own instructions."""
