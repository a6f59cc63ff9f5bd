"""A debrief's section as rich text for the window: the same blocks as in the documents.

Qt's rich text knows a part of HTML only: tables with their attributes, no boxes. A row that
belongs to a moment of the pass carries a link ``moment:<t>``; a picture is the address
``figure:<key>``, which the view fills in.
"""

from __future__ import annotations

from html import escape

from console.debrief.page import Block, Column, Facts, Figure, Lines, Picture, Row, Section, Table
from console.present.theme import Theme
from console.present.tone import CAUTION_MARK, WARNING_MARK

MOMENT = "moment:"
FIGURE = "figure:"
TONES = {WARNING_MARK: "warning", CAUTION_MARK: "caution"}


def section_html(
    section: Section, theme: Theme, *, picture_px: int, drawn: frozenset[Figure]
) -> str:
    """Give a section as rich text.

    Parameters
    ----------
    section : Section
    theme : Theme
    picture_px : int
        Width of a picture.
    drawn : frozenset of Figure
        Pictures that are there; the others are said to be coming.
    """
    blocks = "".join(_block(block, theme, picture_px, drawn) for block in section.blocks)
    return f"<h3>{escape(section.title)}</h3>{blocks}"


def moment_of(address: str) -> float | None:
    """Read a link's moment, UTC s; None for another link."""
    if not address.startswith(MOMENT):
        return None
    return float(address.removeprefix(MOMENT))


def _block(block: Block, theme: Theme, picture_px: int, drawn: frozenset[Figure]) -> str:
    match block:
        case Lines():
            rows = "".join(
                f"<tr><td width='24'>{_marked(line.mark, theme)}</td>"
                f"<td>{_strong(escape(line.text), is_strong=bool(line.mark))}</td></tr>"
                for line in block.lines
            )
            return f"<table cellpadding='2'>{rows}</table>"
        case Facts():
            return _facts(block, theme)
        case Table():
            return _table(block, theme)
        case Picture():
            return _picture(block, theme, picture_px, drawn)


def _marked(text: str, theme: Theme) -> str:
    """Give a text with its marks in their colours."""
    written = escape(text)
    for mark, field in TONES.items():
        written = written.replace(mark, f"<font color='{getattr(theme, field)}'>{mark}</font>")
    return written


def _strong(written: str, *, is_strong: bool) -> str:
    return f"<b>{written}</b>" if is_strong else written


def _caption(words: str) -> str:
    return f"<p><b>{escape(words)}</b></p>"


def _facts(block: Facts, theme: Theme) -> str:
    rows = "".join(
        f"<tr><td><font color='{theme.text_quiet}'>{escape(name)}</font></td>"
        f"<td>{escape(value)}</td></tr>"
        for name, value in block.rows
    )
    return f"{_caption(block.caption)}<table cellpadding='3'>{rows}</table>"


def _table(block: Table, theme: Theme) -> str:
    if not block.rows:
        return f"{_caption(block.caption)}<p>{escape(block.nothing)}</p>"
    names = "".join(
        f"<th align='{_side(column)}'><font color='{theme.text_quiet}'>"
        f"{escape(column.name)}</font></th>"
        for column in block.columns
    )
    rows = "".join(_row(row, block.columns, theme) for row in block.rows)
    return (
        f"{_caption(block.caption)}<table width='98%' cellpadding='3' cellspacing='0'>"
        f"<thead><tr>{names}</tr></thead>{rows}</table>"
    )


def _row(row: Row, columns: tuple[Column, ...], theme: Theme) -> str:
    cells = []
    for i, (cell, column) in enumerate(zip(row.cells, columns, strict=True)):
        written = _strong(_marked(cell, theme), is_strong=row.is_strong)
        if i == 0 and row.t is not None:
            written = f"<a href='{MOMENT}{row.t!r}'>{written or 'open'}</a>"
        cells.append(
            f"<td align='{_side(column)}' style='border-bottom: 1px solid {theme.hairline};'>"
            f"{written}</td>"
        )
    return f"<tr>{''.join(cells)}</tr>"


def _side(column: Column) -> str:
    return "right" if column.is_number else "left"


def _picture(block: Picture, theme: Theme, picture_px: int, drawn: frozenset[Figure]) -> str:
    shown = f"<img src='{FIGURE}{block.figure.value}' width='{picture_px}'>"
    if block.figure not in drawn:
        shown = f"<font color='{theme.text_quiet}'>The figure is being drawn.</font>"
    return f"<p>{shown}</p><p><font color='{theme.text_quiet}'>{escape(block.caption)}</font></p>"
