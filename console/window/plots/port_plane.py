"""The port plane: where across the docking axis it is, and where it will touch."""

from __future__ import annotations

from collections.abc import Hashable

from PySide6.QtWidgets import QWidget

from console.approach.snapshot import Snapshot
from console.present.plot_scene import Scene, series
from console.present.plot_trace import PlaneExtent, Polyline, plane_trace
from console.present.port_plane import (
    HALF_M,
    START_HALF_M,
    PlaneFrame,
    contact_radius_m,
    corridor_here,
    lay_out_plane,
    needed_half_m,
    plane_here,
    standing_plane,
)
from console.present.port_plane_now import TRAIL_S, changing_plane, plane_words
from console.window.plots.canvas import PlotCanvas

_NONE = Polyline(series(()), series(()))


class PortPlanePlot(PlotCanvas):
    """Answers how far off the docking axis the vehicle is, and where it is going to touch.

    Without data it says so; while coasting the point is hollow and hatched and its way since the
    last sample dotted.
    """

    title = "Port plane, seen from the vehicle"
    _LEAST_EM = (14.0, 14.0)
    _USUAL_EM = (24.0, 26.0)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._half_m: float | None = None
        self._frame: PlaneFrame | None = None
        self._stand = Scene()
        self._laid_out_for: Hashable = None
        self._kept: dict[str, int] = {}

    def spoken(self, snapshot: Snapshot | None) -> str:
        """Give position and predicted contact in words."""
        return plane_words(snapshot)

    def _arrange(self) -> Hashable:
        where, corridor = plane_here(self._snapshot), corridor_here(self._snapshot)
        needed = needed_half_m(where, corridor, contact_radius_m(self._limits))
        if needed is not None:
            self._half_m = HALF_M.next(self._half_m, needed)
        half = START_HALF_M if self._half_m is None else self._half_m
        key = (half, *self._look())
        if key != self._laid_out_for or self._frame is None:
            self._frame = lay_out_plane(self.width(), self.height(), self._meter, half)
            self._stand = standing_plane(self._frame, self._limits, self._meter)
            self._laid_out_for = key
            self._kept.clear()
        return key

    def _standing(self) -> Scene:
        return self._stand

    def _changing(self) -> Scene:
        if self._frame is None:
            self._arrange()
        assert self._frame is not None
        return changing_plane(
            self._frame, self._snapshot, self._recent(self._frame), self._end_of_trail(),
            contact_radius_m(self._limits), self._meter, self._kept,
        )  # fmt: skip

    def _recent(self, frame: PlaneFrame) -> Polyline:
        """Give the trail of the last minutes."""
        trail = self._trail
        if self._snapshot is None or trail.count == 0:
            return _NONE
        start = trail.times.first_since(self._snapshot.t - TRAIL_S)
        nodes = trail.path.refine(start, trail.count, PlaneExtent(frame.px_per_m))
        return plane_trace(nodes, frame.across, frame.up)
