"""Tables of the Rehearse view: read-only ones that scroll, and the one of faults that is typed."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QAbstractItemModel, QEvent, QModelIndex, QPersistentModelIndex, Qt
from PySide6.QtGui import QColor, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QHeaderView,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableWidget,
    QTableWidgetItem,
    QWidget,
)

from console.present.rehearse_draft import FAULT_COLUMNS, FAULT_HEADS, Choices, size_words
from console.present.rehearse_score import ScoreRow
from console.present.theme import DARK, Theme
from console.present.tone import Tone
from console.window.fonts import Face, Faces
from console.window.rehearse_style import table_style

SIZE_OF = FAULT_COLUMNS.index("channel")
BY_KEY_OR_CLICK = (
    QAbstractItemView.EditTrigger.DoubleClicked
    | QAbstractItemView.EditTrigger.SelectedClicked
    | QAbstractItemView.EditTrigger.AnyKeyPressed
    | QAbstractItemView.EditTrigger.EditKeyPressed
)
LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter


class WordTable(QTableWidget):
    """Rows of words under heads; nothing in it is edited.

    Parameters
    ----------
    name : str
        For a screen reader.
    heads : sequence of str
    wide : int
        The column that takes the room left over.
    """

    def __init__(self, name: str, heads: Sequence[str], wide: int) -> None:
        super().__init__(0, len(heads))
        self.theme: Theme = DARK
        self.faces = Faces(1.0)
        self._rows: tuple[ScoreRow, ...] = ()
        self._wide = wide
        self.setAccessibleName(name)
        self.setHorizontalHeaderLabels(list(heads))
        self.verticalHeader().hide()
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setTabKeyNavigation(False)
        self.setShowGrid(False)
        header = self.horizontalHeader()
        header.setDefaultAlignment(LEFT)
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(wide, QHeaderView.ResizeMode.Stretch)
        header.setHighlightSections(False)

    def show_rows(self, rows: Sequence[ScoreRow]) -> None:
        """Show other rows."""
        self._rows = tuple(rows)
        self.setRowCount(len(self._rows))
        for number, row in enumerate(self._rows):
            for column, cell in enumerate(row.cells):
                self.setItem(number, column, self._item(cell, row, column))

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        self.theme = theme
        if scale != self.faces.scale:
            self.faces = Faces(scale)
        self.setFont(self.faces.font(Face.BODY))
        self.horizontalHeader().setFont(self.faces.font(Face.SMALL))
        self.verticalHeader().setDefaultSectionSize(round(1.6 * self.faces.em))
        self.setStyleSheet(table_style(theme))
        self.show_rows(self._rows)

    def _item(self, cell: str, row: ScoreRow, column: int) -> QTableWidgetItem:
        item = QTableWidgetItem(cell)
        is_text = column == self._wide
        item.setFont(self.faces.font(Face.BODY if is_text else Face.DIGITS))
        if row.tone(column) is Tone.CAUTION:
            item.setForeground(QColor(self.theme.caution))
        return item


class FaultTable(QTableWidget):
    """The scripted faults; cells are typed, words chosen. Insert adds a row, Delete removes one.

    Parameters
    ----------
    choices : Choices
        Words for kind, source and value.
    """

    def __init__(self, choices: Choices) -> None:
        super().__init__(0, len(FAULT_COLUMNS))
        self._faces = Faces(1.0)
        self.setAccessibleName("Faults. Insert adds a row, Delete removes one")
        self.setHorizontalHeaderLabels(list(FAULT_HEADS))
        self.verticalHeader().hide()
        self.setEditTriggers(BY_KEY_OR_CLICK)
        self.setTabKeyNavigation(False)
        self.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        self.horizontalHeader().setHighlightSections(False)
        self.horizontalHeader().setDefaultAlignment(
            LEFT | Qt.AlignmentFlag(Qt.TextFlag.TextWordWrap.value)  # large text, narrow window
        )
        words = {"kind": choices.kinds, "source": choices.sources, "channel": choices.channels}
        for name, allowed in words.items():
            column = FAULT_COLUMNS.index(name)
            self.setItemDelegateForColumn(column, WordDelegate(("", *allowed), self))

    def show_faults(self, faults: Sequence[Sequence[str]]) -> None:
        """Show other faults."""
        self.setRowCount(len(faults))
        for number, row in enumerate(faults):
            for column, cell in enumerate(row):
                self.setItem(number, column, QTableWidgetItem(cell))

    def faults(self) -> tuple[tuple[str, ...], ...]:
        """Give the rows as they are typed."""
        return tuple(
            tuple(self._text(row, column) for column in range(self.columnCount()))
            for row in range(self.rowCount())
        )

    def size_words(self) -> str:
        """Say what the size of the row that is stood in means; empty where nothing is known."""
        row = self.currentRow()
        return size_words(self._text(row, 0), self._text(row, SIZE_OF)) if row >= 0 else ""

    def add_row(self) -> None:
        """Add an empty row and stand in it."""
        self.insertRow(self.rowCount())
        for column in range(self.columnCount()):
            self.setItem(self.rowCount() - 1, column, QTableWidgetItem(""))
        self.setCurrentCell(self.rowCount() - 1, 0)

    def remove_row(self) -> None:
        """Remove the row that is stood in."""
        if self.currentRow() >= 0:
            self.removeRow(self.currentRow())

    def event(self, event: QEvent) -> bool:
        """Keep F2 and what is typed into a cell, though they are shortcuts elsewhere."""
        if (
            event.type() is QEvent.Type.ShortcutOverride
            and isinstance(event, QKeyEvent)
            and self.currentIndex().isValid()
            and _edits(event)
        ):
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Add or remove a row; the rest is Qt's."""
        if event.key() == Qt.Key.Key_Insert:
            self.add_row()
        elif event.key() == Qt.Key.Key_Delete:
            self.remove_row()
        else:
            super().keyPressEvent(event)

    def apply_theme(self, theme: Theme, faces: Faces) -> None:
        """Take other colours or another text size."""
        self._faces = faces
        self.setFont(faces.font(Face.BODY))
        self.horizontalHeader().setFont(faces.font(Face.SMALL))
        self.verticalHeader().setDefaultSectionSize(round(1.9 * faces.em))
        self.setStyleSheet(table_style(theme))
        self._fit_heads()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Give the heads a second line where they need it."""
        super().resizeEvent(event)
        self._fit_heads()

    def _fit_heads(self) -> None:
        faces = self._faces
        widest = max(faces.width(Face.SMALL, head) for head in FAULT_HEADS) + 1.2 * faces.em
        lines = 2 if widest > self.viewport().width() / self.columnCount() else 1
        self.horizontalHeader().setMinimumHeight(round((lines + 0.7) * faces.pitch))

    def _text(self, row: int, column: int) -> str:
        item = self.item(row, column)
        return "" if item is None else item.text()


def _edits(event: QKeyEvent) -> bool:
    plain = Qt.KeyboardModifier.NoModifier | Qt.KeyboardModifier.ShiftModifier
    is_typed = event.text().isprintable() and bool(event.text().strip())
    return event.key() == Qt.Key.Key_F2 or (is_typed and not event.modifiers() & ~plain)


class WordDelegate(QStyledItemDelegate):
    """Edits a cell by choosing among words."""

    def __init__(self, words: Sequence[str], parent: QWidget) -> None:
        super().__init__(parent)
        self._words = list(words)

    def createEditor(
        self,
        parent: QWidget,
        option: QStyleOptionViewItem,
        index: QModelIndex | QPersistentModelIndex,
    ) -> QWidget:
        """Give a list that also takes what is typed."""
        box = QComboBox(parent)
        box.setEditable(True)
        box.addItems(self._words)
        return box

    def setModelData(
        self,
        editor: QWidget,
        model: QAbstractItemModel,
        index: QModelIndex | QPersistentModelIndex,
    ) -> None:
        """Take the word that stands in the list."""
        if isinstance(editor, QComboBox):
            model.setData(index, editor.currentText())

    def setEditorData(self, editor: QWidget, index: QModelIndex | QPersistentModelIndex) -> None:
        """Show what stands in the cell."""
        if isinstance(editor, QComboBox):
            editor.setCurrentText(str(index.data() or ""))
