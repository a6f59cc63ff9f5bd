"""The row of call keys at the foot of a trainee's watch: every key with what it calls."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from console.present.rehearse_keys import MILESTONE_KEYS, STOP_KEYS, CallKey, MarkChoice
from console.present.theme import DARK, Theme
from console.present.tone import Tone
from console.window.fonts import Face, Faces
from console.window.ink import Drawn, Ink

NO_MARK = "none left"
END_WORDS = ("Ctrl+E", "end the rehearsal")


class CallRow(QWidget):
    """Keys and words in as many lines as they need; answers no key itself.

    Parameters
    ----------
    seen : sequence of CallKey
        A key for each kind of exceedance.
    hidden : str
        What is hidden, in words.
    """

    def __init__(self, seen: Sequence[CallKey], hidden: str) -> None:
        super().__init__()
        self._seen = tuple(seen)
        self._hidden = hidden
        self._mark = NO_MARK
        self.theme: Theme = DARK
        self.faces = Faces(1.0)
        self.drawn: tuple[Drawn, ...] = ()
        self.setAccessibleName("Keys to call with")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.show_mark(MarkChoice(()))

    @property
    def groups(self) -> tuple[tuple[str, tuple[tuple[str, str], ...]], ...]:
        """Name of each group of keys, with its keys and their words."""
        calls = [("R", f"{self._mark} mark" if self._mark != NO_MARK else "no mark left")]
        calls += [(key, words) for key, _, words in MILESTONE_KEYS]
        calls.insert(1, ("[ ]", "other mark"))
        stops = [(key, words) for key, _, words in STOP_KEYS]
        return (
            ("Call", tuple(calls)),
            ("Stop", tuple(stops)),
            ("Seen", tuple((one.key, one.words) for one in self._seen)),
        )

    def show_mark(self, marks: MarkChoice) -> None:
        """Show which mark is called next."""
        key = marks.key
        self._mark = NO_MARK if key is None else key.words
        said = [f"{key}: {words}" for _, keys in self.groups for key, words in keys]
        hidden = f". Hidden: {self._hidden}" if self._hidden else ""
        self.setAccessibleDescription(", ".join(said) + hidden)
        self.update()

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        self.theme = theme
        if scale != self.faces.scale:
            self.faces = Faces(scale)
        self._fit()
        self.update()

    def sizeHint(self) -> QSize:
        """Give the height the lines need at the present width."""
        lines = self._flow(None, float(max(self.width(), 400)))
        return QSize(400, round(lines * self.faces.pitch + 0.9 * self.faces.em))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Take the height the width asks for."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        high = self.sizeHint().height()
        if high != self.minimumHeight() or high != self.maximumHeight():
            self.setFixedHeight(high)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the keys."""
        painter = QPainter(self)
        ink = Ink(painter, self.theme, self.faces)
        ink.fill(QRectF(self.rect()), self.theme.panel)
        ink.frame(QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5), self.theme.hairline)
        self._flow(ink, float(self.width()))
        painter.end()
        self.drawn = tuple(ink.drawn)

    def _flow(self, ink: Ink | None, width: float) -> int:
        """Set the keys one behind the other, painting where an ink is given; give the lines."""
        faces = self.faces
        left, gap = 0.75 * faces.em, 1.3 * faces.em
        x, line = left, 1

        def put(pieces: Sequence[tuple[str, Face, Tone]]) -> None:
            nonlocal x, line
            wide = sum(faces.width(face, words) + 0.35 * faces.em for words, face, _ in pieces)
            if x > left and x + wide > width - left:
                x, line = left, line + 1
            y = line * faces.pitch
            for words, face, tone in pieces:
                if ink is not None:
                    ink.text(x, y, words, face, tone)
                x += faces.width(face, words) + 0.35 * faces.em
            x += gap

        for name, keys in self.groups:
            put(((name, Face.SMALL, Tone.QUIET),))
            for key, words in keys:
                put(((key, Face.SMALL_BOLD, Tone.STRONG), (words, Face.SMALL, Tone.PLAIN)))
        key, words = END_WORDS
        put(((key, Face.SMALL_BOLD, Tone.QUIET), (words, Face.SMALL, Tone.QUIET)))
        if self._hidden:
            put(((f"Hidden: {self._hidden}", Face.SMALL, Tone.QUIET),))
        return line
