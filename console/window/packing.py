"""Fitting a list of exceedances into few rows: full lines first, then warnings by name."""

from __future__ import annotations

from dataclasses import dataclass

from console.present.exceedance_lines import ExceedanceLine, ExceedancesView, Fitted, fit
from console.window.fonts import Face, Faces


@dataclass(frozen=True, slots=True)
class Name:
    """One packed warning and where it begins, px from the left."""

    words: str
    x: float


@dataclass(frozen=True, slots=True)
class Packed:
    """Full lines, rows of names, and the closing words that stand on the last row."""

    lines: tuple[ExceedanceLine, ...]
    rows: tuple[tuple[Name, ...], ...]
    more: str


def pack(view: ExceedancesView, faces: Faces, rows: int, width: float) -> Packed:
    """Fit the list into ``rows`` rows of ``width`` px.

    As many full lines as leave room for every standing warning to be named. Where even names
    do not fit beside the first line, the last row ends with the count of those left out.
    """
    if len(view.lines) <= rows:
        return Packed(view.lines, (), "")
    for full in range(rows - 1, 0, -1):
        fitted = fit(view, full)
        named = _name_rows(fitted, faces, width)
        if full + len(named) <= rows:
            return Packed(fitted.lines, named, fitted.more)
    fitted = fit(view, 1)
    named = _name_rows(fitted, faces, width)[: max(rows - 1, 1)]
    left_out = len(fitted.packed) - sum(len(row) for row in named)
    return Packed(fitted.lines, named, f"■ +{left_out} more warnings, {fitted.more}".strip(", "))


def _name_rows(fitted: Fitted, faces: Faces, width: float) -> tuple[tuple[Name, ...], ...]:
    """Set names side by side; the last row leaves room for the closing words."""
    tail = faces.width(Face.SMALL, fitted.more) + faces.em if fitted.more else 0.0
    reserve = max(tail, faces.width(Face.SMALL, "■ +00 more warnings, +00 cleared"))
    rows: list[list[Name]] = [[]]
    x = 0.0
    for line in fitted.packed:
        words = f"{line.mark} {line.name}"
        wide = faces.width(Face.SMALL_BOLD, words)
        if rows[-1] and x + wide > width - reserve:
            rows.append([])
            x = 0.0
        rows[-1].append(Name(words, x))
        x += wide + faces.em
    return tuple(tuple(row) for row in rows)
