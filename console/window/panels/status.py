"""The status line: link, loss, recording, limits in force, and that this display is advisory.

It takes as many lines as its texts need: none of them may be cut.
"""

from __future__ import annotations

from PySide6.QtCore import QRectF

from console.present.cell import Note
from console.present.port import Watched
from console.present.status_line import StatusView, status_line
from console.present.tone import Tone
from console.window.fonts import Face
from console.window.ink import Ink
from console.window.panels.panel import PaintedPanel
from console.window.wrapping import wrap

DOT = "  ·  "


class StatusPanel(PaintedPanel[StatusView]):
    """One or more lines at the window's foot."""

    title = "Status"
    has_border = False

    def view_of(self, watched: Watched) -> StatusView:
        """Give the status of what is watched."""
        return status_line(watched)

    def spoken(self, view: StatusView) -> str:
        """Give it in words."""
        return view.spoken

    def natural_height(self, width: float) -> float:
        """Give the height of the lines the texts need."""
        lines = len(self.lines(self.view, width)) if self.view else 1
        return float(round(lines * self._step() + 0.35 * self.faces.em))

    def _step(self) -> float:
        return self.faces.line(Face.SMALL) + 2.0

    def lines(self, view: StatusView, width: float) -> list[list[Note]]:
        """Break the texts into lines, each text whole where it fits a line at all."""
        room = width - 0.5 * self.faces.em
        lines: list[list[Note]] = [[]]
        used = 0.0
        for note in self._pieces(view, room):
            wide = self.faces.width(Face.SMALL, note.text)
            gap = self.faces.width(Face.SMALL, DOT) if lines[-1] else 0.0
            if lines[-1] and used + gap + wide > room:
                lines.append([])
                used, gap = 0.0, 0.0
            lines[-1].append(note)
            used += gap + wide
        return lines

    def _pieces(self, view: StatusView, room: float) -> list[Note]:
        return [
            Note(part, note.tone)
            for note in (*view.left, *view.right)
            for part in wrap(self.faces, Face.SMALL, note.text, room, 9)
        ]

    def draw(self, ink: Ink, view: StatusView) -> None:
        """Paint the lines on the window's own ground."""
        ink.fill(QRectF(self.rect()), self.theme.ground)
        faces = self.faces
        y = 0.2 * faces.em + faces.ascent(Face.SMALL)
        for line in self.lines(view, self.width()):
            x = 0.25 * faces.em
            for i, note in enumerate(line):
                if i:
                    x += ink.text(x, y, DOT, Face.SMALL, Tone.QUIET)
                x += ink.text(x, y, note.text, Face.SMALL, note.tone)
            y += self._step()
