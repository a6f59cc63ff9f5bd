"""Calls and steps: what was done, the call to make now in full, what comes next and when.

Without data the list is empty and says so.
"""

from __future__ import annotations

from dataclasses import dataclass

from console.present.call_lines import CallRow, CallsView, Turn, call_lines, cut
from console.present.port import Watched
from console.present.tone import Tone
from console.window.fonts import Face, Faces
from console.window.ink import Ink, Side
from console.window.panels.panel import PaintedPanel
from console.window.wrapping import wrap

LINES_MOST = {Turn.NOW: 4, Turn.NEXT: 2, Turn.DONE: 2, Turn.LATER: 2}


@dataclass(frozen=True, slots=True)
class Block:
    """One row broken into lines."""

    row: CallRow
    lines: tuple[str, ...]


class CallsPanel(PaintedPanel[CallsView]):
    """The calls on the loop and the steps of the procedure."""

    title = "Calls and steps"

    def view_of(self, watched: Watched) -> CallsView:
        """Give the calls of what is watched."""
        return call_lines(watched.snapshot)

    def spoken(self, view: CallsView) -> str:
        """Give the lines in words."""
        return ". ".join(row.spoken for row in view.rows) or "no calls yet"

    def natural_height(self, width: float) -> float:
        """Give the height of nine lines below the title."""
        return float(round(10.5 * self.faces.pitch + 1.2 * self.pad))

    def draw(self, ink: Ink, view: CallsView) -> None:
        """Paint as many rows as fit, broken into lines."""
        faces, pad = self.faces, self.pad
        y = 0.6 * pad + faces.ascent(Face.SMALL)
        ink.text(pad, y, self.title, Face.SMALL, Tone.QUIET)
        if not view.rows:
            ink.text(pad, y + 1.3 * faces.pitch, "no calls yet", Face.BODY, Tone.QUIET)
            return
        lines = int((self.height() - y - 0.6 * pad) / faces.pitch)
        y += 0.1 * faces.pitch
        for block in self._fitting(view, lines):
            y = self._draw_block(ink, block, y)

    def _fitting(self, view: CallsView, lines: int) -> tuple[Block, ...]:
        """Break rows into lines and drop rows until the lines fit."""
        rows = len(view.rows)
        while True:
            blocks = tuple(self._block(row) for row in cut(view, rows))
            if rows <= 1 or sum(len(block.lines) for block in blocks) <= lines:
                return blocks
            rows -= 1

    def _block(self, row: CallRow) -> Block:
        face = _face(row)
        when = max(self.faces.width(Face.DIGITS_SMALL, w) for w in (row.when, "in 0:00"))
        room = self.width() - 2.0 * self.pad - self._indent() - when - 0.6 * self.faces.em
        return Block(row, wrap(self.faces, face, row.words, room, LINES_MOST[row.turn]))

    def _draw_block(self, ink: Ink, block: Block, y: float) -> float:
        row, faces = block.row, self.faces
        y += faces.pitch
        ink.text(self.pad, y, row.shape, Face.BODY, row.tone)
        right = self.width() - self.pad
        middle = y + (len(block.lines) - 1) * faces.pitch / 2.0
        ink.text(right, middle, row.when, Face.DIGITS_SMALL, row.tone, side=Side.RIGHT)
        room = right - self.pad - self._indent() - faces.width(Face.DIGITS_SMALL, row.when)
        for line in block.lines:
            ink.text(self.pad + self._indent(), y, line, _face(row), row.tone, width=room)
            y += faces.pitch
        return y - faces.pitch

    def _indent(self) -> float:
        return 1.35 * self.faces.em


def _face(row: CallRow) -> Face:
    return Face.BODY_BOLD if row.turn is Turn.NOW else Face.BODY


def least_width(faces: Faces, pad: float) -> float:
    """Give the width in which the usual steps stand in two lines."""
    return faces.width(Face.BODY, "Contact, confirm") + 2.0 * pad + 8.0 * faces.em
