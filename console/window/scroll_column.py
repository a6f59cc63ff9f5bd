"""A column that scrolls: for what does not fit a small window at a large text."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QScrollArea, QWidget


class ScrollColumn(QScrollArea):
    """Scrolls up and down; what the keyboard goes to is brought into sight.

    Attributes
    ----------
    inner : QWidget
        What its parts stand in; whoever places them gives it its size.
    """

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setFrameShape(QScrollArea.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.inner = QWidget()
        self.setWidget(self.inner)
        self.hide()
        app = QApplication.instance()
        if isinstance(app, QApplication):
            app.focusChanged.connect(self._on_focus_changed)

    def focusNextPrevChild(self, forward: bool) -> bool:
        """Go to the next part, and to its top where it is higher than the column."""
        went = super().focusNextPrevChild(forward)
        self._on_focus_changed(None, QApplication.focusWidget())
        return went

    def _on_focus_changed(self, _old: QWidget | None, now: QWidget | None) -> None:
        if now is None or self.isHidden() or not self.inner.isAncestorOf(now):
            return
        if now.height() > self.viewport().height():
            self.verticalScrollBar().setValue(now.mapTo(self.inner, now.rect().topLeft()).y())
        else:
            self.ensureWidgetVisible(now, 0, 0)
