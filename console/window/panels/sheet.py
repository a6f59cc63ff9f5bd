"""The sheet of all keys, laid over the lanes while the operator wants it; never by itself.

What does not fit at the operator's text size goes on the next page: nothing is cut or shrunk.
"""

from __future__ import annotations

import math

from PySide6.QtCore import QRectF, QSize
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from console.present.theme import DARK, Theme
from console.present.tone import Tone
from console.window.fonts import Face, Faces
from console.window.ink import Drawn, Ink

HEAD_LINES = 1.1
MARGINS_EM = 0.6


class KeySheet(QWidget):
    """Keys and what they do, in one column, or two where the height is short; then in pages."""

    def __init__(self, rows: tuple[tuple[str, str], ...], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.theme: Theme = DARK
        self.faces = Faces(1.0)
        self.drawn: tuple[Drawn, ...] = ()
        self._rows = rows
        self._page = 0
        self._columns, self._per = 1, len(rows)
        self.setAccessibleName("Keys")
        self.setAccessibleDescription(". ".join(f"{key}: {words}" for key, words in rows))
        self.hide()

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        self.theme = theme
        if scale != self.faces.scale:
            self.faces = Faces(scale)
        self.update()

    @property
    def pages(self) -> int:
        """How many pages there are at the size asked for last."""
        return -(-len(self._rows) // (self._columns * self._per))

    def turn(self) -> None:
        """Show the first page, then the next, and hide after the last."""
        self._page = self._page + 1 if self.isVisible() else 0
        self.setVisible(self._page < self.pages)
        self.update()

    def size_in(self, height: float, width: float = math.inf) -> QSize:
        """Give the size of a page within a height and width, px, with every row if it can be."""
        key, words = self._widths()
        em = self.faces.em
        column = key + words + 2.5 * em
        count = len(self._rows)
        fit = int((height - MARGINS_EM * em) / self.faces.pitch - HEAD_LINES)
        fit = min(max(fit, 1), count)
        most = 2 if 2.0 * column + em <= width else 1
        self._columns = min(most, -(-count // fit))
        pages = -(-count // (self._columns * fit))
        self._per = -(-count // (self._columns * pages))
        if self.isVisible():
            self._page = min(self._page, self.pages - 1)
        return QSize(
            round(min(self._columns * column + em, width)),
            round((self._per + HEAD_LINES) * self.faces.pitch + MARGINS_EM * em),
        )

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint title and rows."""
        painter = QPainter(self)
        ink = Ink(painter, self.theme, self.faces)
        faces = self.faces
        box = QRectF(self.rect())
        ink.fill(box, self.theme.panel)
        ink.frame(box.adjusted(0.5, 0.5, -0.5, -0.5), self.theme.focus, 2.0)
        x, top = faces.em, 1.2 * faces.em
        more = f"{self._page + 1} of {self.pages}, F1 goes on, " if self.pages > 1 else ""
        ink.text(x, top, f"Keys  ({more}Esc closes)", Face.SMALL, Tone.QUIET)
        key_wide, words_wide = self._widths()
        a_page = self._columns * self._per
        for i, (key, words) in enumerate(self._rows[self._page * a_page :][:a_page]):
            column, row = divmod(i, self._per)
            left = x + column * (key_wide + words_wide + 2.5 * faces.em)
            y = top + (row + 1.0) * faces.pitch
            ink.text(left, y, key, Face.SMALL_BOLD, Tone.PLAIN)
            ink.text(left + key_wide + faces.em, y, words, Face.BODY, Tone.PLAIN)
        painter.end()
        self.drawn = tuple(ink.drawn)

    def _widths(self) -> tuple[float, float]:
        return (
            max(self.faces.width(Face.SMALL_BOLD, key) for key, _ in self._rows),
            max(self.faces.width(Face.BODY, words) for _, words in self._rows),
        )
