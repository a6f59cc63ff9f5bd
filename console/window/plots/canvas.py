"""The base of every plot: a standing plate painted once, traces added as they grow, marks on top.

The plate holds what does not change from snapshot to snapshot, and the traces. A trace only grows,
so each frame adds the few samples that came since the last; the whole is drawn anew, from the
pyramid, when an axis steps or the size changes. A frame thus costs the same however long the pass.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Hashable

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPixmap
from PySide6.QtWidgets import QSizePolicy, QWidget

from console.approach.snapshot import Snapshot
from console.envelope.limits import LimitsFile
from console.present.lane_spec import Here
from console.present.plot_scene import Line, Scene
from console.present.theme import DARK, Theme
from console.present.trail import DRAWN, Channel, Trail
from console.window.fonts import Faces
from console.window.plots.scene_painter import FaceMeter, ScenePainter


class PlotCanvas(QWidget):
    """A plot of snapshots and a trail.

    Attributes
    ----------
    title : str
        What it is called, also by a screen reader.
    """

    title = ""
    _LEAST_EM = (20.0, 12.0)
    _USUAL_EM = (40.0, 24.0)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme: Theme = DARK
        self._scale = 1.0
        self._faces = Faces(1.0)
        self._meter = FaceMeter(self._faces)
        self._limits: LimitsFile | None = None
        self._snapshot: Snapshot | None = None
        self._trail = Trail(levels=1, blocks=4)
        self._plate = QPixmap()
        self._plate_key: Hashable = None
        self._drawn_to = 0
        self._spoken_second: int | None = None
        self.setAccessibleName(self.title)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)

    def show_snapshot(self, snapshot: Snapshot | None, trail: Trail) -> None:
        """Show the newest state and the trail; the spoken words follow once a second.

        Nothing is drawn where both are the same as before.
        """
        same = snapshot is self._snapshot and trail is self._trail
        if same and self._rows() == self._drawn_to and self._plate_key is not None:
            return
        self._snapshot, self._trail = snapshot, trail
        second = None if snapshot is None else int(snapshot.t)
        if second != self._spoken_second:
            self._spoken_second = second
            self.setAccessibleDescription(self.spoken(snapshot))
        self.update()

    def set_limits(self, limits: LimitsFile | None) -> None:
        """Take the limits in force."""
        self._limits = limits
        self._plate_key = None
        self.update()

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take colours and text size."""
        self._theme, self._scale = theme, scale
        self._faces = Faces(scale)
        self._meter = FaceMeter(self._faces)
        self._plate_key = None
        self.updateGeometry()
        self.update()

    @abstractmethod
    def spoken(self, snapshot: Snapshot | None) -> str:
        """Give what is shown in words."""

    @abstractmethod
    def _arrange(self) -> Hashable:
        """Bring the layout up to date and give what the plate depends on."""

    @abstractmethod
    def _standing(self) -> Scene:
        """Give the marks that do not change from snapshot to snapshot."""

    def _look(self) -> tuple[Hashable, ...]:
        """Give what every layout depends on."""
        limits = None if self._limits is None else self._limits.sha256
        return (self.width(), self.height(), self._scale, self._theme.name, limits)

    def _end_of_trail(self) -> Here | None:
        """Give the newest measured row of the trail, where a coasted stretch begins; else None."""
        s = self._snapshot
        if s is None or not (s.stale or s.coasted):
            return None
        row = self._trail.newest_measured()
        if row is None:
            return None
        return Here(row[Channel.RANGE_M], {channel: row[channel] for channel in DRAWN})

    def _rows(self) -> int:
        """Give the number of trail rows there are for the traces."""
        return 0

    def _traces(self, start: int, stop: int) -> list[Line]:
        """Give the traces of rows ``start`` to before ``stop``."""
        return []

    @abstractmethod
    def _changing(self) -> Scene:
        """Give the marks of the present snapshot."""

    def scene(self) -> Scene:
        """Give everything that is shown but the traces, for tests and for those who ask."""
        self._arrange()
        whole = Scene([*self._standing().marks])
        whole.add(*self._changing().marks)
        return whole

    def minimumSizeHint(self) -> QSize:
        """Give the least size at which nothing is cut."""
        return self._size_of(self._LEAST_EM)

    def sizeHint(self) -> QSize:
        """Give a good size."""
        return self._size_of(self._USUAL_EM)

    def _size_of(self, size_em: tuple[float, float]) -> QSize:
        em = self._meter.height
        return QSize(round(size_em[0] * em), round(size_em[1] * em))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the plate, then the changing marks."""
        self._refresh_plate()
        painter = QPainter(self)
        painter.drawPixmap(0, 0, self._plate)
        ScenePainter(painter, self._theme, self._faces, self.devicePixelRatioF()).draw(
            self._changing()
        )
        if self.hasFocus():
            self._draw_frame(painter, self._theme.focus)
        painter.end()

    def _refresh_plate(self) -> None:
        """Draw the plate anew where it no longer fits, else add the trace's new rows to it."""
        per_px = self.devicePixelRatioF()
        arranged = self._arrange()
        key = (arranged, self.width(), self.height(), per_px, id(self._trail))
        rows = self._rows()
        anew = key != self._plate_key or rows < self._drawn_to
        if not anew and rows == self._drawn_to:
            return
        if anew:
            self._plate = QPixmap(self.size() * per_px)
            self._plate.setDevicePixelRatio(per_px)
            self._plate.fill(QColor(self._theme.panel))
        painter = QPainter(self._plate)
        inker = ScenePainter(painter, self._theme, self._faces, per_px)
        if anew:
            inker.draw(self._standing())
            self._draw_frame(painter, self._theme.hairline)
        start = 0 if anew else max(self._drawn_to - 1, 0)
        for trace in self._traces(start, rows):
            inker.draw_mark(trace)
        painter.end()
        self._plate_key, self._drawn_to = key, rows

    def _draw_frame(self, painter: QPainter, colour: str) -> None:
        painter.setPen(QPen(QColor(colour)))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(QRectF(0.5, 0.5, self.width() - 1.0, self.height() - 1.0))
