"""The trainer's page: which approach, what fails in it, what is hidden, who is the trainee."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from console import CAUTION_TEXT
from console.core.errors import InputError
from console.present.rehearse import RehearseDesk
from console.present.rehearse_draft import Draft
from console.present.rehearse_mask import HIDDEN_WORDS
from console.present.theme import Theme
from console.rehearsal.exercise import Hidden, Origin
from console.window.fonts import Face, Faces
from console.window.operator import INITIALS_MOST, WANTED
from console.window.rehearse_sheet import ORDER_HINTS, ORDER_ROWS
from console.window.rehearse_style import choice_style, field_style, tick_style
from console.window.rehearse_table import FaultTable
from console.window.view_help import ViewHelp

OWN = "(an exercise of its own)"
NUMBERS = (
    ("from_range_m", "From range, m", "where the scenario starts itself"),
    ("seed", "Seed", ""),
    ("speed", "Speed", ""),
    ("early_s", "Early call, s", ""),
    ("response_s", "Response, s", ""),
    ("after_capture_s", "After capture, s", ""),
)
A_ROW, A_NARROW_ROW, NARROW_EM = 3, 2, 62.0
"""So many numbers, or parts to hide, stand beside each other, fewer below a width."""
HOW = (
    "Choose an exercise on file, or an approach; say what fails in it and what is hidden. What is "
    "typed is checked when it starts."
)


class OrderPage(QWidget):
    """A form for an exercise; what is typed is checked when it starts.

    Parameters
    ----------
    desk : RehearseDesk
        Gives what there is to choose from, reads and writes exercise files.
    """

    start_wanted = Signal()

    def __init__(self, desk: RehearseDesk) -> None:
        super().__init__()
        self._desk = desk
        self._faces = Faces(1.0)
        choices = desk.choices()
        self.exercise = _box("Exercise on file")
        self.approach = _box("Approach: scenario or recorded pass")
        self.approach.setEditable(True)
        self.name = QLineEdit()
        self.name.setAccessibleName("Title of the exercise")
        self.numbers = {key: _line(words, holder) for key, words, holder in NUMBERS}
        self.hidden = {part: QCheckBox(HIDDEN_WORDS[part]) for part in Hidden}
        self.faults = FaultTable(choices)
        self.initials = _line("Trainee's initials", "")
        self.initials.setMaxLength(INITIALS_MOST)
        self.start = QPushButton("Start  (Ctrl+Return)")
        self.keep = QPushButton("Save as a file  (Ctrl+S)")
        self.heading, self.how = QLabel("Rehearse"), QLabel(HOW)
        self.how.setWordWrap(True)
        self.about_fault = QLabel(" ")
        self.about_fault.setWordWrap(True)
        self.said = QLabel()
        self.said.setWordWrap(True)
        self.said.setAccessibleName("Message")
        self.hints, self.caution = QLabel(ORDER_HINTS), QLabel(CAUTION_TEXT)
        for small in (self.hints, self.caution):
            small.setWordWrap(True)
        self._labels: list[QLabel] = []
        self._number_labels: dict[str, QLabel] = {}
        self._a_row = 0
        self._lay_out()
        self._flow()
        self._fill(choices.exercises, choices.scenarios, choices.passes)
        self._bind()
        self.help = ViewHelp(self, ORDER_ROWS)
        self.setFocusProxy(self.exercise)
        self.show_draft(Draft(title="Rehearsal", name="nominal"))

    # ------------------------------------------------------------------ what stands in it

    @property
    def trainee(self) -> str:
        """The initials, in capitals."""
        return self.initials.text().strip().replace(".", "").upper()

    def draft(self) -> Draft:
        """Give what is typed."""
        name = self.approach.currentText().strip()
        place = self.approach.findText(name)
        origin = Origin(self.approach.itemData(place)) if place >= 0 else _origin_of(name)
        texts = {key: line.text() for key, line in self.numbers.items()}
        if origin is Origin.PASS:
            texts["from_range_m"] = ""
        return Draft(
            title=self.name.text().strip(),
            origin=origin,
            name=name,
            hidden=frozenset(part for part, box in self.hidden.items() if box.isChecked()),
            faults=self.faults.faults(),
            **texts,
        )

    def show_draft(self, draft: Draft) -> None:
        """Show an exercise."""
        self.name.setText(draft.title)
        self.approach.setCurrentText(draft.name)
        for key, line in self.numbers.items():
            line.setText(getattr(draft, key))
        for part, box in self.hidden.items():
            box.setChecked(part in draft.hidden)
        self.faults.show_faults(draft.faults)

    def tell(self, words: str) -> None:
        """Show one line; a refusal begins with ``!``."""
        self.said.setText(words)
        self.said.setAccessibleDescription(words)

    def free(self) -> None:
        """Take orders again."""
        self.start.setEnabled(True)

    def renew(self) -> None:
        """Look again for files to choose from; what is typed stays."""
        typed = self.draft()
        choices = self._desk.choices()
        self._fill(choices.exercises, choices.scenarios, choices.passes)
        self.show_draft(typed)
        self.free()

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        if scale != self._faces.scale:
            self._faces = Faces(scale)
        faces = self._faces
        self.setFont(faces.font(Face.BODY))
        typed = (self.exercise, self.approach, self.name, self.initials, *self.numbers.values())
        said = (*self._labels, self.how, self.about_fault, self.said)
        for widget in (*typed, *said, *self.hidden.values(), self.start, self.keep):
            widget.setFont(faces.font(Face.BODY))
        self.heading.setFont(faces.font(Face.WORDS))
        for small in (self.hints, self.caution):
            small.setFont(faces.font(Face.SMALL))
        for quiet in (*self._labels, self.how, self.about_fault, self.hints, self.caution):
            quiet.setStyleSheet(f"color: {theme.text_quiet};")
        self.said.setStyleSheet(f"color: {theme.text}; font-weight: bold;")
        self.faults.apply_theme(theme, faces)
        self.faults.setMinimumHeight(round(9.0 * faces.em))
        for field in (*self.numbers.values(), self.name, self.initials):
            field.setStyleSheet(field_style(theme))
        for box in self.hidden.values():
            box.setStyleSheet(tick_style(theme, round(0.9 * faces.em)))
        for chosen in (self.exercise, self.approach):
            chosen.setStyleSheet(choice_style(theme))
        self.help.apply_theme(theme, scale)
        self._flow()

    # ------------------------------------------------------------------ deeds

    def want_start(self) -> None:
        """Ask for the rehearsal, once there is a trainee to be named."""
        if not self.start.isEnabled():
            return
        self.start.setFocus()  # what is still being typed in a cell is taken
        if not self.trainee.isalpha():
            self.tell(f"! Trainee's initials: {WANTED}")
            self.initials.setFocus()
            return
        self.start.setEnabled(False)
        self.start_wanted.emit()

    def save(self) -> None:
        """Write the exercise as a file of the trainer's own."""
        self.keep.setFocus()
        try:
            path = self._desk.save(self.draft())
        except InputError as error:
            self.tell(f"! {error}")
            return
        self.tell(f"Saved as {path}")
        self.renew()

    def _on_exercise_chosen(self, place: int) -> None:
        path = self.exercise.itemData(place)
        if not path:
            return
        try:
            draft = self._desk.read(str(path))
        except InputError as error:
            self.tell(f"! {error}")
            return
        self.tell("")
        self.show_draft(draft)

    def _on_fault_changed(self) -> None:
        self.about_fault.setText(self.faults.size_words() or " ")

    def _bind(self) -> None:
        self.exercise.activated.connect(self._on_exercise_chosen)
        self.faults.currentCellChanged.connect(self._on_fault_changed)
        self.faults.cellChanged.connect(self._on_fault_changed)
        self.start.clicked.connect(self.want_start)
        self.keep.clicked.connect(self.save)
        keys: tuple[tuple[str, Callable[[], None]], ...] = (
            ("Ctrl+Return", self.want_start), ("Ctrl+Enter", self.want_start),
            ("Ctrl+S", self.save),
        )  # fmt: skip
        for key, deed in keys:
            shortcut = QShortcut(QKeySequence(key), self)
            shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            shortcut.activated.connect(deed)

    def _fill(
        self, exercises: tuple[str, ...], scenarios: tuple[str, ...], passes: tuple[str, ...]
    ) -> None:
        self.exercise.clear()
        self.exercise.addItem(OWN, "")
        for path in exercises:
            self.exercise.addItem(Path(path).name, path)
        self.approach.clear()
        for name in scenarios:
            self.approach.addItem(name, Origin.SCENARIO.value)
        for path in passes:
            self.approach.addItem(path, Origin.PASS.value)

    # ------------------------------------------------------------------ layout

    def _lay_out(self) -> None:
        inner = QWidget()
        column = QVBoxLayout(inner)
        column.addWidget(self.heading)
        column.addWidget(self.how)
        for part in (self._form(), self._numbers(), self._hidden()):
            column.addLayout(part)
        column.addWidget(self._label("Faults"))
        column.addWidget(self.faults, 1)
        column.addWidget(self.about_fault)
        column.addLayout(self._foot())
        column.addWidget(self.said)
        column.addWidget(self.hints)
        column.addWidget(self.caution)
        scroll = QScrollArea()  # large text in a small window
        scroll.setFrameShape(QScrollArea.Shape.NoFrame)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setWidgetResizable(True)
        scroll.setWidget(inner)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(scroll)

    def _form(self) -> QGridLayout:
        form = QGridLayout()
        form.setColumnStretch(1, 1)
        rows = (("Exercise on file", self.exercise), ("Approach", self.approach),
                ("Title", self.name))  # fmt: skip
        for row, (words, widget) in enumerate(rows):
            form.addWidget(self._label(words), row, 0)
            form.addWidget(widget, row, 1)
        return form

    def _numbers(self) -> QGridLayout:
        self._numbers_grid = QGridLayout()
        for key, words, _ in NUMBERS:
            self._number_labels[key] = self._label(words)
        return self._numbers_grid

    def _hidden(self) -> QGridLayout:
        self._hidden_grid = QGridLayout()
        self._hidden_grid.addWidget(self._label("Hidden from the trainee"), 0, 0)
        self._hidden_grid.setColumnStretch(A_ROW + 1, 1)
        return self._hidden_grid

    def _flow(self) -> None:
        """Stand numbers and parts to hide in as many columns as the width has room for."""
        a_row = A_ROW if self.width() >= NARROW_EM * self._faces.em else A_NARROW_ROW
        if a_row == self._a_row:
            return
        self._a_row = a_row
        for place, (key, field) in enumerate(self.numbers.items()):
            row, column = divmod(place, a_row)
            self._numbers_grid.addWidget(self._number_labels[key], row, 2 * column)
            self._numbers_grid.addWidget(field, row, 2 * column + 1)
        for place, box in enumerate(self.hidden.values()):
            row, column = divmod(place, a_row)
            self._hidden_grid.addWidget(box, row, 1 + column)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Take fewer columns where it is narrow."""
        super().resizeEvent(event)
        self._flow()

    def _foot(self) -> QHBoxLayout:
        foot = QHBoxLayout()
        foot.addWidget(self._label("Trainee's initials"))
        for widget in (self.initials, self.start, self.keep):
            foot.addWidget(widget)
        foot.addStretch(1)
        return foot

    def _label(self, words: str) -> QLabel:
        label = QLabel(words)
        self._labels.append(label)
        return label


def _box(name: str) -> QComboBox:
    box = QComboBox()
    box.setMinimumContentsLength(20)
    box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
    box.setAccessibleName(name)
    return box


def _line(name: str, holder: str) -> QLineEdit:
    line = QLineEdit()
    line.setAccessibleName(name)
    line.setPlaceholderText(holder)
    return line


def _origin_of(name: str) -> Origin:
    """Tell what a typed name means: a file's, unless it is a scenario's."""
    path = Path(name)
    is_pass = path.suffix not in ("", ".toml")
    return Origin.PASS if is_pass else Origin.SCENARIO
