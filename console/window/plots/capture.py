"""After contact: motion damping out, the ring, the hooks, the vestibule."""

from __future__ import annotations

from collections.abc import Hashable

from PySide6.QtWidgets import QWidget

from console.approach.snapshot import Snapshot
from console.present.capture_plots import CaptureFrame, lay_out_capture, standing_capture
from console.present.capture_plots_now import (
    capture_trace,
    capture_words,
    changing_capture,
    highest,
)
from console.present.capture_spec import CaptureAxes, t_origin
from console.present.plot_scene import Line, Scene
from console.window.plots.canvas import PlotCanvas

TRACE_PX = 2.0


class CapturePlot(PlotCanvas):
    """Answers whether capture goes as it should: motion dies, ring comes in, hooks close.

    What no status told yet is said to be not yet received; stale points are hollow and hatched.
    """

    title = "Capture: relative motion, ring, hooks, vestibule pressure"
    _LEAST_EM = (26.0, 22.0)
    _USUAL_EM = (56.0, 44.0)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._axes = CaptureAxes()
        self._frame: CaptureFrame | None = None
        self._stand = Scene()
        self._laid_out_for: Hashable = None
        self._history: Hashable = None

    def spoken(self, snapshot: Snapshot | None) -> str:
        """Give the mechanism's state in words."""
        return capture_words(snapshot)

    def _arrange(self) -> Hashable:
        history = (id(self._trail), self._trail.generation, t_origin(self._snapshot))
        if history != self._history:
            self._history = history
            self._axes.reset()
        view = self._axes.advance(self._snapshot, highest(self._trail))
        key = (view, *self._look())
        if key != self._laid_out_for or self._frame is None:
            self._frame = lay_out_capture(self.width(), self.height(), self._meter, view)
            self._stand = standing_capture(self._frame, self._meter)
            self._laid_out_for = key
        return (key, history)

    def _placed(self) -> CaptureFrame:
        if self._frame is None:
            self._arrange()
        assert self._frame is not None
        return self._frame

    def _standing(self) -> Scene:
        self._placed()
        return self._stand

    def _rows(self) -> int:
        return self._trail.capture_count

    def _traces(self, start: int, stop: int) -> list[Line]:
        origin_t = t_origin(self._snapshot)
        if origin_t is None:
            return []
        lines = []
        for panel in self._placed().panels:
            trace = capture_trace(self._trail, panel, origin_t, start, stop)
            lines.append(Line(trace.x, trace.y, panel.spec.ink, TRACE_PX, clip=panel.plot))
        return lines

    def _changing(self) -> Scene:
        return changing_capture(self._placed(), self._snapshot, self._trail, self._meter)
