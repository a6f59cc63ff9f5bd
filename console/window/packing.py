"""Fitting a list of exceedances into few rows: full lines first, then warnings by name."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from console.present.exceedance_lines import ExceedanceLine, ExceedancesView, Fitted, fit
from console.present.tone import Tone
from console.window.fonts import Face, Faces


@dataclass(frozen=True, slots=True)
class Name:
    """One packed warning and where it begins, px from the left."""

    words: str
    x: float
    tone: Tone = Tone.WARNING


@dataclass(frozen=True, slots=True)
class Packed:
    """Full lines, rows of names, and the closing words that stand on the last row."""

    lines: tuple[ExceedanceLine, ...]
    rows: tuple[tuple[Name, ...], ...]
    more: str


def pack(
    view: ExceedancesView,
    faces: Faces,
    rows: int,
    width: float,
    tall: Callable[[ExceedanceLine], int],
    chosen: str | None = None,
) -> Packed:
    """Fit the list into ``rows`` rows of ``width`` px.

    As many full lines, each with its whole words, as leave room for every standing warning to
    be named and for how many more there are. Where even names do not fit beside the first
    line, the last row ends with the count of those left out.

    Parameters
    ----------
    tall : callable
        Gives how many rows a line's whole words take.
    chosen : str, optional
        Key of a line that must be among the full ones.
    """
    for full in range(min(len(view.lines), rows), 0, -1):
        fitted = fit(view, full, chosen)
        named = _name_rows(fitted, faces, width)
        if sum(tall(line) for line in fitted.lines) + len(named) <= rows:
            return Packed(fitted.lines, named, fitted.more)
    fitted = fit(view, 1, chosen)
    room = max(rows - sum(tall(line) for line in fitted.lines), 1)
    named = _name_rows(fitted, faces, width)[:room]
    left_out = len(fitted.packed) - sum(len(row) for row in named)
    kind = "more" if any(line.is_shelved for line in fitted.packed) else "more warnings"
    more = f"■ +{left_out} {kind}, {fitted.more}" if left_out else fitted.more
    return Packed(fitted.lines, named, more.strip(", "))


def _name_rows(fitted: Fitted, faces: Faces, width: float) -> tuple[tuple[Name, ...], ...]:
    """Set names side by side; the last row leaves room for the closing words."""
    rows: list[list[Name]] = []
    end = width
    for line in fitted.packed:
        words = f"{line.mark} {line.name}".strip()
        wide = faces.width(Face.SMALL_BOLD, words)
        if end + faces.em + wide > width:
            rows.append([])
            end = -faces.em
        rows[-1].append(Name(words, end + faces.em, line.tone))
        end += faces.em + wide
    closing = faces.width(Face.SMALL, f"■ +00 more warnings, {fitted.more}")
    if rows and end + faces.em + closing > width and len(rows[-1]) > 1:
        rows.append([replace(rows[-1].pop(), x=0.0)])
    return tuple(tuple(row) for row in rows)
