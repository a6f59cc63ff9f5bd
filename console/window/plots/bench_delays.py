"""How long it takes from a true fault until something is told of it, before and after."""

from __future__ import annotations

from PySide6.QtWidgets import QWidget

from console.present.bench_delays import delays_scene, delays_words
from console.present.plot_scene import Scene
from console.window.plots.bench_canvas import BenchCanvas


class DelaysPlot(BenchCanvas):
    """A histogram of delays; says so where no known fault has a time."""

    title = "Delay from true fault to warning"

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._delays: tuple[tuple[float, ...], tuple[float, ...]] = ((), ())

    def show_delays(self, before_s: tuple[float, ...], after_s: tuple[float, ...]) -> None:
        """Show the delays of both files, s."""
        if (before_s, after_s) != self._delays:
            self._delays = (before_s, after_s)
            self.setAccessibleDescription(delays_words(before_s, after_s))
            self.update()

    def scene(self) -> Scene:
        """Give everything that is shown."""
        return delays_scene(self.width(), self.height(), self.meter, *self._delays)
