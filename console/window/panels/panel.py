"""The base of every painted panel: a view model in, one picture out.

A panel computes nothing about the approach. It asks the view models for its view, repaints only
when that changed, and says the same in words to a screen reader.
"""

from __future__ import annotations

from abc import abstractmethod
from typing import Generic, TypeVar

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from console.present.port import Watched
from console.present.theme import DARK, Theme
from console.window.fonts import Faces
from console.window.ink import Drawn, Ink

V = TypeVar("V")
PAD_EM = 0.75
SPOKEN_MOST = 4000


class ViewPanel(QWidget, Generic[V]):
    """A panel that paints one view.

    Attributes
    ----------
    title : str
        What it is called, also by a screen reader.
    drawn : tuple of Drawn
        Every text of the last painting.
    """

    title = ""
    has_border = True

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.theme: Theme = DARK
        self.faces = Faces(1.0)
        self.drawn: tuple[Drawn, ...] = ()
        self._view: V | None = None
        self.setAccessibleName(self.title)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)

    @abstractmethod
    def draw(self, ink: Ink, view: V) -> None:
        """Paint a view."""

    @abstractmethod
    def spoken(self, view: V) -> str:
        """Give a view in words."""

    @abstractmethod
    def natural_height(self, width: float) -> float:
        """Give the height that shows everything usual at a width, px."""

    @property
    def view(self) -> V | None:
        """What is shown now, None before anything was."""
        return self._view

    def show_view(self, view: V) -> None:
        """Show a view; does nothing where it is the one shown."""
        if view != self._view:
            self._view = view
            self.setAccessibleDescription(self.spoken(view)[:SPOKEN_MOST])
            self.view_changed()
            self.update()

    def view_changed(self) -> None:
        """Follow a new view; for panels that keep more than the view."""

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        self.theme = theme
        if scale != self.faces.scale:
            self.faces = Faces(scale)
        self.update()

    @property
    def pad(self) -> float:
        """Free space inside the border, px."""
        return float(round(PAD_EM * self.faces.em))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint ground, border, the view, and the ring of the keyboard's focus."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        ink = Ink(painter, self.theme, self.faces)
        ink.fill(QRectF(self.rect()), self.theme.panel)
        if self._view is not None:
            self.draw(ink, self._view)
        edge = QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5)
        if self.has_border:
            ink.frame(edge, self.theme.hairline)
        if self.hasFocus():
            ink.frame(edge.adjusted(1.0, 1.0, -1.0, -1.0), self.theme.focus, 2.0)
        painter.end()
        self.drawn = tuple(ink.drawn)


class PaintedPanel(ViewPanel[V]):
    """A panel that paints a view of what is watched.

    Attributes
    ----------
    reads_at_leisure : bool
        Whether it is renewed at reading speed (5 Hz) instead of with every frame.
    """

    reads_at_leisure = True

    @abstractmethod
    def view_of(self, watched: Watched) -> V:
        """Give the view of what is watched, from the view models."""

    def show_watched(self, watched: Watched) -> None:
        """Show the newest state; does nothing where that looks the same."""
        self.show_view(self.view_of(watched))
