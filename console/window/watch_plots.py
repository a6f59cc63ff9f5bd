"""The one place where the Watch view's plots are chosen."""

from __future__ import annotations

from PySide6.QtWidgets import QStackedWidget, QWidget

from console.present.port import Watched
from console.present.theme import Theme
from console.present.trail import Trail
from console.window.plots.canvas import PlotCanvas
from console.window.plots.capture import CapturePlot
from console.window.plots.lanes import LanesPlot
from console.window.plots.port_plane import PortPlanePlot
from console.window.plots.time_strip import TimeStripPlot


class WatchPlots:
    """The four plots: lanes give way to capture after contact, the others stay.

    Attributes
    ----------
    main : QStackedWidget
        Lanes or capture.
    """

    def __init__(self, parent: QWidget) -> None:
        self.lanes = LanesPlot()
        self.capture = CapturePlot()
        self.port_plane = PortPlanePlot(parent)
        self.time_strip = TimeStripPlot(parent)
        self.main = QStackedWidget(parent)
        self.main.addWidget(self.lanes)
        self.main.addWidget(self.capture)
        self._limits_sha256 = ""

    @property
    def all(self) -> tuple[PlotCanvas, ...]:
        """All four, in the order of importance."""
        return (self.lanes, self.capture, self.port_plane, self.time_strip)

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Hand colours and text size on."""
        for plot in self.all:
            plot.apply_theme(theme, scale)

    def show_watched(self, watched: Watched, trail: Trail) -> None:
        """Show the newest state and the trail; only what is in sight is drawn."""
        if watched.limits.sha256 != self._limits_sha256:
            self._limits_sha256 = watched.limits.sha256
            for plot in self.all:
                plot.set_limits(watched.limits)
        snapshot = watched.snapshot
        has_contact = snapshot is not None and snapshot.capture is not None
        shown: PlotCanvas = self.capture if has_contact else self.lanes
        if self.main.currentWidget() is not shown:
            self.main.setCurrentWidget(shown)
        for plot in (shown, self.port_plane, self.time_strip):
            plot.show_snapshot(snapshot, trail)
