"""The limit's curve over all passes' traces, to be dragged with the mouse or moved by keys."""

from __future__ import annotations

from collections.abc import Hashable

import numpy as np
from PySide6.QtCore import QEvent, QPointF, Qt, Signal
from PySide6.QtGui import QColor, QImage, QKeyEvent, QMouseEvent, QPainter, QPixmap
from PySide6.QtWidgets import QWidget

from console.envelope.limits import Level
from console.judging.stack import StackColumn
from console.present.bench_curve import (
    CurveFrame,
    CurveNow,
    CurveView,
    changing,
    forbidden,
    lay_out,
    point_near,
    spoken,
    standing,
)
from console.present.bench_density import MOST_LINES, Density, density, trace_lines
from console.present.bench_draft import COARSE
from console.present.plot_scene import Box, Ink, Label, Scene
from console.window.plots.bench_canvas import BenchCanvas
from console.window.plots.scene_painter import ScenePainter

STICKS_PX = 6.0
"""A drag keeps the point's range until it has gone so far across."""
WAITING = "No limit to draw, or the passes are still loading."


class CurvePlot(BenchCanvas):
    """Answers what a limit's curve has above and below it, over every pass at once.

    The traces are painted once for a limit and a size; while a curve is dragged only the curve
    is painted anew on top of them.
    """

    title = "Limit's curve over all passes"
    point_chosen = Signal(int)
    drag_begun = Signal()
    dragged = Signal(float, float)
    drag_ended = Signal()
    nudged = Signal(float, float)
    inserted = Signal(float, float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._now: CurveNow | None = None
        self._view: CurveView | None = None
        self._column: StackColumn | None = None
        self._frame: CurveFrame | None = None
        self._laid_out_for: Hashable = None
        self._plate = QPixmap()
        self._plate_for: Hashable = None
        self._grabbed: tuple[QPointF, float, float] | None = None
        self._is_freed = False
        self.setMouseTracking(True)

    @property
    def is_dragging(self) -> bool:
        """Whether the mouse holds a point."""
        return self._grabbed is not None

    @property
    def layout_now(self) -> CurveFrame | None:
        """The present layout, None before there is anything to show."""
        return self._frame

    def show_traces(self, column: StackColumn | None, view: CurveView) -> None:
        """Show a quantity of all passes in a part of the plane."""
        if column is not self._column or view != self._view:
            self._column, self._view = column, view
            self._plate_for = None
            self.update()

    def show_now(self, now: CurveNow) -> None:
        """Show the curve as it is drafted, and what it gains and loses."""
        self._now = now
        self.setAccessibleDescription(spoken(now, Level(now.draft.level)))
        self.update()

    def looks_changed(self) -> None:
        """Paint the traces anew."""
        self._plate_for = None
        self._laid_out_for = None

    def scene(self) -> Scene:
        """Give what changes: the curves and the handles; or why there is nothing."""
        frame = self._laid_out()
        if frame is None or self._now is None:
            line = self.meter.height
            box = Box(line, line, self.meter.width(WAITING), line)
            return Scene([Label(WAITING, box)])
        return changing(frame, self._now, self.meter)

    def standing_scene(self) -> Scene:
        """Give what stands still: axes, names, legend."""
        frame = self._laid_out()
        if frame is None or self._now is None:
            return Scene()
        passes = 0 if self._column is None else len(self._column.stack)
        return standing(frame, self._now.draft, self.meter, passes, passes <= MOST_LINES)

    def paint_ground(self, painter: QPainter) -> None:
        """Paint the plate: the traces and the axes, drawn anew only where they changed."""
        frame = self._laid_out()
        if frame is None or self._now is None:
            super().paint_ground(painter)
            return
        ratio = self.devicePixelRatioF()
        key = (self._laid_out_for, self._now.draft.level, ratio, id(self._column), self.theme.name)
        if key != self._plate_for:
            self._plate = self._painted(frame, ratio)
            self._plate_for = key
        super().paint_ground(painter)
        area = forbidden(frame, self._now.draft)
        if area is not None:
            ScenePainter(painter, self.theme, self.faces, ratio).draw(Scene([area]))
        painter.drawPixmap(0, 0, self._plate)

    def _laid_out(self) -> CurveFrame | None:
        if self._view is None:
            return None
        key = (self._view, self.width(), self.height(), self.faces.scale)
        if key != self._laid_out_for:
            self._frame = lay_out(self.width(), self.height(), self.meter, self._view)
            self._laid_out_for = key
        return self._frame

    def _painted(self, frame: CurveFrame, ratio: float) -> QPixmap:
        plate = QPixmap(self.size() * ratio)
        plate.setDevicePixelRatio(ratio)
        plate.fill(Qt.GlobalColor.transparent)
        painter = QPainter(plate)
        inker = ScenePainter(painter, self.theme, self.faces, ratio)
        if self._column is not None:
            if len(self._column.stack) > MOST_LINES:
                found = density(self._column, frame.plot, frame.ranges, frame.values)
                self._draw_density(painter, found)
            else:
                lines = trace_lines(self._column, frame.plot, frame.ranges, frame.values)
                inker.draw(Scene(list(lines)))
        inker.draw(self.standing_scene())
        painter.end()
        return plate

    def _draw_density(self, painter: QPainter, found: Density) -> None:
        ground, full = QColor(self.theme.panel), QColor(getattr(self.theme, Ink.TRACE_A.value))
        shades = found.shades()[..., np.newaxis]
        low = np.array(ground.getRgb()[:3], np.float64)  # type: ignore[index]
        high = np.array(full.getRgb()[:3], np.float64)  # type: ignore[index]
        pixels = np.zeros((*found.counts.shape, 4), np.uint8)
        pixels[..., :3] = np.round(low + (high - low) * shades)
        pixels[..., 3] = np.where(found.counts > 0, 255, 0)
        down, across = found.counts.shape
        image = QImage(
            pixels.tobytes(), across, down, 4 * across, QImage.Format.Format_RGBA8888
        ).copy()
        target = found.box
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, False)
        painter.drawImage(
            QPointF(target.left, target.top),
            image.scaled(
                round(across * found.cell_px), round(down * found.cell_px),
                Qt.AspectRatioMode.IgnoreAspectRatio, Qt.TransformationMode.FastTransformation,
            ),
        )  # fmt: skip

    # ------------------------------------------------------------------ mouse and keys

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take hold of the point under the pointer."""
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        at = self._point_under(event.position())
        if at is None or event.button() is not Qt.MouseButton.LeftButton:
            return
        self.point_chosen.emit(at)
        curve = self._now.draft.curve if self._now is not None else None
        if curve is not None:
            self._grabbed = (event.position(), curve.ranges_m[at], curve.values[at])
            self._is_freed = False
            self.drag_begun.emit()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Move the held point; the pointer's form tells where one can be taken."""
        if self._grabbed is None or self._frame is None:
            near = self._point_under(event.position()) is not None
            self.setCursor(Qt.CursorShape.SizeAllCursor if near else Qt.CursorShape.ArrowCursor)
            return
        start, range_m, value = self._grabbed
        moved = event.position() - start
        frame = self._frame
        x0, y0 = frame.ranges.px(range_m), frame.values.px(value)
        new_range_m, new_value = frame.at(x0 + moved.x(), y0 + moved.y())
        self._is_freed = self._is_freed or abs(moved.x()) > STICKS_PX * self.meter.unit
        new_range_m = max(new_range_m, 0.0) if self._is_freed else range_m
        self.dragged.emit(new_range_m, new_value)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Let the point go."""
        if self._grabbed is not None:
            self._grabbed = None
            self.drag_ended.emit()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Put a point where there is none."""
        if self._frame is not None and self._point_under(event.position()) is None:
            self.inserted.emit(*self._frame.at(event.position().x(), event.position().y()))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Choose a point with Left and Right, move it with the others."""
        key, held = Qt.Key(event.key()), event.modifiers()
        many = COARSE if held & Qt.KeyboardModifier.ShiftModifier else 1
        across = {Qt.Key.Key_Left: 1, Qt.Key.Key_Right: -1}.get(key)
        up = {Qt.Key.Key_Up: 1, Qt.Key.Key_Down: -1}.get(key)
        if self._now is not None and across is not None:
            if held & Qt.KeyboardModifier.ControlModifier:
                self.nudged.emit(float(across * many), 0.0)
            else:
                self.point_chosen.emit(self._now.point + across)
        elif up is not None:
            self.nudged.emit(0.0, float(up * many))
        else:
            super().keyPressEvent(event)

    def event(self, event: QEvent) -> bool:
        """Keep the arrows for the curve, whatever shortcuts there are."""
        if event.type() is QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            arrows = (Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Up, Qt.Key.Key_Down)
            if Qt.Key(event.key()) in arrows:
                event.accept()
                return True
        return super().event(event)

    def _point_under(self, place: QPointF) -> int | None:
        frame = self._laid_out()
        if frame is None or self._now is None:
            return None
        return point_near(frame, self._now.draft.curve, place.x(), place.y(), self.meter.unit)
