"""Exceedances and flags: what stands, worst first, and what waits to be acknowledged.

Nothing scrolls a standing warning out of sight: warnings that get no line of their own are
named on the last one. With nothing on the list it says so.
"""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent
from PySide6.QtWidgets import QWidget

from console.present.exceedance_lines import ExceedanceLine, ExceedancesView, exceedances
from console.present.port import Watched
from console.present.tone import Tone
from console.window.fonts import Face
from console.window.ink import Ink, Side, colour_of
from console.window.packing import Packed, pack
from console.window.panels.panel import PaintedPanel
from console.window.wrapping import wrap

LINES_USUAL = 5


class ExceedancesPanel(PaintedPanel[ExceedancesView]):
    """The list; Up and Down choose a line while it has the keyboard."""

    title = "Exceedances and flags"
    reads_at_leisure = False
    chosen = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.is_lit = True
        self._key: str | None = None
        self._places: list[tuple[float, float, str]] = []
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def view_of(self, watched: Watched) -> ExceedancesView:
        """Give the list of what is watched."""
        return exceedances(watched.snapshot)

    def spoken(self, view: ExceedancesView) -> str:
        """Give the list in words."""
        return ". ".join([view.summary, *(line.spoken for line in view.lines)])

    def natural_height(self, width: float) -> float:
        """Give the height of the title and the usual lines."""
        return float(round((LINES_USUAL + 1) * self.faces.pitch + 1.2 * self.pad))

    @property
    def blinks(self) -> bool:
        """Whether anything here waits as a warning."""
        return self.view is not None and any(line.blinks for line in self.view.lines)

    def set_lit(self, is_lit: bool) -> None:
        """Set the half of the blink: lit shows an unacknowledged warning's mark inverted."""
        if is_lit != self.is_lit:
            self.is_lit = is_lit
            if self.blinks:
                self.update()

    def to_acknowledge(self) -> ExceedanceLine | None:
        """Give the line an acknowledgement is for: the chosen one if it waits, else the worst."""
        if self.view is None:
            return None
        waiting = self.view.waiting
        mine = (line for line in waiting if self.hasFocus() and line.key == self._key)
        return next(mine, waiting[0] if waiting else None)

    def to_shelve(self) -> ExceedanceLine | None:
        """Give the line a shelving is for: the chosen one, else the first that stands."""
        lines = self.view.lines if self.view else ()
        chosen = next((x for x in lines if self.hasFocus() and x.key == self._key), None)
        if chosen is not None:
            return None if chosen.is_shelved or chosen.is_note else chosen
        return next((line for line in lines if line.is_standing and not line.is_note), None)

    def to_unshelve(self) -> ExceedanceLine | None:
        """Give the shelving to end: the chosen one, else the one that ends soonest."""
        shelved = [line for line in (self.view.lines if self.view else ()) if line.is_shelved]
        mine = (line for line in shelved if self.hasFocus() and line.key == self._key)
        return next(mine, shelved[0] if shelved else None)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Move the choice with Up and Down."""
        step = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1}.get(Qt.Key(event.key()))
        if step is None or self.view is None or not self.view.lines:
            super().keyPressEvent(event)
            return
        keys = [line.key for line in self.view.lines]
        at = keys.index(self._key) + step if self._key in keys else 0
        self._choose(keys[min(max(at, 0), len(keys) - 1)])

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Choose the line under the pointer."""
        y = event.position().y()
        for top, bottom, key in self._places:
            if top <= y < bottom:
                self._choose(key)
        super().mousePressEvent(event)

    def _choose(self, key: str) -> None:
        self._key = key
        self.chosen.emit(key)
        self.update()

    def draw(self, ink: Ink, view: ExceedancesView) -> None:
        """Paint title, count, and the lines that fit."""
        faces, pad = self.faces, self.pad
        y = 0.6 * pad + (faces.pitch + faces.capital(Face.SMALL)) / 2.0
        self._places = []
        rows = max(1, int((self.height() - 1.2 * pad) / faces.pitch) - 1)
        packed = pack(view, faces, rows, self.width() - 2.0 * pad, self._tall, self._key)
        self._draw_head(ink, view, packed, y)
        if not view.lines:
            ink.text(pad, y + faces.pitch, "nothing stands", Face.BODY, Tone.QUIET)
            return
        spare = rows - sum(self._tall(line) for line in packed.lines) - len(packed.rows)
        for line in packed.lines:
            y += faces.pitch
            needed = self._tall(line) - 1
            extra = self._draw_line(ink, line, y, needed or spare)
            self._places.append((y - faces.em, y + extra * faces.pitch + 0.3 * faces.em, line.key))
            y += extra * faces.pitch
            spare -= 0 if needed else extra
        self._draw_names(ink, packed, y + faces.pitch)

    def _draw_head(self, ink: Ink, view: ExceedancesView, packed: Packed, y: float) -> None:
        """Paint title and counts; what is not shown is told here unless names have a row."""
        right = self.width() - self.pad
        tells = packed.more and not packed.rows
        title = f"Exceedances: {packed.more} not shown" if tells else self.title
        took = ink.text(self.pad, y, title, Face.SMALL, Tone.QUIET, width=right - self.pad)
        room = right - self.pad - took - self.faces.em
        ink.text(right, y, view.summary, Face.SMALL, Tone.QUIET, side=Side.RIGHT, width=room)

    def _draw_line(self, ink: Ink, line: ExceedanceLine, y: float, spare: int) -> int:
        """Paint one line; give how many more rows its words took."""
        faces, right = self.faces, self.width() - self.pad
        x = self.pad
        if self.hasFocus() and line.key == self._key:
            top = y - faces.capital(Face.BODY) - 0.35 * faces.em
            high = self._tall(line) * faces.pitch
            ink.fill(QRectF(4.0, round(top), self.width() - 8.0, high), self.theme.band)
        x += ink.text(x, y, line.time, Face.DIGITS_SMALL, Tone.QUIET) + 0.9 * faces.em
        x = self._draw_level(ink, line, x, y)
        said = line.tone if line.is_standing or line.is_unacknowledged else Tone.QUIET
        state = ink.text(right, y, line.state, Face.SMALL, said, side=Side.RIGHT)
        words = Tone.PLAIN if line.is_standing or line.is_unacknowledged else Tone.QUIET
        room = right - x - state - 0.7 * faces.em
        lines = self._words(line, room, spare)
        for i, part in enumerate(lines):
            ink.text(x, y + i * faces.pitch, part, Face.BODY, words, width=room)
        return len(lines) - 1

    def _tall(self, line: ExceedanceLine) -> int:
        """Give how many rows a line's whole words take, its action left out."""
        faces = self.faces
        level = faces.width(Face.BODY_BOLD, "■ WARNING") + 0.7 * faces.em
        time = faces.width(Face.DIGITS_SMALL, line.time) + 0.9 * faces.em
        state = faces.width(Face.SMALL, line.state) + 0.7 * faces.em
        room = self.width() - 2.0 * self.pad - time - level - state
        return len(wrap(faces, Face.BODY, line.words, room, 3))

    def _words(self, line: ExceedanceLine, room: float, spare: int) -> tuple[str, ...]:
        """Give the words with the action beside or below them, or without it for want of room."""
        whole = f"{line.words} — {line.action}" if line.action else line.words
        if self.faces.width(Face.BODY, whole) <= room:
            return (whole,)
        if self.faces.width(Face.BODY, line.words) > room:
            return wrap(self.faces, Face.BODY, line.words, room, 1 + spare)
        if not spare or not line.action:
            return (line.words,)
        return (line.words, *wrap(self.faces, Face.BODY, f"— {line.action}", room, spare))

    def _draw_level(self, ink: Ink, line: ExceedanceLine, x: float, y: float) -> float:
        """Paint mark and level word, inverted in the lit half of an unacknowledged warning."""
        faces = self.faces
        said = f"{line.mark} {line.level_word}".strip()
        wide = faces.width(Face.BODY_BOLD, "■ WARNING")
        if line.is_unacknowledged and (self.is_lit or not line.blinks):
            gap, above = 0.25 * faces.em, faces.capital(Face.BODY) + 0.2 * faces.em
            box = QRectF(round(x - gap), round(y - above), round(wide + 2.0 * gap),
                         round(above + 0.34 * faces.em))  # fmt: skip
            colour = colour_of(self.theme, line.tone)
            if line.blinks:
                ink.fill(box, colour)
                ink.text(x, y, said, Face.BODY_BOLD, line.tone, colour=self.theme.panel)
            else:
                ink.text(x, y, said, Face.BODY_BOLD, line.tone)
                ink.frame(box, colour)
        else:
            ink.text(x, y, said, Face.BODY_BOLD, line.tone)
        return x + wide + 0.7 * faces.em

    def _draw_names(self, ink: Ink, packed: Packed, y: float) -> None:
        """Paint the last rows: warnings and shelvings by name, then how many more there are."""
        last = y
        for row in packed.rows:
            for name in row:
                ink.text(self.pad + name.x, y, name.words, Face.SMALL_BOLD, name.tone)
            last, y = y, y + self.faces.pitch
        if not packed.rows:
            return
        right = self.width() - self.pad
        tone = Tone.WARNING if packed.more.startswith("■") else Tone.QUIET
        ink.text(right, last, packed.more, Face.SMALL, tone, side=Side.RIGHT)
