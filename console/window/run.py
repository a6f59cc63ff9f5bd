"""Opening the window on a running watch, and drawing a window to a file."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QSize
from PySide6.QtWidgets import QApplication, QWidget

from console.present.port import WatchPort
from console.present.theme import DARK, Theme
from console.window.fonts import load_fonts
from console.window.main_window import MainWindow
from console.window.palette import dress
from console.window.watch_view import WatchView


def application(theme: Theme = DARK) -> QApplication:
    """Give the one application object, made and dressed at the first call."""
    app = QApplication.instance()
    if not isinstance(app, QApplication):
        app = QApplication(sys.argv[:1])
        app.setApplicationName("leadmark")
        app.setApplicationDisplayName("Leadmark")
    load_fonts()
    dress(app, theme)
    return app


def watch_window(
    port: WatchPort,
    *,
    theme: Theme = DARK,
    title: str = "Leadmark",
    on_close: Callable[[], None] | None = None,
) -> tuple[MainWindow, WatchView]:
    """Make the window on a watch, not yet shown and not yet asking for snapshots."""
    application(theme)
    view = WatchView(port)
    return MainWindow((view,), title=title, theme=theme, on_close=on_close), view


def run_watch(
    port: WatchPort,
    *,
    theme: Theme = DARK,
    title: str = "Leadmark",
    on_close: Callable[[], None] | None = None,
) -> int:
    """Show the window on a watch until it is closed.

    Parameters
    ----------
    port : WatchPort
        The running watch.
    on_close : callable, optional
        Called once, when the operator closes the window.

    Returns
    -------
    int
        The exit status of Qt's loop, 0 for an ordinary close.
    """
    app = application(theme)
    window, view = watch_window(port, theme=theme, title=title, on_close=on_close)
    window.show()
    view.bridge.start()
    return app.exec()


def render(widget: QWidget, path: Path, size: tuple[int, int]) -> None:
    """Draw a widget at a size and save it as PNG.

    Parameters
    ----------
    widget : QWidget
        Need not be on a screen.
    path : Path
        Of the picture.
    size : (int, int)
        Width and height, px.

    Raises
    ------
    OSError
        The picture could not be written.
    """
    widget.resize(QSize(*size))
    widget.ensurePolished()
    QApplication.processEvents()
    if not widget.grab().save(str(path), "PNG"):
        raise OSError(f"{path}: the picture could not be written")
