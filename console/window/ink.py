"""Drawing of text, rules and hatching on a panel, with a record of every text drawn.

The record lets a test ask a panel what it showed where: nothing cut, nothing on top of another.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPen

from console.present.theme import Theme
from console.present.tone import Tone
from console.window.fonts import Face, Faces

HATCH_ALPHA = 75


class Side(Enum):
    """To which side of its place a text is set."""

    LEFT = "left"
    RIGHT = "right"
    MIDDLE = "middle"


@dataclass(frozen=True, slots=True)
class Drawn:
    """One text as it was painted; ``shown`` differs from ``wanted`` where it was cut."""

    wanted: str
    shown: str
    box: QRectF

    @property
    def is_cut(self) -> bool:
        """Whether part of it is missing."""
        return self.shown != self.wanted


def colour_of(theme: Theme, tone: Tone) -> str:
    """Give the colour of a voice."""
    return {
        Tone.QUIET: theme.text_quiet,
        Tone.PLAIN: theme.text,
        Tone.STRONG: theme.text,
        Tone.CAUTION: theme.caution,
        Tone.WARNING: theme.warning,
        Tone.STALE: theme.stale,
    }[tone]


class Ink:
    """A painter that knows the theme's colours and the faces' sizes."""

    def __init__(self, painter: QPainter, theme: Theme, faces: Faces) -> None:
        self.painter = painter
        self.theme = theme
        self.faces = faces
        self.drawn: list[Drawn] = []

    def text(
        self,
        x: float,
        baseline: float,
        words: str,
        face: Face = Face.BODY,
        tone: Tone = Tone.PLAIN,
        *,
        side: Side = Side.LEFT,
        width: float | None = None,
        colour: str | None = None,
    ) -> float:
        """Draw a text and give the width it took, px.

        Parameters
        ----------
        x, baseline : float
            Left end, middle or right end by ``side``; the line the letters stand on.
        width : float, optional
            Most there is; what does not fit is cut with an ellipsis.
        colour : str, optional
            In place of the tone's own.
        """
        if not words:
            return 0.0
        shown, wide = words, self.faces.width(face, words)
        if width is not None and wide > width + 0.5:
            shown = self.faces.elided(face, words, width)
            wide = self.faces.width(face, shown)
        left = x - {Side.LEFT: 0.0, Side.MIDDLE: wide / 2.0, Side.RIGHT: wide}[side]
        ascent = self.faces.ascent(face)
        box = QRectF(left, baseline - ascent, wide, ascent + self.faces.descent(face))
        if tone is Tone.STALE:
            self.hatch(box)
        self.painter.setFont(self.faces.font(face))
        self.painter.setPen(QColor(colour or colour_of(self.theme, tone)))
        self.painter.drawText(QPointF(left, baseline), shown)
        if tone is Tone.STALE:
            self._strike(box, baseline - self.faces.capital(face) / 2.0)
        self.drawn.append(Drawn(words, shown, box))
        return wide

    def hatch(self, box: QRectF) -> None:
        """Lay diagonal hatching over a box: no data, or data too old."""
        colour = QColor(self.theme.stale)
        colour.setAlpha(HATCH_ALPHA)
        self.painter.fillRect(box, QBrush(colour, Qt.BrushStyle.BDiagPattern))

    def fill(self, box: QRectF, colour: str) -> None:
        """Fill a box with one colour."""
        self.painter.fillRect(box, QColor(colour))

    def rule(
        self, x0: float, y0: float, x1: float, y1: float, colour: str, px: float = 1.0
    ) -> None:
        """Draw a straight line."""
        pen = QPen(QColor(colour))
        pen.setWidthF(px)
        self.painter.setPen(pen)
        self.painter.drawLine(QPointF(x0, y0), QPointF(x1, y1))

    def frame(self, box: QRectF, colour: str, px: float = 1.0) -> None:
        """Draw the outline of a box."""
        pen = QPen(QColor(colour))
        pen.setWidthF(px)
        self.painter.setPen(pen)
        self.painter.setBrush(Qt.BrushStyle.NoBrush)
        self.painter.drawRect(box)

    def _strike(self, box: QRectF, y: float) -> None:
        colour = colour_of(self.theme, Tone.STALE)
        thick = max(1.0, box.height() / 22.0)
        self.rule(box.left(), y, box.right(), y, colour, thick)
