"""The main window: the views by tabs or Ctrl+1 to Ctrl+4, theme, text size, full screen."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QCloseEvent, QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import (
    QApplication,
    QMainWindow,
    QStackedWidget,
    QTabBar,
    QVBoxLayout,
    QWidget,
)

from console.present.theme import DARK, Theme
from console.window.keys import WINDOW_KEYS, Intent
from console.window.palette import dress, next_theme
from console.window.said_line import SaidLine
from console.window.view_slot import as_view, unsaved_in

USUAL_SIZE = (1600, 900)
FRAME_PX = 48
"""Title bar and borders of a window manager, at most."""
LEAST_SIZE = (640, 400)
LEAST_SCALE = 0.92
MOST_SCALE = 4.0
TEXT_STEPS = (1.0, 1.1, 1.25, 1.5, 1.75, 2.0)
"""The operator's own text sizes, 100 % to 200 %."""


def scale_of(width: float, height: float, text_size: float) -> float:
    """Give the scale of a window: 1 at 1600 by 900, larger with it, then by the text size.

    It never falls below a readable size; a small window scrolls instead.
    """
    fitted = min(width / USUAL_SIZE[0], height / USUAL_SIZE[1])
    return round(min(max(fitted, LEAST_SCALE), MOST_SCALE) * text_size, 2)


class MainWindow(QMainWindow):
    """One window for all views.

    Parameters
    ----------
    views : sequence of QWidget
        Each also a :class:`~console.window.view_slot.View`; in the order of their tabs and of
        Ctrl+1 to Ctrl+4. With a single one no tabs are shown.
    title : str
        In the window's frame, before the program's name, which Qt adds.
    theme : Theme
        To begin with.
    on_close : callable, optional
        Called once, when the window closes.
    """

    def __init__(
        self,
        views: Sequence[QWidget],
        *,
        title: str,
        theme: Theme = DARK,
        on_close: Callable[[], None] | None = None,
    ) -> None:
        super().__init__()
        self.setWindowTitle(title)
        self.setMinimumSize(*LEAST_SIZE)
        self.theme = theme
        self.text_size = 1.0
        self._on_close = on_close
        self._asks_before_closing = True
        self._warning = ""
        self._views = tuple(views)
        self._dressed: tuple[str, float] | None = None
        self.tabs = QTabBar()
        self.tabs.setAutoHide(True)
        self.tabs.setAccessibleName("Views")
        self.tabs.setExpanding(False)
        self.tabs.setDrawBase(False)
        self.said = SaidLine()
        self.stack = QStackedWidget()
        for view in self._views:
            self.tabs.addTab(as_view(view).title)
            self.stack.addWidget(view)
        self.tabs.currentChanged.connect(self._on_tab_changed)
        self._lay_out()
        self._bind_keys()
        self.resize(*USUAL_SIZE)

    def show_within(self, room: QSize) -> None:
        """Show the window, filling the screen where the usual size with its frame is too large.

        Parameters
        ----------
        room : QSize
            What the screen has free, px. The status line at the foot must not lie outside it.
        """
        width, height = USUAL_SIZE
        if room.width() >= width + FRAME_PX and room.height() >= height + FRAME_PX:
            self.show()
            return
        self.resize(min(width, room.width()), min(height, room.height()))
        self.showMaximized()

    def _lay_out(self) -> None:
        middle = QWidget()
        column = QVBoxLayout(middle)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.tabs)
        column.addWidget(self.stack, 1)
        column.addWidget(self.said)
        self.setCentralWidget(middle)

    def _bind_keys(self) -> None:
        deeds: dict[Intent, Callable[[], None]] = {
            Intent.THEME: lambda: self.set_theme(next_theme(self.theme)),
            Intent.TEXT_LARGER: lambda: self._step_text(1),
            Intent.TEXT_SMALLER: lambda: self._step_text(-1),
            Intent.TEXT_NORMAL: lambda: self.set_text_size(1.0),
            Intent.FULL_SCREEN: self._toggle_full_screen,
        }
        for key in WINDOW_KEYS:
            for sequence in key.sequences:
                self._bind(sequence, deeds[key.intent])
        for i in range(len(self._views)):
            self._bind(f"Ctrl+{i + 1}", partial(self.tabs.setCurrentIndex, i))

    def _bind(self, sequence: str, deed: Callable[[], None]) -> None:
        shortcut = QShortcut(QKeySequence(sequence), self)
        shortcut.activated.connect(deed)

    def show_view(self, title: str) -> None:
        """Bring a view to the front, by the title of its tab as it was given."""
        titles = [as_view(view).title for view in self._views]
        self.tabs.setCurrentIndex(titles.index(title))

    def mark_tab(self, title: str, mark: str) -> None:
        """Write a word behind a tab's title, for what must be known in every view; '' for none."""
        titles = [as_view(view).title for view in self._views]
        words = f"{title}  {mark}" if mark else title
        if self.tabs.tabText(titles.index(title)) != words:
            self.tabs.setTabText(titles.index(title), words)

    def _on_tab_changed(self, index: int) -> None:
        self.stack.setCurrentIndex(index)
        self._views[index].setFocus()

    def set_theme(self, theme: Theme) -> None:
        """Change the colours of everything."""
        self.theme = theme
        self._dress()

    def set_text_size(self, text_size: float) -> None:
        """Change the operator's own text size, 1 to 2."""
        self.text_size = min(max(text_size, TEXT_STEPS[0]), TEXT_STEPS[-1])
        self._dress()

    def _step_text(self, step: int) -> None:
        nearest = min(TEXT_STEPS, key=lambda size: abs(size - self.text_size))
        place = min(max(TEXT_STEPS.index(nearest) + step, 0), len(TEXT_STEPS) - 1)
        self.set_text_size(TEXT_STEPS[place])

    def _toggle_full_screen(self) -> None:
        self.setWindowState(self.windowState() ^ Qt.WindowState.WindowFullScreen)

    def _dress(self) -> None:
        scale = scale_of(self.width(), self.height(), self.text_size)
        if self._dressed == (self.theme.name, scale):
            return
        self._dressed = (self.theme.name, scale)
        app = QApplication.instance()
        if isinstance(app, QApplication):
            dress(app, self.theme)
        self.said.apply_theme(self.theme, scale)
        for view in self._views:
            as_view(view).apply_theme(self.theme, scale)

    @property
    def _is_warned(self) -> bool:
        return bool(self._warning) and self.said.text() == self._warning and self.said.stands

    def _warn_of_loss(self) -> bool:
        for index, view in enumerate(self._views):
            lost = unsaved_in(view)
            if lost:
                self.tabs.setCurrentIndex(index)
                self._warning = f"{lost} Close again to leave without it."
                self.said.say(self._warning)
                return True
        return False

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Let the text grow with the window."""
        super().resizeEvent(event)
        self._dress()

    def close_now(self) -> None:
        """Close without asking: the system wants the program to end."""
        self._asks_before_closing = False
        self.close()

    def closeEvent(self, event: QCloseEvent) -> None:
        """Close the views, then tell whoever wanted to know.

        Where work would be lost the first wish is refused with a line that says so; a second one
        while the line still stands is followed.
        """
        if self._asks_before_closing and not self._is_warned and self._warn_of_loss():
            event.ignore()
            return
        for view in self._views:
            view.close()
        if self._on_close is not None:
            on_close, self._on_close = self._on_close, None
            on_close()
        super().closeEvent(event)
