"""The sheet of all keys, laid over the lanes while the operator wants it; never by itself."""

from __future__ import annotations

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
    """Keys and what they do, in one column, or two where the height is short."""

    def __init__(self, rows: tuple[tuple[str, str], ...], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.theme: Theme = DARK
        self.faces = Faces(1.0)
        self.drawn: tuple[Drawn, ...] = ()
        self._rows = rows
        self.setAccessibleName("Keys")
        self.setAccessibleDescription(". ".join(f"{key}: {words}" for key, words in rows))
        self.hide()

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        self.theme = theme
        if scale != self.faces.scale:
            self.faces = Faces(scale)
        self.update()

    def size_in(self, height: float) -> QSize:
        """Give the size that shows every row within a height, px."""
        per = self._per_column(height)
        columns = -(-len(self._rows) // per)
        key, words = self._widths()
        em = self.faces.em
        return QSize(
            round(columns * (key + words + 2.5 * em) + em),
            round((per + HEAD_LINES) * self.faces.pitch + MARGINS_EM * em),
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
        ink.text(x, top, "Keys  (Esc closes)", Face.SMALL, Tone.QUIET)
        key_wide, words_wide = self._widths()
        per = self._per_column(float(self.height()))
        for i, (key, words) in enumerate(self._rows):
            column, row = divmod(i, per)
            left = x + column * (key_wide + words_wide + 2.5 * faces.em)
            y = top + (row + 1.0) * faces.pitch
            ink.text(left, y, key, Face.SMALL_BOLD, Tone.PLAIN)
            ink.text(left + key_wide + faces.em, y, words, Face.BODY, Tone.PLAIN)
        painter.end()
        self.drawn = tuple(ink.drawn)

    def _per_column(self, height: float) -> int:
        fit = int((height - MARGINS_EM * self.faces.em) / self.faces.pitch - HEAD_LINES)
        return min(max(fit, -(-len(self._rows) // 2)), len(self._rows))

    def _widths(self) -> tuple[float, float]:
        return (
            max(self.faces.width(Face.SMALL_BOLD, key) for key, _ in self._rows),
            max(self.faces.width(Face.BODY, words) for _, words in self._rows),
        )
