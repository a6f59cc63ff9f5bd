"""One line at the window's foot that any view may use; gone again after a while."""

from __future__ import annotations

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QLabel

from console.present.theme import Theme
from console.window.fonts import Face, Faces

STANDS_MS = 15_000


class SaidLine(QLabel):
    """Takes no room while it has nothing to say."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Message")
        self.setWordWrap(True)
        self._faces = Faces(1.0)
        self._over = QTimer(self)
        self._over.setSingleShot(True)
        self._over.timeout.connect(self.hide)
        self.hide()

    @property
    def stands(self) -> bool:
        """Whether its line is still there to be read."""
        return self._over.isActive()

    def say(self, text: str) -> None:
        """Show a line, for a quarter of a minute."""
        self.setText(text)
        self.setAccessibleDescription(text)
        self.setVisible(bool(text))
        self._over.start(STANDS_MS)

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        if scale != self._faces.scale:
            self._faces = Faces(scale)
        self.setFont(self._faces.font(Face.SMALL))
        self.setMargin(round(0.25 * self._faces.em))
        self.setStyleSheet(f"color: {theme.text}; background: {theme.panel};")
