"""The Debrief view: passes at hand, and what is to be said of the one that is opened."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import (
    QCloseEvent,
    QHideEvent,
    QKeySequence,
    QResizeEvent,
    QShortcut,
    QShowEvent,
)
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QVBoxLayout,
    QWidget,
)

from console import CAUTION_TEXT
from console.debrief.page import Chapter
from console.debrief.port import DebriefPort, Opened, Stage
from console.present.opener import Opener
from console.present.theme import DARK, Theme
from console.window.debrief_keys import DEBRIEF_KEYS, HINTS, DebriefIntent, debrief_sheet_rows
from console.window.debrief_text import DebriefText
from console.window.fonts import Face, Faces
from console.window.panels.entry import EntryLine
from console.window.panels.manual import ManualReader
from console.window.panels.sheet import KeySheet

TICK_MS = 100
LEFT_EM = 25.0
SETTLE_MS = 150
"""A change of width is followed when it has rested so long."""
NOTHING = (
    "No pass is opened. Choose one at the left with the arrow keys and press Return, or press O "
    "and give a file: a recording, CSV or Parquet."
)
STYLE = """
QListWidget, QTextBrowser {{ background: {panel}; color: {text}; border: 1px solid {hairline}; }}
QListWidget::item {{ padding: {pad}px; }}
QListWidget::item:selected {{ background: {hairline}; color: {text}; }}
QListWidget:focus, QTextBrowser:focus {{ border: 2px solid {focus}; }}
"""


class DebriefView(QWidget):
    """Lists of passes and sections at the left, the section's text beside them.

    Parameters
    ----------
    port : DebriefPort
        Gathers, draws and writes; closed with the view.
    opener : Opener
        Shows moments of the pass in Watch.
    """

    title = "Debrief"

    def __init__(self, port: DebriefPort, opener: Opener, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.port = port
        self._opener = opener
        self._theme: Theme = DARK
        self._faces = Faces(1.0)
        self._shown = Opened()
        self.heading = QLabel(self)
        self.passes = QListWidget(self)
        self.sections = QListWidget(self)
        self.text = DebriefText(self)
        self.caution = QLabel(CAUTION_TEXT, self)
        self.entry = EntryLine(self, hints=HINTS, asks_who=False)
        self.sheet = KeySheet(debrief_sheet_rows(), self)
        self.manual = ManualReader(self)
        self._labels = (QLabel("Passes", self), QLabel("Sections", self))
        self._timer = QTimer(self)
        self._timer.setInterval(TICK_MS)
        self._timer.timeout.connect(self.tick)
        self._settle = QTimer(self)
        self._settle.setSingleShot(True)
        self._settle.timeout.connect(self._show_section)
        self._lay_out()
        self._bind()
        self.refresh()
        self._show_stage(self.port.opened())

    def _lay_out(self) -> None:
        self.passes.setAccessibleName("Passes")
        self.sections.setAccessibleName("Sections of the debrief")
        for list_ in (self.passes, self.sections):
            list_.setWordWrap(True)
            list_.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.heading.setWordWrap(True)
        self.caution.setWordWrap(True)
        left = QVBoxLayout()
        for label, widget, share in zip(
            self._labels, (self.passes, self.sections), (3, 4), strict=True
        ):
            left.addWidget(label)
            left.addWidget(widget, share)
        row = QHBoxLayout()
        row.addLayout(left)
        row.addWidget(self.text, 1)
        column = QVBoxLayout(self)
        column.addWidget(self.heading)
        column.addLayout(row, 1)
        column.addWidget(self.caution)
        column.addWidget(self.entry)
        self.setFocusProxy(self.passes)

    def _bind(self) -> None:
        deeds: dict[DebriefIntent, Callable[[], None]] = {
            DebriefIntent.OTHER_FILE: self.ask_pass,
            DebriefIntent.WATCH: lambda: self._watch(None),
            DebriefIntent.SAVE_HTML: lambda: self.ask_report(".html"),
            DebriefIntent.SAVE_PDF: lambda: self.ask_report(".pdf"),
            DebriefIntent.REFRESH: self.refresh,
            DebriefIntent.NEXT_SECTION: lambda: self.step_section(1),
            DebriefIntent.PREVIOUS_SECTION: lambda: self.step_section(-1),
            DebriefIntent.SHEET: self._toggle_sheet,
            DebriefIntent.MANUAL: self._toggle_manual,
            DebriefIntent.CLOSE_LINE: self._close_line,
        }
        for key in DEBRIEF_KEYS:
            for sequence in key.sequences:
                shortcut = QShortcut(QKeySequence(sequence), self)
                shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
                shortcut.activated.connect(deeds[key.intent])
        self.passes.itemActivated.connect(self._on_pass_activated)
        self.sections.currentRowChanged.connect(lambda _: self._show_section())
        self.text.moment_chosen.connect(self._watch)

    # ------------------------------------------------------------------ what is shown

    @property
    def chapter(self) -> Chapter | None:
        """The debrief that is shown."""
        return self._shown.chapter

    def open(self, path: Path) -> None:
        """Debrief a pass."""
        self.port.open(path)
        self.tick()

    def refresh(self) -> None:
        """List the passes at hand."""
        is_chosen = self.passes.currentRow() >= 0
        role = Qt.ItemDataRole.UserRole
        before = self.passes.currentItem().data(role) if is_chosen else None
        before = before or str(self.port.opened().path)
        self.passes.clear()
        for one in self.port.recent():
            item = QListWidgetItem(one.line)
            item.setData(Qt.ItemDataRole.UserRole, str(one.path))
            item.setToolTip(str(one.path))
            item.setData(Qt.ItemDataRole.AccessibleTextRole, one.spoken)
            self.passes.addItem(item)
            if str(one.path) == before:
                self.passes.setCurrentItem(item)
        if self.passes.currentRow() < 0:
            self.passes.setCurrentRow(0)

    def tick(self) -> None:
        """Take what came: the debrief, its pictures, word of a report."""
        said = self.port.said()
        if said:
            self.entry.tell(said)
        opened = self.port.opened()
        if opened is not self._shown:
            self._show_stage(opened)

    def step_section(self, step: int) -> None:
        """Show the next section, or the one before."""
        count = self.sections.count()
        if count:
            self.sections.setCurrentRow(min(max(self.sections.currentRow() + step, 0), count - 1))

    def _show_stage(self, opened: Opened) -> None:
        before, self._shown = self._shown, opened
        name = "" if opened.path is None else opened.path.name
        match opened.stage:
            case Stage.NOTHING:
                self._say("No pass is opened", NOTHING)
            case Stage.WORKING:
                self._say(f"{name}: judging it from its first record to its last …", "")
            case Stage.REFUSED:
                self._say(f"{name} cannot be debriefed", opened.words)
            case Stage.READY:
                if opened.chapter is not before.chapter:
                    self._show_chapter(opened.chapter)
                self._show_section()

    def _say(self, head: str, words: str) -> None:
        self.heading.setText(head)
        self.sections.clear()
        self.text.say(words)

    def _show_chapter(self, chapter: Chapter | None) -> None:
        if chapter is None:
            return
        self.heading.setText(f"{chapter.title}  ·  {chapter.subtitle}")
        self.sections.clear()
        self.sections.addItems([section.title for section in chapter.sections])
        self.sections.setCurrentRow(0)
        if self.passes.hasFocus() or self.hasFocus():
            self.sections.setFocus()

    def _show_section(self) -> None:
        row, chapter = self.sections.currentRow(), self._shown.chapter
        if chapter is not None and 0 <= row < len(chapter.sections):
            self.text.show_section(chapter.sections[row], self._shown.pictures)

    # ------------------------------------------------------------------ what is done

    def ask_pass(self) -> None:
        """Ask for a pass by its name."""
        self.entry.ask("Pass to debrief", self._take_pass)

    def ask_report(self, ending: str) -> None:
        """Ask for the name of a report, and begin to write it."""
        if self._shown.chapter is None:
            self.entry.tell("! open a pass first, then save its report")
            return
        form = ending.removeprefix(".").upper()
        self.entry.ask(f"Save {form} as", self._take_report, str(self.port.report_path(ending)))

    def _take_pass(self, words: str) -> str:
        path = Path(words).expanduser()
        if not words or not path.is_file():
            return f"{words or 'nothing'}: no such file"
        self.open(path)
        return ""

    def _take_report(self, words: str) -> str:
        if not words:
            return "give a file name"
        path = Path(words).expanduser()
        fault = self.port.save(path)
        if not fault:
            self.entry.tell(f"writing {path} …")
        return fault

    def _watch(self, t: float | None) -> None:
        if self._shown.path is not None:
            self._opener.open_pass(self._shown.path, t)

    def _on_pass_activated(self, item: QListWidgetItem) -> None:
        self.open(Path(str(item.data(Qt.ItemDataRole.UserRole))))

    def _toggle_sheet(self) -> None:
        self._place_sheet()
        self.sheet.turn()
        self.sheet.raise_()

    def _place_sheet(self) -> None:
        size = self.sheet.size_in(0.9 * self.height(), float(self.width()))
        left = max((self.width() - size.width()) // 2, 0)
        self.sheet.setGeometry(
            left, round(0.05 * self.height()), min(size.width(), self.width()), size.height()
        )

    def _toggle_manual(self) -> None:
        if self.manual.isHidden():
            self._place_manual()
            self.manual.raise_()
            self.manual.open_reader()
        else:
            self.manual.close_reader()

    def _place_manual(self) -> None:
        self.manual.setGeometry(0, 0, self.width(), self.entry.y())

    def _close_line(self) -> None:
        self.sheet.hide()
        self.manual.close_reader()
        self.entry.close_line()

    # ------------------------------------------------------------------ Qt's side

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        self._theme = theme
        if scale != self._faces.scale:
            self._faces = Faces(scale)
        em = self._faces.em
        for widget in (self.passes, self.sections, self.caution):
            widget.setFont(self._faces.font(Face.BODY))
        for label in (self.heading, *self._labels):
            label.setFont(self._faces.font(Face.BODY_BOLD))
        self.caution.setStyleSheet(f"color: {theme.text_quiet};")
        for widget in (self.passes, self.sections):
            widget.setFixedWidth(round(LEFT_EM * em))
        self.setStyleSheet(
            STYLE.format(
                panel=theme.panel, text=theme.text, hairline=theme.hairline, focus=theme.focus,
                pad=round(0.2 * em),
            )
        )  # fmt: skip
        self.text.apply_theme(theme, scale)
        self.sheet.apply_theme(theme, scale)
        self.manual.apply_theme(theme, scale)
        self.entry.apply_theme(theme, scale)
        self.entry.setFixedHeight(round(self.entry.natural_height()))
        self._show_section()

    def showEvent(self, event: QShowEvent) -> None:
        """Look for passes that came meanwhile, and begin to look for news."""
        super().showEvent(event)
        self.refresh()
        self._timer.start()

    def hideEvent(self, event: QHideEvent) -> None:
        """Stop looking for news; the work goes on."""
        self._timer.stop()
        super().hideEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Fit pictures and sheet to the new size."""
        super().resizeEvent(event)
        self._settle.start(SETTLE_MS)
        self._place_manual()
        self._place_sheet()

    def closeEvent(self, event: QCloseEvent) -> None:
        """Leave all work."""
        self._timer.stop()
        self._settle.stop()
        self.port.close()
        super().closeEvent(event)
