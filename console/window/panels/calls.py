"""Calls and steps: what was done, the call to make now in full, what comes next and when.

An open poll stands on top, one line a position. While the panel has the keyboard, Up and Down
choose a position or a step. Without data the list is empty and says so.
"""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent
from PySide6.QtWidgets import QWidget

from console.present.call_lines import CallRow, CallsView, PositionRow, Turn, call_lines, cut
from console.present.port import Watched
from console.present.tone import Tone
from console.window.fonts import Face
from console.window.ink import Ink, Side
from console.window.panels.panel import PaintedPanel
from console.window.panels.poll_lines import INDENT_EM, draw_poll, poll_height
from console.window.wrapping import wrap

LINES_MOST = {Turn.NOW: 4, Turn.NEXT: 2, Turn.DONE: 2, Turn.MISSED: 2, Turn.LATER: 2}


@dataclass(frozen=True, slots=True)
class Block:
    """One row broken into lines."""

    row: CallRow
    lines: tuple[str, ...]


class CallsPanel(PaintedPanel[CallsView]):
    """The calls on the loop, the steps of the procedure, and the poll that is open."""

    title = "Calls and steps"
    chosen = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._key: str | None = None
        self._places: list[tuple[float, float, str]] = []
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def view_of(self, watched: Watched) -> CallsView:
        """Give the calls of what is watched."""
        return call_lines(watched.snapshot)

    def spoken(self, view: CallsView) -> str:
        """Give the lines in words."""
        said = [poll.spoken for poll in view.polls] + [row.spoken for row in view.rows]
        return ". ".join(said) or "no calls yet"

    def natural_height(self, width: float) -> float:
        """Give the height of nine lines below the title, and of an open poll."""
        polls = () if self.view is None else self.view.polls
        lines = sum(poll_height(self.faces, poll, width - 2.0 * self.pad) for poll in polls)
        return float(round((10.5 + lines) * self.faces.pitch + 1.2 * self.pad))

    # ------------------------------------------------------------------ the choice

    @property
    def chosen_position(self) -> PositionRow | None:
        """The chosen position of an open poll, while the panel has the keyboard."""
        return self.view.position(self._key) if self.view and self.hasFocus() else None

    @property
    def chosen_step(self) -> CallRow | None:
        """The chosen step, while the panel has the keyboard."""
        if self.view is None or not self.hasFocus():
            return None
        return next((r for r in self.view.rows if r.key == self._key and r.can_be_done), None)

    def choose(self, key: str) -> None:
        """Choose a position or a step."""
        self._key = key
        self.chosen.emit(key)
        self.update()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Move the choice with Up and Down."""
        step = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1}.get(Qt.Key(event.key()))
        keys = self.view.choosable if self.view else ()
        if step is None or not keys:
            super().keyPressEvent(event)
            return
        at = keys.index(self._key) + step if self._key in keys else 0
        self.choose(keys[min(max(at, 0), len(keys) - 1)])

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Choose what is under the pointer."""
        y = event.position().y()
        for top, bottom, key in self._places:
            if top <= y < bottom:
                self.choose(key)
        super().mousePressEvent(event)

    # ------------------------------------------------------------------ painting

    def draw(self, ink: Ink, view: CallsView) -> None:
        """Paint the open poll, then as many rows as fit, broken into lines."""
        faces, pad = self.faces, self.pad
        self._places = []
        y = 0.6 * pad + faces.ascent(Face.SMALL)
        ink.text(pad, y, self.title, Face.SMALL, Tone.QUIET)
        if not view.rows and not view.polls:
            ink.text(pad, y + 1.3 * faces.pitch, "no calls yet", Face.BODY, Tone.QUIET)
            return
        lines = int((self.height() - y - 0.6 * pad) / faces.pitch)
        y += 0.1 * faces.pitch
        width = self.width() - 2.0 * pad
        for poll in view.polls:
            lines -= poll_height(faces, poll, width)
            y = draw_poll(ink, poll, (pad, width, y), lambda key, at: self._mark(ink, key, at, 1))
        if view.polls:
            y += 0.4 * faces.pitch
            lines -= 1
        for block in self._fitting(view, lines):
            y = self._draw_block(ink, block, y)

    def _fitting(self, view: CallsView, lines: int) -> tuple[Block, ...]:
        """Break rows into lines and drop rows until the lines fit; the chosen step stays."""
        rows = len(view.rows)
        while rows > 0:
            blocks = tuple(self._block(row) for row in cut(view, rows, self._key))
            if rows <= 1 or sum(len(block.lines) for block in blocks) <= lines:
                return blocks if lines > 0 else ()
            rows -= 1
        return ()

    def _block(self, row: CallRow) -> Block:
        face = _face(row)
        when = max(self.faces.width(Face.DIGITS_SMALL, w) for w in (row.when, "in 0:00"))
        room = self.width() - 2.0 * self.pad - self._indent() - when - 0.6 * self.faces.em
        return Block(row, wrap(self.faces, face, row.words, room, LINES_MOST[row.turn]))

    def _draw_block(self, ink: Ink, block: Block, y: float) -> float:
        row, faces = block.row, self.faces
        y += faces.pitch
        if row.can_be_done:
            self._mark(ink, row.key, y, len(block.lines))
        ink.text(self.pad, y, row.shape, Face.BODY, row.tone)
        right = self.width() - self.pad
        middle = y + (len(block.lines) - 1) * faces.pitch / 2.0
        ink.text(right, middle, row.when, Face.DIGITS_SMALL, row.tone, side=Side.RIGHT)
        room = right - self.pad - self._indent() - faces.width(Face.DIGITS_SMALL, row.when)
        for line in block.lines:
            ink.text(self.pad + self._indent(), y, line, _face(row), row.tone, width=room)
            y += faces.pitch
        return y - faces.pitch

    def _mark(self, ink: Ink, key: str, y: float, lines: int) -> None:
        """Remember where something choosable stands, and lay a ground under the chosen one."""
        faces = self.faces
        top = y - faces.capital(Face.BODY) - 0.35 * faces.em
        high = lines * faces.pitch
        self._places.append((top, top + high, key))
        if self.hasFocus() and key == self._key:
            ink.fill(QRectF(4.0, round(top), self.width() - 8.0, high), self.theme.band)

    def _indent(self) -> float:
        return INDENT_EM * self.faces.em


def _face(row: CallRow) -> Face:
    return Face.BODY_BOLD if row.turn is Turn.NOW else Face.BODY
