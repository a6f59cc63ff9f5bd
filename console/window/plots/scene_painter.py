"""Inks a scene: marks in pixels become strokes in the theme's colours, and nothing else."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPainterPath, QPen, QPolygonF

from console.core.units import DEG_PER_RAD
from console.present.plot_scene import (
    Area,
    Bar,
    Box,
    Ink,
    Label,
    Line,
    Mark,
    Marker,
    Ring,
    Scene,
    Shape,
    Stroke,
)
from console.present.theme import Theme
from console.window.fonts import Face, Faces
from console.window.plots.curve import curve_path

_PATTERN: dict[Stroke, list[float]] = {
    Stroke.DASHED: [5.0, 4.0],
    Stroke.DOTTED: [1.5, 3.0],
    Stroke.CHAIN: [9.0, 3.0, 1.5, 3.0],
}
_APART_PX = 0.8
_HATCH_PX = 5.0
_FINE = 1.0


@dataclass(frozen=True, slots=True)
class FaceMeter:
    """Tells layout how large a text of the plots is."""

    faces: Faces

    @property
    def unit(self) -> float:
        """Pixels of what is one pixel at text scale 1."""
        return self.faces.scale

    @property
    def height(self) -> float:
        """Height of a line of text, px."""
        return float(math.ceil(self.faces.line(Face.SMALL)))

    def width(self, text: str, *, bold: bool = False) -> float:
        """Width of a text, px."""
        return self.faces.width(Face.SMALL_BOLD if bold else Face.SMALL, text)


class ScenePainter:
    """Draws marks with one painter.

    Parameters
    ----------
    per_px : float
        Device pixels of a pixel.
    """

    def __init__(self, painter: QPainter, theme: Theme, faces: Faces, per_px: float) -> None:
        self._painter = painter
        self._theme = theme
        self._faces = faces
        self._per_px = per_px
        self._thick = max(faces.scale, 1.0)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setRenderHint(QPainter.RenderHint.TextAntialiasing)

    def draw(self, scene: Scene) -> None:
        """Draw a scene's marks in order."""
        for mark in scene.marks:
            self.draw_mark(mark)

    def draw_mark(self, mark: Mark) -> None:
        """Draw one mark."""
        clip = mark.clip if isinstance(mark, Line | Area | Ring) else None
        if clip is not None:
            self._painter.save()
            self._painter.setClipRect(_rect(clip))
        match mark:
            case Line():
                self._line(mark)
            case Area():
                self._area(mark)
            case Ring():
                self._ring(mark)
            case Bar():
                self._bar(mark)
            case Marker():
                self._marker(mark)
            case Label():
                self._label(mark)
        if clip is not None:
            self._painter.restore()

    def _colour(self, ink: Ink) -> QColor:
        return QColor(getattr(self._theme, ink.value))

    def _weakened(self, ink: Ink, opacity: float) -> QColor:
        """Give a colour mixed with the panel's: what is seen through, at the price of a plain one.

        Drawing with real transparency takes ten times as long.
        """
        colour = self._colour(ink)
        if opacity >= 1.0:
            return colour
        ground = self._colour(Ink.PANEL)
        pairs = zip(colour.getRgb()[:3], ground.getRgb()[:3], strict=True)  # type: ignore[index]
        return QColor(*(round(opacity * c + (1.0 - opacity) * g) for c, g in pairs))

    def _pen(self, mark: Line | Ring) -> QPen:
        opacity = mark.opacity if isinstance(mark, Line) else 1.0
        pen = QPen(self._weakened(mark.ink, opacity))
        pen.setWidthF(mark.width * self._thick)
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        if mark.stroke is not Stroke.SOLID:
            pen.setDashPattern([part / max(mark.width, 1.0) for part in _PATTERN[mark.stroke]])
        return pen

    def _line(self, mark: Line) -> None:
        """Draw a polyline; a long wide one as several fine ones side by side.

        Qt strokes a fine line about a hundred times faster than a wide one, and side by side
        they look the same.
        """
        painter = self._painter
        straight = self._straight(mark)
        if straight is not None:
            self._fill(straight, self._weakened(mark.ink, mark.opacity))
            return
        path = curve_path(mark.x, mark.y)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        if mark.x.shape[0] <= 4 or mark.stroke is not Stroke.SOLID:
            painter.setPen(self._pen(mark))
            painter.drawPath(path)
            return
        pen = QPen(self._weakened(mark.ink, mark.opacity))
        pen.setWidthF(_FINE)
        pen.setCosmetic(True)
        painter.setPen(pen)
        for x, y in strands(mark.width * self._thick * self._per_px):
            painter.drawPath(path.translated(x / self._per_px, y / self._per_px))

    def _straight(self, mark: Line) -> QRectF | None:
        """Give an upright or level whole line as the box it fills, None for any other.

        Filling a box takes a hundredth of the time of stroking a line.
        """
        if mark.x.shape[0] != 2 or mark.stroke is not Stroke.SOLID:
            return None
        x0, x1, y0, y1 = float(mark.x[0]), float(mark.x[1]), float(mark.y[0]), float(mark.y[1])
        width = mark.width * self._thick
        if x0 == x1:
            return QRectF(x0 - width / 2.0, min(y0, y1), width, abs(y1 - y0))
        if y0 == y1:
            return QRectF(min(x0, x1), y0 - width / 2.0, abs(x1 - x0), width)
        return None

    def _area(self, mark: Area) -> None:
        """Fill a polygon, its rim not smoothed: a smoothed one takes eight times as long."""
        painter = self._painter
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        painter.setPen(Qt.PenStyle.NoPen)
        colour = self._colour(mark.ink)
        colour.setAlphaF(mark.opacity)
        painter.setBrush(colour)
        painter.drawPath(curve_path(mark.x, mark.y))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)

    def _ring(self, mark: Ring) -> None:
        painter = self._painter
        painter.save()
        painter.setPen(self._pen(mark))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.translate(mark.x, mark.y)
        painter.rotate(-mark.turn_rad * DEG_PER_RAD)
        painter.drawEllipse(QPointF(0.0, 0.0), mark.half_width, mark.half_height)
        painter.restore()

    def _fill(self, box: QRectF, colour: QColor) -> None:
        """Fill a box on whole device pixels, which is much faster than smoothing its rim."""
        painter = self._painter
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        painter.fillRect(box, colour)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)

    def _bar(self, mark: Bar) -> None:
        if mark.hatched:
            self._hatch(_path_of(mark.box), mark.box, mark.ink)
        else:
            self._fill(_rect(mark.box), self._weakened(mark.ink, mark.opacity))

    def _hatch(self, outline: QPainterPath, box: Box, ink: Ink) -> None:
        """Hatch a shape with rising strokes, at one pitch at every pixel density."""
        painter = self._painter
        painter.save()
        pitch = _HATCH_PX * self._thick
        pen = QPen(self._colour(ink))
        pen.setWidthF(self._thick)
        painter.setPen(pen)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawPath(outline)
        painter.setClipPath(outline, Qt.ClipOperation.IntersectClip)
        start = box.left - box.height
        for i in range(int((box.width + box.height) / pitch) + 1):
            x = start + i * pitch
            painter.drawLine(QPointF(x, box.bottom), QPointF(x + box.height, box.top))
        painter.restore()

    def _marker(self, mark: Marker) -> None:
        painter = self._painter
        outline = _outline(mark.shape, mark.x, mark.y, mark.size / 2.0)
        pen = QPen(self._colour(mark.ink))
        if mark.stale:
            painter.fillPath(outline, self._colour(Ink.PANEL))
            box = Box(mark.x - mark.size / 2.0, mark.y - mark.size / 2.0, mark.size, mark.size)
            self._hatch(outline, box, mark.ink)
        elif mark.hollow or mark.shape is Shape.CROSS:
            pen.setWidthF(2.0 * self._thick)
            painter.setPen(pen)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawPath(outline)
        else:
            painter.fillPath(outline, QBrush(self._colour(mark.ink)))

    def _label(self, mark: Label) -> None:
        painter = self._painter
        if mark.patch:
            self._fill(_rect(mark.box.grown(1.0)), self._colour(Ink.PANEL))
        face = Face.SMALL_BOLD if mark.bold else Face.SMALL
        painter.setFont(self._faces.font(face))
        painter.setPen(self._colour(mark.ink))
        painter.drawText(
            QPointF(mark.box.left, mark.box.top + self._faces.ascent(face)), mark.text
        )


def strands(width: float) -> list[tuple[float, float]]:
    """Give offsets, device px, of fine lines that together look like one of a width.

    They stand on rings about the middle, so that the line is as wide in every direction.
    """
    offsets: list[tuple[float, float]] = [(0.0, 0.0)] if width < 1.5 else []
    radius = (width - _FINE) / 2.0
    while radius > _APART_PX / 2.0:
        count = max(math.ceil(2.0 * math.pi * radius / _APART_PX), 3)
        angles = (2.0 * math.pi * i / count for i in range(count))
        offsets += [(radius * math.cos(a), radius * math.sin(a)) for a in angles]
        radius -= _APART_PX
    return offsets or [(0.0, 0.0)]


def _rect(box: Box) -> QRectF:
    return QRectF(box.left, box.top, box.width, box.height)


def _path_of(box: Box) -> QPainterPath:
    path = QPainterPath()
    path.addRect(_rect(box))
    return path


_CORNERS: dict[Shape, tuple[tuple[float, float], ...]] = {
    Shape.DIAMOND: ((0.0, -1.15), (1.15, 0.0), (0.0, 1.15), (-1.15, 0.0)),
    Shape.TRIANGLE: ((0.0, -1.15), (1.1, 0.85), (-1.1, 0.85)),
    Shape.UP: ((0.0, -1.0), (1.0, 1.0), (-1.0, 1.0)),
    Shape.DOWN: ((0.0, 1.0), (1.0, -1.0), (-1.0, -1.0)),
    Shape.LEFT: ((-1.0, 0.0), (1.0, -1.0), (1.0, 1.0)),
}


def _outline(shape: Shape, x: float, y: float, half: float) -> QPainterPath:
    path = QPainterPath()
    if shape is Shape.DISC:
        path.addEllipse(QPointF(x, y), half, half)
    elif shape is Shape.CROSS:
        for sign in (-1.0, 1.0):
            path.moveTo(x - half, y - sign * half)
            path.lineTo(x + half, y + sign * half)
    else:
        corners = np.asarray(_CORNERS[shape]) * half + (x, y)
        path.addPolygon(QPolygonF([QPointF(cx, cy) for cx, cy in corners]))
        path.closeSubpath()
    return path
