"""The one application object, and drawing a widget to a file."""

from __future__ import annotations

import sys
from pathlib import Path

from PySide6.QtCore import QSize
from PySide6.QtWidgets import QApplication, QWidget

from console.present.theme import DARK, Theme
from console.window.fonts import load_fonts
from console.window.palette import dress


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
