"""The bench's table of passes: only the rows in sight are asked for, however many there are."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import (
    QAbstractTableModel,
    QModelIndex,
    QPersistentModelIndex,
    Qt,
    Signal,
)
from PySide6.QtGui import QColor, QKeyEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView, QWidget

from console.present.bench_rows import Column, Rows
from console.present.theme import DARK, Theme
from console.present.tone import Tone
from console.window.fonts import Face, Faces
from console.window.ink import colour_of

AnyIndex = QModelIndex | QPersistentModelIndex
_ROOT = QModelIndex()
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_ROLES = frozenset(
    {
        Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.ForegroundRole, Qt.ItemDataRole.FontRole,
        Qt.ItemDataRole.TextAlignmentRole, Qt.ItemDataRole.AccessibleTextRole,
    }
)  # fmt: skip
STYLE = """
QTableView {{ background: {panel}; color: {text}; border: 1px solid {hairline};
  selection-background-color: {band}; selection-color: {text}; gridline-color: {panel}; }}
QTableView:focus {{ border: 2px solid {focus}; }}
QHeaderView::section {{ background: {panel}; color: {quiet}; border: none;
  border-bottom: 1px solid {hairline}; padding: {pad}px; font: {size}px "{family}"; }}
QTableCornerButton::section {{ background: {panel}; border: none; }}
"""


class PassModel(QAbstractTableModel):
    """Rows in an order, with the theme's colours and faces."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: Rows | None = None
        self.order: list[int] = []
        self.faces = Faces(1.0)
        self._colours: dict[Tone, QColor] = {}
        self.set_theme(DARK)

    def set_theme(self, theme: Theme) -> None:
        """Take other colours."""
        self._colours = {tone: QColor(colour_of(theme, tone)) for tone in Tone}

    def show(self, rows: Rows, order: list[int]) -> None:
        """Show rows in an order."""
        same_length = self.rows is not None and len(order) == len(self.order)
        if same_length:
            self.rows, self.order = rows, order
            if order:
                last = self.index(len(order) - 1, len(Column) - 1)
                self.dataChanged.emit(self.index(0, 0), last)
            self.headerDataChanged.emit(Qt.Orientation.Horizontal, 0, len(Column) - 1)
            return
        self.beginResetModel()
        self.rows, self.order = rows, order
        self.endResetModel()

    def rowCount(self, parent: AnyIndex = _ROOT) -> int:
        """Give the number of passes shown."""
        return 0 if parent.isValid() else len(self.order)

    def columnCount(self, parent: AnyIndex = _ROOT) -> int:
        """Give the number of columns."""
        return 0 if parent.isValid() else len(Column)

    def data(self, index: AnyIndex, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Give a cell's text, colour, face or place."""
        if role not in _ROLES or self.rows is None:
            return None
        column = Column(index.column())
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _RIGHT if column in (Column.MARGIN, Column.RANGE) else _LEFT
        number = self.order[index.row()]
        if role == Qt.ItemDataRole.AccessibleTextRole and column is Column.NAME:
            return self.rows.spoken(number)
        cell = self.rows.cell(number, column)
        if role == Qt.ItemDataRole.ForegroundRole:
            return self._colours[cell.tone]
        if role == Qt.ItemDataRole.FontRole:
            return self.faces.font(Face.DIGITS_SMALL if cell.is_digits else Face.SMALL)
        return cell.text

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> Any:
        """Give a column's head."""
        if orientation is not Qt.Orientation.Horizontal or self.rows is None:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return self.rows.titles[section]
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _RIGHT if section in (Column.MARGIN, Column.RANGE) else _LEFT
        return None


class PassTable(QTableView):
    """The passes; Return or a double click opens one, a click on a head sorts by it."""

    pass_opened = Signal(int)
    head_chosen = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Passes")
        self.passes = PassModel()
        self.setModel(self.passes)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setTextElideMode(Qt.TextElideMode.ElideMiddle)
        self.setTabKeyNavigation(False)
        self.verticalHeader().hide()
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.horizontalHeader().setHighlightSections(False)
        self.horizontalHeader().setSectionsClickable(True)
        self.horizontalHeader().sectionClicked.connect(self.head_chosen)
        self.doubleClicked.connect(lambda index: self._open(index.row()))

    @property
    def chosen(self) -> int | None:
        """Number of the chosen pass, None where none is."""
        row = self.currentIndex().row()
        return self.passes.order[row] if 0 <= row < len(self.passes.order) else None

    def show_rows(self, rows: Rows, order: list[int]) -> None:
        """Show rows in an order; the chosen pass stays chosen while it is in sight."""
        chosen = self.chosen
        self.passes.show(rows, order)
        if chosen is not None and self.chosen != chosen and chosen in order:
            self.setCurrentIndex(self.passes.index(order.index(chosen), 0))

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        if scale != self.passes.faces.scale:
            self.passes.faces = Faces(scale)
        self.passes.set_theme(theme)
        faces = self.passes.faces
        small = faces.font(Face.SMALL)
        self.setStyleSheet(
            STYLE.format(
                panel=theme.panel, text=theme.text, quiet=theme.text_quiet, band=theme.band,
                hairline=theme.hairline, focus=theme.focus, pad=round(0.25 * faces.em),
                size=small.pixelSize(), family=small.family(),
            )
        )  # fmt: skip
        self.verticalHeader().setDefaultSectionSize(round(faces.pitch * 1.12))
        self.fit()

    def fit(self) -> None:
        """Give every column what its usual texts need; the name what is left."""
        faces = self.passes.faces
        usual = {
            Column.MARK: "known fault", Column.MARGIN: "margin, deg/s",
            Column.RANGE: "200.0", Column.BEFORE: "■ after 99.9 s ×2",
            Column.AFTER: "■ after 99.9 s ×2",
        }  # fmt: skip
        wide = {
            c: round(faces.width(Face.SMALL, text) + 1.1 * faces.em) for c, text in usual.items()
        }
        left = self.viewport().width() - sum(wide.values())
        least = round(8.0 * faces.em)
        wide[Column.NAME] = max(left, least)
        for column, width in wide.items():
            self.setColumnWidth(column, width)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Open the chosen pass on Return."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._open(self.currentIndex().row())
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: Any) -> None:
        """Fit the columns."""
        super().resizeEvent(event)
        self.fit()

    def _open(self, row: int) -> None:
        if 0 <= row < len(self.passes.order):
            self.pass_opened.emit(self.passes.order[row])
