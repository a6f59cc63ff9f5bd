"""The line at the foot where the operator types: a note, initials, a source. Never a pop-up.

At rest it tells the most used keys and what was last done; while open it holds the keyboard.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QKeyEvent, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QLineEdit, QWidget

from console.present.theme import DARK, Theme
from console.present.tone import Tone
from console.window.fonts import Face, Faces
from console.window.ink import Drawn, Ink, Side

WATCH_HINTS = (
    "A acknowledge", "Space step done", "P poll", "N note", "C call made", "F1 keys", "F2 manual",
)  # fmt: skip
LONGEST = 240


class EntryLine(QWidget):
    """A prompt with a field while open; key hints and the last message at rest.

    Parameters
    ----------
    hints : tuple of str
        The view's most used keys, each with its words behind a space.
    asks_who : bool
        Whether the view works with initials, and shows at rest whose they are.
    """

    def __init__(
        self,
        parent: QWidget | None = None,
        *,
        hints: tuple[str, ...] = WATCH_HINTS,
        asks_who: bool = True,
    ) -> None:
        super().__init__(parent)
        self._hints = hints
        self._asks_who = asks_who
        self.theme: Theme = DARK
        self.faces = Faces(1.0)
        self.drawn: tuple[Drawn, ...] = ()
        self.message = ""
        self.who = ""
        self._prompt = ""
        self._taken: Callable[[str], str] | None = None
        self._back: QWidget | None = None
        self.field = QLineEdit(self)
        self.field.setMaxLength(LONGEST)
        self.field.setFrame(False)
        self.field.hide()
        self.field.returnPressed.connect(self._on_return_pressed)
        self.setAccessibleName("Entry line")
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)

    @property
    def is_open(self) -> bool:
        """Whether it waits for words."""
        return self._taken is not None

    def ask(self, prompt: str, taken: Callable[[str], str], first: str = "") -> None:
        """Open the line.

        Parameters
        ----------
        prompt : str
            What is asked, shown before the field and said to a screen reader.
        taken : callable
            Gets the words on Return. It gives an empty text when done, or what is wrong with
            the words: the line then stays open and says so. It may ask the next question.
        first : str
            Words that already stand in the field.
        """
        if not self.is_open:
            self._back = self._focused_before()
        self._prompt, self._taken = prompt, taken
        if self.message.startswith("!"):
            self.message = ""  # it was about something else
        self.field.setAccessibleName(prompt)
        self.field.setText(first)
        self._place_field()
        self.field.show()
        self.field.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.update()

    def close_line(self) -> None:
        """Close without taking anything; the keyboard goes back to where it was."""
        if not self.is_open:
            return
        self._taken = None
        self.field.hide()
        self.field.clear()
        if self._back is not None:
            self._back.setFocus(Qt.FocusReason.OtherFocusReason)
        self._back = None
        self.update()

    def tell(self, message: str) -> None:
        """Show what was done, until the next message."""
        if message != self.message:
            self.message = message
            self.setAccessibleDescription(message)
            self.update()

    def _focused_before(self) -> QWidget | None:
        """Give the widget of this window that has the keyboard now."""
        return self.window().focusWidget()

    def natural_height(self) -> float:
        """Give the height of one line with room for the field."""
        return float(round(1.75 * self.faces.em))

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        self.theme = theme
        if scale != self.faces.scale:
            self.faces = Faces(scale)
        self.field.setFont(self.faces.font(Face.BODY))
        self._place_field()
        self.update()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Close on Escape."""
        if event.key() == Qt.Key.Key_Escape:
            self.close_line()
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the field beside its prompt."""
        super().resizeEvent(event)
        self._place_field()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint prompt or hints."""
        painter = QPainter(self)
        ink = Ink(painter, self.theme, self.faces)
        box = QRectF(self.rect())
        faces = self.faces
        y = (self.height() + faces.capital(Face.SMALL)) / 2.0
        x, right = 0.25 * faces.em, self.width() - 0.25 * faces.em
        if self.is_open:
            ink.fill(box, self.theme.panel)
            ink.text(x + 0.5 * faces.em, y, self._prompt, Face.BODY_BOLD, Tone.STRONG)
            ink.text(right, y, self._open_hint(), Face.SMALL, Tone.QUIET, side=Side.RIGHT)
            ink.frame(box.adjusted(0.5, 0.5, -0.5, -0.5), self.theme.focus, 2.0)
        else:
            ink.fill(box, self.theme.ground)
            self._paint_rest(ink, x, right, y)
        painter.end()
        self.drawn = tuple(ink.drawn)

    def _paint_rest(self, ink: Ink, x: float, right: float, y: float) -> None:
        faces = self.faces
        who = f"initials {self.who}" if self.who else "no initials yet"
        if not self._asks_who:
            who = ""
        room = right - x - ink.text(right, y, who, Face.SMALL, Tone.QUIET, side=Side.RIGHT)
        room -= faces.em
        if self.message:
            x += ink.text(x, y, self.message, Face.SMALL, Tone.PLAIN, width=room) + 2.0 * faces.em
            room = right - x - faces.em
        for hint in self._hints:
            wide = faces.width(Face.SMALL, hint) + 1.2 * faces.em
            if wide > room - faces.width(Face.SMALL, who):
                break
            key, _, words = hint.partition(" ")
            took = ink.text(x, y, key, Face.SMALL_BOLD, Tone.QUIET)
            ink.text(x + took + 0.3 * faces.em, y, words, Face.SMALL, Tone.QUIET)
            x, room = x + wide + 0.3 * faces.em, room - wide - 0.3 * faces.em

    def _open_hint(self) -> str:
        return self.message if self.message.startswith("!") else "Return keeps · Esc closes"

    def _place_field(self) -> None:
        faces = self.faces
        left = faces.width(Face.BODY_BOLD, self._prompt) + 1.6 * faces.em
        room = self.width() - left - faces.width(Face.SMALL, self._open_hint()) - 2.0 * faces.em
        height = self.height() - 6
        self.field.setGeometry(round(left), 3, max(round(room), 40), max(height, 10))

    def _on_return_pressed(self) -> None:
        if self._taken is None:
            return
        asked = self._taken
        fault = asked(self.field.text().strip())
        if fault:
            self.tell(f"! {fault}")
            self._place_field()
            self.update()
        elif self._taken is asked:
            self.close_line()
