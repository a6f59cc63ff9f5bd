"""Closing rate, lateral offset and misalignment against range: where it is and where it goes."""

from __future__ import annotations

from collections.abc import Hashable

from PySide6.QtWidgets import QWidget

from console.approach.snapshot import Snapshot
from console.envelope.limits import LimitsFile
from console.present.lane_spec import here
from console.present.lanes import LanesAxes, LanesFrame, lay_out
from console.present.lanes_now import changing, lanes_words
from console.present.lanes_overlay import extremes_of, overlay_lines
from console.present.lanes_scene import StandingLanes, standing
from console.present.plot_scene import Line, Scene
from console.present.plot_trace import RangeExtent, lane_trace
from console.present.replay_port import Overlay
from console.window.plots.canvas import PlotCanvas

TRACE_PX = 2.0
FINEST_PX = 1.5


class LanesPlot(PlotCanvas):
    """Answers whether it is inside its envelope, and whether it will be at contact.

    Three lanes share a square-root axis of range with contact at the right edge. Without data
    it says so; while coasting the trail stops, the points are hollow and hatched, and the way
    since the last sample is dotted.
    """

    title = "Lanes: closing rate, lateral offset and misalignment against range"
    _LEAST_EM = (26.0, 22.0)
    _USUAL_EM = (56.0, 44.0)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._axes = LanesAxes()
        self._frame: LanesFrame | None = None
        self._stand: StandingLanes | None = None
        self._laid_out_for: Hashable = None
        self._overlay: Overlay | None = None

    def set_overlay(self, overlay: Overlay | None) -> None:
        """Lay a second pass over the lanes, or take it away."""
        if overlay is not self._overlay:
            self._overlay = overlay
            self._axes.set_beside(None if overlay is None else extremes_of(overlay))
            self._plate_key = None
            self.update()

    def set_limits(self, limits: LimitsFile | None) -> None:
        """Take the limits in force: bands, marks and the room the value axes need."""
        self._axes.set_limits(limits)
        self._laid_out_for = None
        super().set_limits(limits)

    def spoken(self, snapshot: Snapshot | None) -> str:
        """Give where the vehicle is and what is abnormal, in words."""
        return lanes_words(snapshot)

    def _arrange(self) -> Hashable:
        view = self._axes.advance(here(self._snapshot))
        beside = "" if self._overlay is None else self._overlay.name
        key = (view, beside, *self._look())
        if key != self._laid_out_for or self._frame is None:
            self._frame = lay_out(self.width(), self.height(), self._meter, view)
            self._stand = standing(self._frame, self._limits, self._meter, beside)
            self._laid_out_for = key
        return (key, self._trail.generation)

    def _laid_out(self) -> tuple[LanesFrame, StandingLanes]:
        if self._frame is None or self._stand is None:
            self._arrange()
        assert self._frame is not None
        assert self._stand is not None
        return self._frame, self._stand

    def _standing(self) -> Scene:
        frame, stand = self._laid_out()
        if self._overlay is None:
            return stand.scene
        return Scene([*stand.scene.marks, *overlay_lines(frame, self._overlay)])

    def _rows(self) -> int:
        return self._trail.count

    def _traces(self, start: int, stop: int) -> list[Line]:
        frame, _ = self._laid_out()
        extent = RangeExtent(frame.ranges, frame.lanes[0].plot.right)
        nodes = self._trail.path.refine(start, stop, extent, FINEST_PX)
        lines = []
        for lane in frame.lanes:
            for spec in lane.spec.traces:
                trace = lane_trace(nodes, frame.ranges, lane.values, spec.channel)
                lines.append(Line(trace.x, trace.y, spec.ink, TRACE_PX, clip=lane.plot))
        return lines

    def _changing(self) -> Scene:
        frame, stand = self._laid_out()
        return changing(frame, stand, self._snapshot, self._end_of_trail(), self._meter)
