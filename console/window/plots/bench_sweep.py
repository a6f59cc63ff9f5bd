"""A limit swept by one knob: which point is taken, if any, the engineer decides."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent
from PySide6.QtWidgets import QWidget

from console.present.bench_sweep import SweepView, nearest, point_words, sweep_scene
from console.present.plot_scene import Scene
from console.window.plots.bench_canvas import BenchCanvas


class SweepPlot(BenchCanvas):
    """Nuisance against miss; Left and Right choose a point, Return puts it into the draft."""

    title = "Sweep of this limit: nuisance against miss"
    point_chosen = Signal(int)
    point_taken = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._view: SweepView | None = None

    @property
    def view(self) -> SweepView | None:
        """What is shown."""
        return self._view

    def show_sweep(self, view: SweepView) -> None:
        """Show a sweep."""
        if view != self._view:
            self._view = view
            self.setAccessibleDescription(point_words(view))
            self.update()

    def scene(self) -> Scene:
        """Give everything that is shown."""
        return sweep_scene(self.width(), self.height(), self.meter, self._view)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Choose with Left and Right, take with Return."""
        step = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}.get(Qt.Key(event.key()))
        if self._view is None or not self._view.points:
            super().keyPressEvent(event)
        elif step is not None:
            last = len(self._view.points) - 1
            self.point_chosen.emit(min(max(self._view.chosen + step, 0), last))
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.point_taken.emit(self._view.chosen)
        else:
            super().keyPressEvent(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Choose the nearest point."""
        if self._view is not None:
            where = (event.position().x(), event.position().y())
            at = nearest(self.width(), self.height(), self.meter, self._view, where)
            if at is not None:
                self.point_chosen.emit(at)
        super().mousePressEvent(event)
