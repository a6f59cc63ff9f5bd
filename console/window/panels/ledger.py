"""The ledger: how far each judged quantity is from its limit, now and at contact.

A value that is not known is a dash; a stale one is struck through and hatched; without a limit
here there is no bar.
"""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QRectF

from console.present.ledger import Bar, LedgerRow, LedgerView, ledger
from console.present.port import Watched
from console.present.tone import Tone
from console.window.fonts import Face, Faces
from console.window.ink import Ink, Side, colour_of
from console.window.panels.panel import PaintedPanel

ROWS_USUAL = 7


@dataclass(frozen=True, slots=True)
class Columns:
    """Where the columns stand, px: right ends of figures, and the bar's two ends."""

    name: float
    now: float
    limit: float
    bar_left: float
    bar_right: float
    at_contact: float
    contact_limit: float
    chance: float


class LedgerPanel(PaintedPanel[LedgerView]):
    """Quantity, now, limit here, margin, at contact, contact limit, chance within."""

    title = "Ledger"

    def view_of(self, watched: Watched) -> LedgerView:
        """Give the ledger of what is watched."""
        return ledger(watched.snapshot, watched.limits)

    def spoken(self, view: LedgerView) -> str:
        """Give the ledger in words."""
        rows = [row.spoken for row in view.rows]
        return ". ".join(part for part in (*rows, view.together.text) if part)

    def natural_height(self, width: float) -> float:
        """Give header, the rows there are, and the line below them."""
        rows = len(self.view.rows) if self.view else ROWS_USUAL
        return float(round((rows + 2) * self.faces.pitch + 1.2 * self.pad))

    def draw(self, ink: Ink, view: LedgerView) -> None:
        """Paint header, rows and the line on all limits at once."""
        columns = columns_of(self.faces, self.pad, self.width())
        step = (self.height() - 1.2 * self.pad) / (len(view.rows) + 2)
        y = 0.6 * self.pad + (step + self.faces.capital(Face.SMALL)) / 2.0
        self._draw_header(ink, columns, view, y)
        for row in view.rows:
            y += step
            self._draw_row(ink, row, columns, y, step)
        y += step
        room = columns.chance - self.pad
        ink.text(self.pad, y, view.together.text, Face.SMALL, view.together.tone, width=room)

    def _draw_header(self, ink: Ink, at: Columns, view: LedgerView, y: float) -> None:
        contact, chance = view.contact_header, view.chance_header
        heads = (
            (at.now, "now"), (at.limit, "limit"), (at.bar_right, "margin"),
            (at.at_contact, contact), (at.contact_limit, "limit"), (at.chance, chance),
        )  # fmt: skip
        for right, word in heads:
            ink.text(right, y, word, Face.SMALL, Tone.QUIET, side=Side.RIGHT)

    def _draw_row(self, ink: Ink, row: LedgerRow, at: Columns, y: float, step: float) -> None:
        faces = self.faces
        name = f"{row.mark} {row.name}" if row.mark else row.name
        took = ink.text(self.pad, y, name, Face.BODY, row.tone)
        x = self.pad + took + 0.5 * faces.em
        x += ink.text(x, y, row.unit, Face.SMALL, Tone.QUIET)
        room = at.now - faces.width(Face.DIGITS_BOLD, "−0.000") - 2.0 * faces.em
        if row.soon and x + faces.width(Face.SMALL, row.soon) + faces.em < room:
            ink.text(room, y, row.soon, Face.SMALL, Tone.PLAIN, side=Side.RIGHT)
        ink.text(at.now, y, row.now, Face.DIGITS_BOLD, row.now_tone, side=Side.RIGHT)
        ink.text(at.limit, y, row.limit, Face.DIGITS, Tone.QUIET, side=Side.RIGHT)
        middle = y - faces.capital(Face.DIGITS) / 2.0
        if row.bar is not None:
            self._draw_bar(ink, row.bar, at, middle)
        contact = f"{row.contact_mark} {row.at_contact}" if row.contact_mark else row.at_contact
        ink.text(at.at_contact, y, contact, Face.DIGITS, row.contact_tone, side=Side.RIGHT)
        small = Face.DIGITS_SMALL
        ink.text(at.contact_limit, y, row.contact_limit, small, Tone.QUIET, side=Side.RIGHT)
        ink.text(at.chance, y, row.chance, small, row.chance_tone, side=Side.RIGHT)

    def _draw_bar(self, ink: Ink, bar: Bar, at: Columns, middle: float) -> None:
        thick = max(3.0, round(0.36 * self.faces.em))
        wide = at.bar_right - at.bar_left
        top = round(middle - thick / 2.0)
        ink.fill(QRectF(at.bar_left, top, wide, thick), self.theme.bar_ground)
        loud = bar.tone in (Tone.CAUTION, Tone.WARNING)
        colour = colour_of(self.theme, bar.tone) if loud else self.theme.bar
        ink.fill(QRectF(at.bar_left, top, round(wide * bar.used), thick), colour)
        if bar.tick is not None:
            x = at.bar_left + round(wide * bar.tick)
            ink.rule(x, top - 2.0, x, top + thick + 1.0, self.theme.text_quiet)


def columns_of(faces: Faces, pad: float, width: float) -> Columns:
    """Place the columns from the right; the name has what is left, the bar a share of it."""
    gap = 0.9 * faces.em
    chance = width - pad
    last = max(faces.width(Face.DIGITS_SMALL, "> 99 %"), faces.width(Face.SMALL, "predicted"))
    contact_limit = chance - last - gap
    at_contact = contact_limit - faces.width(Face.DIGITS_SMALL, "0.05–0.10") - gap
    bar_right = at_contact - faces.width(Face.SMALL, "at contact") - gap
    figures = faces.width(Face.DIGITS, "0.050–0.110") + faces.width(Face.DIGITS_BOLD, "−0.000")
    name = faces.width(Face.BODY, "◧ Pitch / yaw rate") + faces.width(Face.SMALL, "deg/s")
    room = bar_right - pad - name - figures - 4.0 * gap
    bar_left = bar_right - min(max(0.5 * room, 3.4 * faces.em), 8.0 * faces.em)
    limit = bar_left - gap
    now = limit - faces.width(Face.DIGITS, "0.050–0.110") - gap
    return Columns(pad, now, limit, bar_left, bar_right, at_contact, contact_limit, chance)
