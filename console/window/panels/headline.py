"""The headline strip: the six answers wanted at a glance, in one band with hairlines.

Without data every figure is a dash that says why; stale figures are struck through and hatched.
"""

from __future__ import annotations

from console.present.cell import Cell
from console.present.headline import HeadlineView, headline
from console.present.port import Watched
from console.present.tone import Tone
from console.window.fonts import Face, Faces
from console.window.ink import Ink, Side
from console.window.panels.panel import PaintedPanel

WIDEST = (
    "next mark 200 m in 59:59",
    "allowed 0.050–0.110 here",
    "◧ coasted, data 59.9 s old",
    "too late to stop outside hands-off",
    "passes to VEHICLE at 1.80 m",
)
"""The longest usual note of each cell: it sets how little a cell may be given."""
SOURCES_WIDEST = ("◧ optical", "59.9 s", "disagrees Δ −10.52 m")
NOTES = 2
SOURCES_MOST = 3


class HeadlinePanel(PaintedPanel[HeadlineView]):
    """Range, closing rate, time to contact, hands-off, abort authority, data."""

    title = "Headline"

    def view_of(self, watched: Watched) -> HeadlineView:
        """Give the strip of what is watched."""
        status = watched.status
        return headline(
            watched.snapshot, watched.limits,
            is_under_other_limits=bool(status.other_limits), behind_s=status.behind_s,
        )  # fmt: skip

    def spoken(self, view: HeadlineView) -> str:
        """Give the strip in words."""
        cells = [cell.spoken for cell in view.cells]
        data = [*(source.spoken for source in view.sources), view.unseen]
        return ". ".join([*cells, *(words for words in data if words)])

    def natural_height(self, width: float) -> float:
        """Give the height of one or more rows of cells."""
        return self.row_height() * len(rows_of(self.faces, self.pad, width))

    def row_height(self) -> float:
        """Give the height of one row: title, value, notes."""
        faces = self.faces
        value = faces.capital(Face.VALUE) * 1.42
        small = faces.line(Face.SMALL)
        return float(round(1.2 * self.pad + small + value + NOTES * small))

    def draw(self, ink: Ink, view: HeadlineView) -> None:
        """Paint the cells in as many rows as the width asks for."""
        rows = rows_of(self.faces, self.pad, self.width())
        height = self.height() / len(rows)
        for r, row in enumerate(rows):
            top, left = r * height, 0.0
            if r:
                ink.rule(0.0, top, self.width(), top, self.theme.hairline)
            for place, wide in row:
                if left > 0.0:
                    ink.rule(left, top, left, top + height, self.theme.hairline)
                if place < len(view.cells):
                    self._draw_cell(ink, view.cells[place], left, top, wide)
                else:
                    self._draw_sources(ink, view, left, top, wide)
                left += wide

    def _draw_cell(self, ink: Ink, cell: Cell, left: float, top: float, wide: float) -> None:
        faces, pad = self.faces, self.pad
        x, room = left + pad, wide - 1.5 * pad
        y = top + 0.6 * pad + faces.ascent(Face.SMALL)
        title = f"{cell.mark} {cell.title}" if cell.mark else cell.title
        ink.text(x, y, title, Face.SMALL, cell.tone if cell.mark else Tone.QUIET, width=room)
        y += faces.descent(Face.SMALL) + faces.capital(Face.VALUE) * 1.24
        gap = 0.5 * faces.em
        face = self._value_face(cell, room - gap - faces.width(Face.UNIT, cell.unit))
        took = ink.text(x, y, cell.value, face, cell.tone, width=room)
        ink.text(x + took + gap, y, cell.unit, Face.UNIT, Tone.QUIET, width=room - took - gap)
        y += faces.capital(Face.VALUE) * 0.18 + faces.ascent(Face.SMALL)
        for note in cell.notes[:NOTES]:
            ink.text(x, y, note.text, Face.SMALL, note.tone, width=room)
            y += faces.line(Face.SMALL)

    def _value_face(self, cell: Cell, room: float) -> Face:
        """Give the face of a value: words are set smaller, and so is a figure too long."""
        if cell.is_words:
            return Face.WORDS
        fits = self.faces.width(Face.VALUE, cell.value) <= room
        return Face.VALUE if fits else Face.VALUE_SMALL

    def _draw_sources(
        self, ink: Ink, view: HeadlineView, left: float, top: float, wide: float
    ) -> None:
        faces, pad, sources = self.faces, self.pad, view.sources
        x, right = left + pad, left + wide - 0.75 * pad
        y = top + 0.6 * pad + faces.ascent(Face.SMALL)
        name_wide, age_wide, state_wide = source_columns(faces)
        spare = max(0.0, wide - 1.75 * pad - name_wide - age_wide - state_wide)
        age_right = x + name_wide + spare / 2.0 + age_wide
        ink.text(x, y, "Data", Face.SMALL, Tone.QUIET)
        ink.text(age_right, y, "age", Face.SMALL, Tone.QUIET, side=Side.RIGHT)
        step = faces.pitch
        if not sources:
            ink.text(x, y + 1.3 * step, "no source heard yet", Face.BODY, Tone.QUIET)
        for source in sources[:SOURCES_MOST]:
            y += step
            face = Face.BODY_BOLD if source.is_in_use else Face.BODY
            name = f"{source.mark} {source.name}" if source.mark else source.name
            ink.text(x, y, name, face, source.tone, width=age_right - age_wide - x)
            rest = Tone.QUIET if source.tone is Tone.QUIET else Tone.PLAIN
            old = Tone.STALE if source.is_stale else rest
            ink.text(age_right, y, source.age, Face.DIGITS_SMALL, old, side=Side.RIGHT)
            said = source.tone if source.mark else Tone.QUIET
            room = right - age_right - faces.em
            ink.text(right, y, source.state, Face.SMALL, said, side=Side.RIGHT, width=room)
        if sources and view.unseen and len(sources) < SOURCES_MOST:
            ink.text(x, top + 0.6 * pad + faces.ascent(Face.SMALL) + SOURCES_MOST * step,
                     view.unseen, Face.SMALL, Tone.QUIET, width=right - x)  # fmt: skip
        if len(sources) > SOURCES_MOST:
            more = f"+{len(sources) - SOURCES_MOST} more"
            ink.text(right, top + 0.6 * pad + faces.ascent(Face.SMALL), more, Face.SMALL,
                     Tone.QUIET, side=Side.RIGHT)  # fmt: skip


def source_columns(faces: Faces) -> tuple[float, float, float]:
    """Give the widths of a source's name, age and state, px."""
    name, age, state = SOURCES_WIDEST
    return (
        faces.width(Face.BODY_BOLD, name) + 0.5 * faces.em,
        faces.width(Face.DIGITS_SMALL, age),
        faces.width(Face.SMALL, state) + faces.em,
    )


def rows_of(faces: Faces, pad: float, width: float) -> list[list[tuple[int, float]]]:
    """Break the six cells into rows: for each row the cells' places and widths.

    One row where all fit, else two, three or six of equal count.
    """
    least = [faces.width(Face.SMALL, note) + 1.6 * pad for note in WIDEST]
    least.append(sum(source_columns(faces)) + 1.8 * pad)
    for per_row in (6, 3, 2, 1):
        rows = [list(range(i, i + per_row)) for i in range(0, 6, per_row)]
        if per_row == 1 or all(sum(least[p] for p in row) <= width + 0.5 for row in rows):
            return [_spread(row, least, width) for row in rows]
    return []


def _spread(row: list[int], least: list[float], width: float) -> list[tuple[int, float]]:
    spare = (width - sum(least[p] for p in row)) / len(row)
    return [(p, least[p] + spare) for p in row]
