"""The bench's headline: which limits file, which limit, how many passes, how fast."""

from __future__ import annotations

from PySide6.QtCore import QSignalBlocker, Signal
from PySide6.QtWidgets import QComboBox, QWidget

from console.present.bench_summary import HeadlineView
from console.present.theme import Theme
from console.present.tone import Tone
from console.window.fonts import Face
from console.window.ink import Ink, Side
from console.window.panels.panel import ViewPanel


class BenchHeadline(ViewPanel[HeadlineView]):
    """One line, two where that is too short; the limit is chosen in its list, or by key."""

    title = "Limits bench"
    limit_chosen = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.choice = QComboBox(self)
        self.choice.setAccessibleName("Limit worked on")
        self.choice.activated.connect(self.limit_chosen)

    def set_limits(self, names: tuple[str, ...]) -> None:
        """Give the list its limits."""
        with QSignalBlocker(self.choice):
            self.choice.clear()
            self.choice.addItems(list(names))

    def choose(self, index: int) -> None:
        """Show which limit is worked on."""
        if index != self.choice.currentIndex():
            with QSignalBlocker(self.choice):
                self.choice.setCurrentIndex(index)

    def spoken(self, view: HeadlineView) -> str:
        """Give the line in words."""
        return view.spoken

    def natural_height(self, width: float) -> float:
        """Give the height of the lines, the list in the last of them."""
        return float(round(2.4 * self.faces.em * self._lines(width)))

    def _lines(self, width: float) -> int:
        """Tell how many lines the words need."""
        faces, view = self.faces, self.view
        if view is None:
            return 1
        small = (view.revision, view.figures, view.passes)
        words = sum(faces.width(Face.SMALL_BOLD, part) for part in small)
        words += faces.width(Face.BODY_BOLD, view.title) + self._choice_width(width)
        return 1 if words + 2.0 * self.pad + 4.0 * faces.em <= width else 2

    def _choice_width(self, width: float) -> int:
        return min(self.choice.sizeHint().width(), round(0.4 * width))

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        super().apply_theme(theme, scale)
        self.choice.setFont(self.faces.font(Face.BODY_BOLD))

    def draw(self, ink: Ink, view: HeadlineView) -> None:
        """Paint title, revision, the list's place, figures, and the passes at the right."""
        faces, pad = self.faces, self.pad
        lines = self._lines(float(self.width()))
        line = self.height() / lines
        y = (line + faces.capital(Face.BODY)) / 2.0
        right = self.width() - pad
        tall = round(1.8 * faces.em)
        wide = self._choice_width(float(self.width()))
        words = faces.width(Face.SMALL, view.passes)
        x, room = pad, right - pad - words - faces.width(Face.SMALL_BOLD, view.revision)
        x += ink.text(
            x, y, view.title, Face.BODY_BOLD, Tone.STRONG, width=room - 2.0 * faces.em
        ) + 0.8 * faces.em  # fmt: skip
        tone = Tone.STRONG if "draft" in view.revision else Tone.QUIET
        x += ink.text(x, y, view.revision, Face.SMALL_BOLD, tone) + 1.2 * faces.em
        ink.text(right, y, view.passes, Face.SMALL, Tone.QUIET, side=Side.RIGHT)
        if lines > 1:
            x, y, words = pad, y + line, 0.0
        top = round((lines - 1) * line + (line - tall) / 2.0)
        self.choice.setGeometry(round(x), top, wide, tall)
        x += wide + 0.9 * faces.em
        room = right - x - words - (faces.em if words else 0.0)
        ink.text(x, y, view.figures, Face.SMALL, Tone.PLAIN, width=room)
