"""A plot of the bench: a scene, laid out anew for its size, theme and text, inked as it stands."""

from __future__ import annotations

from abc import abstractmethod

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from console.present.plot_scene import Scene
from console.present.theme import DARK, Theme
from console.window.fonts import Faces
from console.window.plots.scene_painter import FaceMeter, ScenePainter


class BenchCanvas(QWidget):
    """The base: ground, border, ring of the focus, and a scene between.

    Attributes
    ----------
    title : str
        What it is called, also by a screen reader.
    """

    title = ""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.theme: Theme = DARK
        self.faces = Faces(1.0)
        self.meter = FaceMeter(self.faces)
        self.setAccessibleName(self.title)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)

    @abstractmethod
    def scene(self) -> Scene:
        """Give everything that is shown."""

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        self.theme = theme
        if scale != self.faces.scale:
            self.faces = Faces(scale)
            self.meter = FaceMeter(self.faces)
        self.looks_changed()
        self.update()

    def looks_changed(self) -> None:
        """Follow another theme or text size; for plots that keep what they drew."""

    def paint_ground(self, painter: QPainter) -> None:
        """Paint what lies under the scene."""
        painter.fillRect(self.rect(), QColor(self.theme.panel))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint ground, scene, border, and the ring of the keyboard's focus."""
        painter = QPainter(self)
        self.paint_ground(painter)
        ratio = self.devicePixelRatioF()
        ScenePainter(painter, self.theme, self.faces, ratio).draw(self.scene())
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        edge = QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(self.theme.hairline)))
        painter.drawRect(edge)
        if self.hasFocus():
            pen = QPen(QColor(self.theme.focus))
            pen.setWidthF(2.0)
            painter.setPen(pen)
            painter.drawRect(edge.adjusted(1.0, 1.0, -1.0, -1.0))
        painter.end()
