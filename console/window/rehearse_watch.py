"""The trainee's watch: the Watch view less what is hidden, and the row of keys to call with."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import QElapsedTimer, QEvent, QObject, Qt, Signal
from PySide6.QtGui import QCloseEvent, QHideEvent, QKeySequence, QShortcut, QShowEvent
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from console.present.rehearse import RunningRehearsal
from console.present.rehearse_keys import MARK_KEY, MILESTONE_KEYS, MarkChoice
from console.present.rehearse_mask import hidden_words
from console.present.theme import DARK, Theme
from console.rehearsal.exercise import Hidden
from console.window.fonts import Face, Faces
from console.window.rehearse_row import CallRow
from console.window.watch_view import WatchView

END_KEY = "Ctrl+E"
LINGERS_S = 1.5
"""The watch stays so long after the last message, so that the last call's window is over."""
COVERED = "Hidden in this rehearsal"


class Cover(QLabel):
    """Lies over a panel whose content is hidden, so that its emptiness is not taken for quiet."""

    def __init__(self, panel: QWidget, words: str) -> None:
        super().__init__(words, panel)
        self.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.setWordWrap(True)
        self.setAutoFillBackground(True)
        panel.setAccessibleName(f"{panel.accessibleName()}: {words.lower()}")
        panel.installEventFilter(self)
        self.resize(panel.size())

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Keep the panel's size."""
        if event.type() is QEvent.Type.Resize and isinstance(watched, QWidget):
            self.resize(watched.size())
        return super().eventFilter(watched, event)

    def apply_theme(self, theme: Theme, faces: Faces) -> None:
        """Take other colours or another text size."""
        self.setFont(faces.font(Face.BODY))
        self.setStyleSheet(
            f"color: {theme.text_quiet}; background: {theme.panel}; "
            f"border: 1px dashed {theme.hairline};"
        )


class TraineeWatch(QWidget):
    """What the trainee sits before.

    Parameters
    ----------
    running : RunningRehearsal
        Under way.
    """

    end_wanted = Signal()

    def __init__(self, running: RunningRehearsal) -> None:
        super().__init__()
        self.running = running
        self.marks: MarkChoice = running.marks
        self._over = QElapsedTimer()
        self._faces = Faces(1.0)
        self._theme: Theme = DARK
        self.view = WatchView(running.port)
        self.view.operator.initials = self.view.entry.who = running.trainee
        self.row = CallRow(running.seen_keys, hidden_words(running.hidden))
        self.row.show_mark(self.marks)
        self._cover: Cover | None = None
        if Hidden.EXCEEDANCES in running.hidden:
            self._cover = Cover(self.view.exceedances, COVERED)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.view, 1)
        column.addWidget(self.row)
        self._bind_keys()
        self.setFocusProxy(self.view)

    @property
    def is_finished(self) -> bool:
        """Whether everything was played a moment ago."""
        if not self.running.is_over:
            return False
        if not self._over.isValid():
            self._over.start()
        return self._over.elapsed() >= LINGERS_S * 1000.0

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        self._theme = theme
        if scale != self._faces.scale:
            self._faces = Faces(scale)
        self.view.apply_theme(theme, scale)
        self.row.apply_theme(theme, scale)
        if self._cover is not None:
            self._cover.apply_theme(theme, self._faces)

    def showEvent(self, event: QShowEvent) -> None:
        """Ask for snapshots."""
        super().showEvent(event)
        self.view.bridge.start()

    def hideEvent(self, event: QHideEvent) -> None:
        """Ask no more while nobody looks."""
        self.view.bridge.stop()
        super().hideEvent(event)

    def closeEvent(self, event: QCloseEvent) -> None:
        """Close the watch inside."""
        self.view.close()
        super().closeEvent(event)

    # ------------------------------------------------------------------ calls

    def _bind_keys(self) -> None:
        for one in self.running.seen_keys:
            self._bind(one.key, partial(self.call, one.call, one.words))
        for key, call, words in MILESTONE_KEYS:
            self._bind(key, partial(self.call, call, words))
        self._bind(MARK_KEY, self.call_mark)
        self._bind("[", partial(self.move_mark, -1))
        self._bind("]", partial(self.move_mark, 1))
        self._bind(END_KEY, self.end_wanted.emit)

    def _bind(self, sequence: str, deed: Callable[[], None]) -> None:
        shortcut = QShortcut(QKeySequence(sequence), self)
        shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        shortcut.setAutoRepeat(False)
        shortcut.activated.connect(deed)

    def call(self, call: str, words: str) -> None:
        """Log a call."""
        self.view.operator.say(call, words)

    def call_mark(self) -> None:
        """Log the call of the mark that is next, and go on to the one behind it."""
        key = self.marks.key
        if key is None:
            self.view.entry.tell("no range mark is left to call; [ goes back to one")
            return
        self.call(key.call, key.words)
        self.move_mark(1)

    def move_mark(self, steps: int) -> None:
        """Choose another mark to call next."""
        self.marks = self.marks.moved(steps)
        self.row.show_mark(self.marks)
