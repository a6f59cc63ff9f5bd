"""What Watch shows while nothing is watched: the passes at hand, and a line to open another."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QShortcut, QShowEvent
from PySide6.QtWidgets import QLabel, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from console import CAUTION_TEXT
from console.present.theme import Theme
from console.window.fonts import Face, Faces
from console.window.keys import ARROW_WORDS
from console.window.panels.entry import EntryLine
from console.window.view_help import HINTS as HELP_HINTS
from console.window.view_help import ViewHelp

NOTHING = "Nothing is watched."
HOW = (
    "Return opens the chosen pass, O asks for another file. A live approach is watched with "
    "leadmark watch ENDPOINT."
)
HINTS = ("Return open", "O other file", "T dark or light", "F11 full screen", *HELP_HINTS)
ROWS = (("Return", "open the chosen pass"), ("O", "open another file by name"), ARROW_WORDS)


class StartPage(QWidget):
    """A list of passes and an entry line.

    Parameters
    ----------
    passes : sequence of Path
        At hand: the user's recordings and the shipped ones.
    open_pass : callable
        Opens one.
    """

    title = "Watch"

    def __init__(self, passes: Sequence[Path], open_pass: Callable[[Path], None]) -> None:
        super().__init__()
        self._open_pass = open_pass
        self._faces = Faces(1.0)
        self.heading = QLabel(NOTHING)
        self.how = QLabel(HOW)
        self.how.setWordWrap(True)
        self.list = QListWidget()
        self.list.setAccessibleName("Passes at hand")
        for path in passes:
            item = QListWidgetItem(f"{path.name}   ·   {path.parent.name}")
            item.setData(Qt.ItemDataRole.UserRole, str(path))
            self.list.addItem(item)
        if passes:
            self.list.setCurrentRow(0)
        self.list.itemActivated.connect(self._on_item_activated)
        self.caution = QLabel(CAUTION_TEXT)
        self.caution.setWordWrap(True)
        self.entry = EntryLine(self, hints=HINTS, asks_who=False)
        column = QVBoxLayout(self)
        for widget in (self.heading, self.how, self.list, self.caution, self.entry):
            column.addWidget(widget)
        QShortcut(QKeySequence("O"), self).activated.connect(self.ask)
        self.help = ViewHelp(self, ROWS)
        self.setFocusProxy(self.list)

    def ask(self) -> None:
        """Ask for a file."""
        self.entry.ask("Pass to open", self._take)

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        if scale != self._faces.scale:
            self._faces = Faces(scale)
        self.heading.setFont(self._faces.font(Face.BODY_BOLD))
        for widget in (self.how, self.list, self.caution):
            widget.setFont(self._faces.font(Face.BODY))
        self.caution.setStyleSheet(f"color: {theme.text_quiet};")
        self.entry.apply_theme(theme, scale)
        self.entry.setFixedHeight(round(self.entry.natural_height()))
        self.help.apply_theme(theme, scale)

    def showEvent(self, event: QShowEvent) -> None:
        """Hand the keyboard to the list."""
        super().showEvent(event)
        self.list.setFocus()

    def _take(self, words: str) -> str:
        path = Path(words).expanduser()
        if not words or not path.is_file():
            return f"{words or 'nothing'}: no such file"
        self._open_pass(path)
        return ""

    def _on_item_activated(self, item: QListWidgetItem) -> None:
        self._open_pass(Path(str(item.data(Qt.ItemDataRole.UserRole))))
