"""A section of a debrief as text: its rows lead to moments of the pass, its figures are shown."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from PySide6.QtCore import Qt, QUrl, Signal
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QTextBrowser, QWidget

from console.debrief.page import Figure, Section
from console.debrief.port import PictureKey
from console.debrief.screen import FIGURE, moment_of, section_html
from console.present.theme import DARK, Theme
from console.window.fonts import Face, Faces

PICTURE_EM = 82.0
"""A picture is never wider than this: beyond it, it only grows coarse."""


class DebriefText(QTextBrowser):
    """Shows one section; Tab goes from row to row, Return opens the row's moment."""

    moment_chosen = Signal(float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme: Theme = DARK
        self._faces = Faces(1.0)
        self._section: Section | None = None
        self._images: dict[Figure, QImage] = {}
        self._fitted: dict[Figure, QImage] = {}
        self.setAccessibleName("Debrief")
        self.setOpenLinks(False)
        self.anchorClicked.connect(self._on_anchor_clicked)

    def show_section(self, section: Section, pictures: Mapping[PictureKey, bytes]) -> None:
        """Show a section with the pictures there are of it in the present theme."""
        is_same = self._section is not None and self._section.key == section.key
        at = self.verticalScrollBar().value() if is_same else 0
        self._section = section
        self._images = {
            figure: QImage.fromData(png)
            for (figure, theme), png in pictures.items()
            if theme == self._theme.name
        }
        self.setAccessibleDescription(section.title)
        self._set()
        self.verticalScrollBar().setValue(at)

    def say(self, words: str) -> None:
        """Show a line in place of a section."""
        self._section = None
        self.setPlainText(words)

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size; the caller shows the section again."""
        self._theme = theme
        if scale != self._faces.scale:
            self._faces = Faces(scale)
        document = self.document()
        document.setDefaultFont(self._faces.font(Face.BODY))
        document.setDefaultStyleSheet(f"a {{ color: {theme.text}; text-decoration: underline; }}")
        document.setDocumentMargin(self._faces.em)

    def loadResource(self, kind: int, name: QUrl | str) -> Any:
        """Give a figure; nothing is ever fetched from elsewhere."""
        address = name.toString() if isinstance(name, QUrl) else name
        key = address.removeprefix(FIGURE)
        if address.startswith(FIGURE) and key in set(Figure):
            return self._fitted.get(Figure(key))
        return None

    def _set(self) -> None:
        if self._section is None:
            return
        em = self._faces.em
        room = self.viewport().width() - 3.0 * em
        width = round(min(room, PICTURE_EM * em))
        self._fit(width)
        drawn = frozenset(self._images)
        html = section_html(self._section, self._theme, picture_px=width, drawn=drawn)
        self.setHtml(html)

    def _fit(self, width: int) -> None:
        """Scale the pictures to their width once, smoothly; Qt's own way drops lines."""
        ratio = self.devicePixelRatioF()
        self._fitted = {}
        for figure, image in self._images.items():
            fitted = image.scaledToWidth(
                max(round(width * ratio), 1), Qt.TransformationMode.SmoothTransformation
            )
            fitted.setDevicePixelRatio(ratio)
            self._fitted[figure] = fitted

    def _on_anchor_clicked(self, address: QUrl) -> None:
        moment = moment_of(address.toString())
        if moment is not None:
            self.moment_chosen.emit(moment)
