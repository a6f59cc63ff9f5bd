"""The manual, read inside the window: chapters at the left, the text beside them, no web.

It lies over the plots while the operator wants it, so that headline, ledger and exceedances stay
in sight. Up and Down choose a chapter, Tab goes to the text, Space and the page keys turn pages.
"""

from __future__ import annotations

from PySide6.QtCore import QEvent, Qt, QUrl
from PySide6.QtGui import (
    QColor,
    QKeyEvent,
    QPainter,
    QPaintEvent,
    QTextBlockFormat,
    QTextCursor,
    QTextTable,
)
from PySide6.QtWidgets import QHBoxLayout, QListWidget, QTextBrowser, QWidget

from console.archive.manual import Chapter, chapters
from console.present.theme import DARK, Theme
from console.window.fonts import Face, Faces
from console.window.ink import Ink
from console.window.keys import WATCH_KEYS, sheet_rows

KEYS_PLACE = "{keys}"
"""Where in a chapter the table of keys stands; it is made from the keys themselves."""
LIST_EM = 15.0
STYLE = """
QListWidget, QTextBrowser {{ background: {panel}; color: {text}; border: none; }}
QListWidget::item {{ padding: {pad}px; }}
QListWidget::item:selected {{ background: {band}; color: {text}; }}
QListWidget:focus, QTextBrowser:focus {{ border: 2px solid {focus}; }}
"""


class ManualText(QTextBrowser):
    """A chapter's text; links lead to other chapters only."""

    def event(self, event: QEvent) -> bool:
        """Keep Space for turning pages, though it ticks a step elsewhere."""
        if (
            event.type() is QEvent.Type.ShortcutOverride
            and isinstance(event, QKeyEvent)
            and event.key() == Qt.Key.Key_Space
        ):
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Turn a page with Space, back with Shift."""
        if event.key() == Qt.Key.Key_Space:
            bar = self.verticalScrollBar()
            back = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
            bar.setValue(bar.value() + (-1 if back else 1) * bar.pageStep())
        else:
            super().keyPressEvent(event)


class ManualReader(QWidget):
    """Chapters and their text; hidden until asked for."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.theme: Theme = DARK
        self.faces = Faces(1.0)
        self._chapters: tuple[Chapter, ...] = ()
        self._back: QWidget | None = None
        self.list = QListWidget(self)
        self.list.setAccessibleName("Chapters of the manual")
        self.list.setWordWrap(True)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.text = ManualText(self)
        self.text.setAccessibleName("Manual")
        self.text.setOpenLinks(False)
        self.text.anchorClicked.connect(self._on_anchor_clicked)
        self.list.currentRowChanged.connect(self._on_row_changed)
        row = QHBoxLayout(self)
        row.setContentsMargins(3, 3, 3, 3)
        row.setSpacing(6)
        row.addWidget(self.list)
        row.addWidget(self.text, 1)
        self.hide()

    @property
    def chapter(self) -> Chapter | None:
        """The chapter that is open."""
        at = self.list.currentRow()
        return self._chapters[at] if 0 <= at < len(self._chapters) else None

    def open_reader(self) -> None:
        """Show it and take the keyboard; the chapter read last is open."""
        if not self._chapters:
            self._chapters = chapters()
            self.list.addItems([chapter.title for chapter in self._chapters])
            self.list.setCurrentRow(0)
        self._back = self.window().focusWidget()
        self.show()
        self.list.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def close_reader(self) -> None:
        """Hide it; the keyboard goes back to where it was."""
        if self.isHidden():
            return
        self.hide()
        if self._back is not None:
            self._back.setFocus(Qt.FocusReason.OtherFocusReason)
        self._back = None

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        self.theme = theme
        if scale != self.faces.scale:
            self.faces = Faces(scale)
        em = self.faces.em
        for widget in (self.list, self.text):
            widget.setFont(self.faces.font(Face.BODY))
        self.list.setFixedWidth(round(LIST_EM * em))
        self.setStyleSheet(
            STYLE.format(
                panel=theme.panel, text=theme.text, band=theme.band, focus=theme.focus,
                pad=round(0.3 * em),
            )
        )  # fmt: skip
        self._show_chapter()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint ground and border; the two parts paint themselves."""
        painter = QPainter(self)
        ink = Ink(painter, self.theme, self.faces)
        box = self.rect().toRectF()
        ink.fill(box, self.theme.panel)
        ink.frame(box.adjusted(0.5, 0.5, -0.5, -0.5), self.theme.focus, 2.0)
        painter.end()

    def _show_chapter(self) -> None:
        chapter = self.chapter
        if chapter is None:
            return
        document = self.text.document()
        document.setDefaultFont(self.faces.font(Face.BODY))
        document.setDefaultStyleSheet(f"a {{ color: {self.theme.focus}; }}")
        document.setDocumentMargin(self.faces.em)
        self.text.setMarkdown(chapter.text.replace(KEYS_PLACE, keys_table()))
        self._space_out()

    def _space_out(self) -> None:
        """Set headings and paragraphs apart: Markdown gives them no room of their own."""
        em = self.faces.em
        cursor = QTextCursor(self.text.document())
        block = self.text.document().begin()
        while block.isValid():
            form = block.blockFormat()
            is_head = form.headingLevel() > 0
            cursor.setPosition(block.position())
            if cursor.currentTable() is None:
                form.setTopMargin(0.9 * em if is_head and block.blockNumber() else 0.0)
                form.setBottomMargin(
                    (0.35 if is_head or block.textList() is not None else 0.7) * em
                )
                form.setLineHeight(
                    118.0, QTextBlockFormat.LineHeightTypes.ProportionalHeight.value
                )
                cursor.setBlockFormat(form)
            block = block.next()
        self._quieten_tables()
        self.text.moveCursor(QTextCursor.MoveOperation.Start)

    def _quieten_tables(self) -> None:
        """Draw tables with hairlines and room in their cells."""
        for frame in self.text.document().rootFrame().childFrames():
            if isinstance(frame, QTextTable):
                form = frame.format()
                form.setBorderBrush(QColor(self.theme.hairline))
                form.setBorderCollapse(True)
                form.setCellPadding(0.25 * self.faces.em)
                form.setBottomMargin(0.7 * self.faces.em)
                frame.setFormat(form)

    def _on_row_changed(self, _row: int) -> None:
        self._show_chapter()

    def _on_anchor_clicked(self, url: QUrl) -> None:
        """Go to another chapter; nothing is ever fetched."""
        names = [chapter.name for chapter in self._chapters]
        if url.path() in names:
            self.list.setCurrentRow(names.index(url.path()))


def keys_table() -> str:
    """Write every key and what it does as a Markdown table."""
    rows = [f"| {key} | {words} |" for key, words in sheet_rows(WATCH_KEYS, with_views=True)]
    return "\n".join(["| key | does |", "|---|---|", *rows])
