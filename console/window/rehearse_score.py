"""The score page: figures, events and calls in order of time, and the runs to compare with."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from console import CAUTION_TEXT
from console.present.opener import Opener
from console.present.rehearse import Reviewed
from console.present.rehearse_score import (
    EVENT_HEADS,
    RUN_HEADS,
    STANDING_HEADS,
    run_rows,
    score_view,
    standing_rows,
)
from console.present.theme import DARK, Theme
from console.rehearsal.compare import by_trainee, of_exercise
from console.window.fonts import Face, Faces
from console.window.rehearse_sheet import SCORE_HINTS, SCORE_ROWS
from console.window.rehearse_table import WordTable
from console.window.view_help import ViewHelp


class ScorePage(QWidget):
    """What a rehearsal came to.

    Parameters
    ----------
    opener : Opener
        For replaying and debriefing the run.
    """

    again_wanted = Signal()

    def __init__(self, opener: Opener) -> None:
        super().__init__()
        self._opener = opener
        self._faces = Faces(1.0)
        self._path: Path | None = None
        self._theme: Theme = DARK
        self.heading = QLabel()
        self.heading.setWordWrap(True)
        self.facts = QLabel()
        self.facts.setWordWrap(True)
        self.figures = QWidget()
        self._grid = QGridLayout(self.figures)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setColumnStretch(1, 1)
        self.log = WordTable("Events and calls", EVENT_HEADS, 1)
        self.runs = WordTable("Runs of this trainee and of this exercise", RUN_HEADS, 2)
        self.people = WordTable("Trainees on this exercise", STANDING_HEADS, 0)
        self.hints = QLabel(SCORE_HINTS)
        self.hints.setWordWrap(True)
        self.caution = QLabel(CAUTION_TEXT)
        self.caution.setWordWrap(True)
        self._titles = (QLabel("Runs"), QLabel("Trainees on this exercise"))
        self._lay_out()
        for key, deed in (
            ("N", self.again_wanted.emit),
            ("W", self._replay),
            ("D", self._debrief),
        ):
            shortcut = QShortcut(QKeySequence(key), self)
            shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            shortcut.activated.connect(deed)
        self.help = ViewHelp(self, SCORE_ROWS)
        self.setFocusProxy(self.log)

    def show_reviewed(self, reviewed: Reviewed) -> None:
        """Show a score and the runs beside it."""
        score = reviewed.score
        self._path = reviewed.path
        view = score_view(score)
        self.heading.setText(view.title)
        self.facts.setText(" · ".join(view.facts))
        self._show_figures(view.figures)
        self.log.show_rows(view.log)
        every = sorted((score, *reviewed.others), key=lambda one: one.started_s)
        same = of_exercise(every, score.exercise_sha256)
        mine = [one for one in every if one.trainee == score.trainee or one in same]
        self.runs.show_rows(run_rows(mine, score.recording))
        self.people.show_rows(standing_rows(by_trainee(same)))

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        self._theme = theme
        if scale != self._faces.scale:
            self._faces = Faces(scale)
        faces = self._faces
        self.heading.setFont(faces.font(Face.WORDS))
        for label in (self.facts, self.hints, self.caution, *self._titles):
            label.setFont(faces.font(Face.SMALL))
            label.setStyleSheet(f"color: {theme.text_quiet};")
        self._dress_figures()
        for table in (self.log, self.runs, self.people):
            table.apply_theme(theme, scale)
        self.help.apply_theme(theme, scale)

    def _show_figures(self, figures: tuple[tuple[str, str], ...]) -> None:
        while (item := self._grid.takeAt(0)) is not None:
            widget = item.widget()
            if widget is not None:
                widget.deleteLater()
        for row, (name, value) in enumerate(figures):
            quiet, strong = QLabel(name), QLabel(value)
            strong.setWordWrap(True)
            strong.setAccessibleName(f"{name}: {value}")
            self._grid.addWidget(quiet, row, 0)
            self._grid.addWidget(strong, row, 1)
        self._grid.setRowStretch(len(figures), 1)
        self._dress_figures()

    def _dress_figures(self) -> None:
        for row in range(self._grid.rowCount()):
            for column, colour in ((0, self._theme.text_quiet), (1, self._theme.text)):
                item = self._grid.itemAtPosition(row, column)
                label = None if item is None else item.widget()
                if label is not None:
                    label.setFont(self._faces.font(Face.BODY))
                    label.setStyleSheet(f"color: {colour};")

    def _lay_out(self) -> None:
        left, right = QVBoxLayout(), QVBoxLayout()
        left.addWidget(self.log, 1)
        right.addWidget(self.figures)
        right.addWidget(self._titles[1])
        right.addWidget(self.people, 1)
        middle = QHBoxLayout()
        middle.addLayout(left, 3)
        middle.addLayout(right, 2)
        column = QVBoxLayout(self)
        column.addWidget(self.heading)
        column.addWidget(self.facts)
        column.addLayout(middle, 3)
        column.addWidget(self._titles[0])
        column.addWidget(self.runs, 1)
        column.addWidget(self.hints)
        column.addWidget(self.caution)

    def _replay(self) -> None:
        if self._path is not None:
            self._opener.open_pass(self._path)

    def _debrief(self) -> None:
        if self._path is not None:
            self._opener.open_debrief(self._path)
