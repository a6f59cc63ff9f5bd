"""Before and after at one look: what the draft does to warnings, nuisance, misses and delay."""

from __future__ import annotations

from console.present.bench_summary import SummaryRow, SummaryView
from console.present.tone import Tone
from console.window.fonts import Face
from console.window.ink import Ink, Side
from console.window.panels.panel import ViewPanel

ROWS = 6
NOTES = 2


class BenchSummary(ViewPanel[SummaryView]):
    """A small table: what is counted, before, draft, change; then what contradicts itself."""

    title = "Before and after"

    def spoken(self, view: SummaryView) -> str:
        """Give the table in words."""
        return view.spoken

    def natural_height(self, width: float) -> float:
        """Give the height of head, rows, scope and the notes' lines."""
        return float(round((ROWS + 2 + NOTES) * self.faces.pitch + 1.2 * self.pad))

    def draw(self, ink: Ink, view: SummaryView) -> None:
        """Paint head, rows, scope and notes."""
        faces, pad = self.faces, self.pad
        right = self.width() - pad
        change = right
        draft = change - faces.width(Face.DIGITS, "−999.9 s") - 0.8 * faces.em
        widest = max((faces.width(Face.DIGITS_SMALL, row.after) for row in view.rows), default=0.0)
        room = max(widest, faces.width(Face.DIGITS_SMALL, "999 of 999  99.9 % (99.9–99.9)"))
        before = draft - room - 0.9 * faces.em
        y = 0.6 * pad + (faces.pitch + faces.capital(Face.SMALL)) / 2.0
        for at, head in ((before, view.before_head), (draft, "draft"), (change, "change")):
            ink.text(at, y, head, Face.SMALL, Tone.QUIET, side=Side.RIGHT)
        for row in view.rows:
            y += faces.pitch
            self._draw_row(ink, row, y, before, draft, change, room)
        y += faces.pitch
        ink.text(pad, y, f"{view.scope} (O changes it)", Face.SMALL, Tone.QUIET, width=right - pad)
        for note in view.notes[:NOTES]:
            y += faces.pitch
            ink.text(pad, y, f"◧ {note}", Face.SMALL, Tone.CAUTION, width=right - pad)

    def _draw_row(
        self, ink: Ink, row: SummaryRow, y: float, before: float, draft: float, change: float,
        room: float,
    ) -> None:  # fmt: skip
        faces = self.faces
        digits, em = Face.DIGITS_SMALL, faces.em
        took = ink.text(before, y, row.before, digits, Tone.QUIET, side=Side.RIGHT, width=room)
        left = before - took - self.pad - em
        name = row.name if faces.width(Face.BODY, row.name) <= left else row.short
        ink.text(self.pad, y, name, Face.BODY, Tone.PLAIN, width=left)
        ink.text(draft, y, row.after, digits, row.tone, side=Side.RIGHT, width=room)
        ink.text(change, y, row.change, Face.DIGITS, row.tone, side=Side.RIGHT)
