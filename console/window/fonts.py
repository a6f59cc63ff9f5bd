"""The bundled faces and their sizes: words in a sans, digits in a monospaced face.

Sizes are pixels at scale 1, which is a window of 1600 by 900; the scale grows with the window
and with the operator's own text size.
"""

from __future__ import annotations

from enum import Enum
from functools import lru_cache

from PySide6.QtCore import Qt
from PySide6.QtGui import QFont, QFontDatabase, QFontMetricsF

from console.archive.shipped import shipped

SANS = "DejaVu Sans"
MONO = "DejaVu Sans Mono"
FILES = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf", "DejaVuSansMono.ttf", "DejaVuSansMono-Bold.ttf")
LEAST_PX = 11
LINE = 1.42
"""Distance of two baselines in body sizes."""


class Face(Enum):
    """A role of text: family, size in pixels at scale 1, bold."""

    BODY = (SANS, 13.0, False)
    BODY_BOLD = (SANS, 13.0, True)
    SMALL = (SANS, 12.0, False)
    SMALL_BOLD = (SANS, 12.0, True)
    DIGITS = (MONO, 13.0, False)
    DIGITS_BOLD = (MONO, 13.5, True)
    DIGITS_SMALL = (MONO, 12.0, False)
    VALUE = (MONO, 31.0, True)
    VALUE_SMALL = (MONO, 22.0, True)
    WORDS = (SANS, 22.0, True)
    UNIT = (SANS, 15.0, False)


@lru_cache(maxsize=1)
def load_fonts() -> tuple[int, ...]:
    """Register the bundled faces with Qt, once; an application object must exist."""
    return tuple(
        QFontDatabase.addApplicationFont(str(shipped("icons", "fonts", name))) for name in FILES
    )


class Faces:
    """Fonts and metrics of every role at one scale.

    Attributes
    ----------
    scale : float
        1 is a window of 1600 by 900 at normal text size.
    pitch : float
        Distance of two lines of body text, px.
    em : float
        Size of body text, px.
    """

    def __init__(self, scale: float) -> None:
        self.scale = scale
        self._fonts = {face: _font(face, scale) for face in Face}
        self._metrics = {face: QFontMetricsF(font) for face, font in self._fonts.items()}
        self.em = float(self._fonts[Face.BODY].pixelSize())
        self.pitch = float(round(LINE * self.em))

    def font(self, face: Face) -> QFont:
        """Give a role's font."""
        return self._fonts[face]

    def width(self, face: Face, words: str) -> float:
        """Give how wide a text is, px."""
        return self._metrics[face].horizontalAdvance(words)

    def ascent(self, face: Face) -> float:
        """Give a role's height above the baseline, px."""
        return self._metrics[face].ascent()

    def descent(self, face: Face) -> float:
        """Give a role's depth below the baseline, px."""
        return self._metrics[face].descent()

    def capital(self, face: Face) -> float:
        """Give the height of a role's capitals, px."""
        return self._metrics[face].capHeight()

    def line(self, face: Face) -> float:
        """Give the height of one line of a role, px."""
        return self._metrics[face].height()

    def elided(self, face: Face, words: str, width: float) -> str:
        """Cut a text to a width, with an ellipsis where something is missing."""
        return self._metrics[face].elidedText(words, Qt.TextElideMode.ElideRight, width)


def _font(face: Face, scale: float) -> QFont:
    family, size, is_bold = face.value
    font = QFont(family)
    font.setPixelSize(max(LEAST_PX, round(size * scale)))
    font.setBold(is_bold)
    return font
