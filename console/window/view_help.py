"""The sheet of keys and the manual for a page that has neither: F1, F2, and Esc to close them."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QWidget

from console.present.theme import Theme
from console.window.keys import VIEW_WORDS, WINDOW_KEYS
from console.window.panels.manual import ManualReader
from console.window.panels.sheet import KeySheet

HINTS = ("F1 keys", "F2 manual")
SHARE = 0.9
"""Of the page's height, for the sheet."""

Rows = tuple[tuple[str, str], ...]


def help_rows(rows: Rows) -> Rows:
    """Give a page's rows for the sheet, with the keys that are the same everywhere."""
    window = tuple((" or ".join(key.sequences[:2]), key.words) for key in WINDOW_KEYS)
    own = (("F1", "these keys"), ("F2", "manual"), ("Esc", "close sheet or manual"))
    return (*rows, *own, *window, VIEW_WORDS)


class ViewHelp(QObject):
    """Lies over a page while it is wanted, never by itself.

    Parameters
    ----------
    page : QWidget
        What it belongs to.
    rows : tuple of (str, str)
        The page's own keys and what they do.
    """

    def __init__(self, page: QWidget, rows: Rows) -> None:
        super().__init__(page)
        self._page = page
        self.sheet = KeySheet(help_rows(rows), page)
        self.manual = ManualReader(page)
        page.installEventFilter(self)
        keys: tuple[tuple[str, Callable[[], None]], ...] = (
            ("F1", self.toggle_sheet), ("F2", self.toggle_manual), ("Esc", self.close),
        )  # fmt: skip
        for key, deed in keys:
            shortcut = QShortcut(QKeySequence(key), page)
            shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            shortcut.activated.connect(deed)

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        self.sheet.apply_theme(theme, scale)
        self.manual.apply_theme(theme, scale)
        self._place()

    def toggle_sheet(self) -> None:
        """Show the keys, page by page, or hide them."""
        self._place()
        self.sheet.turn()
        self.sheet.raise_()

    def toggle_manual(self) -> None:
        """Open the manual over the page, or close it."""
        if self.manual.isVisible():
            self.manual.close_reader()
            return
        self._place()
        self.manual.raise_()
        self.manual.open_reader()

    def close(self) -> None:
        """Hide both."""
        self.sheet.hide()
        self.manual.close_reader()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Follow the page's size."""
        if event.type() is QEvent.Type.Resize:
            self._place()
        return super().eventFilter(watched, event)

    def _place(self) -> None:
        wide, high = self._page.width(), self._page.height()
        edge = round(0.5 * (1.0 - SHARE) * high)
        size = self.sheet.size_in(SHARE * high, float(wide))
        left = max((wide - size.width()) // 2, 0)
        self.sheet.setGeometry(left, edge, size.width(), size.height())
        self.manual.setGeometry(self._page.rect())  # a rim would show half words of the page
