"""A report as PDF: upright A4, title and caution on every page, fonts inside, no row parted.

Set by matplotlib alone, so that it needs neither a screen nor a window toolkit, and the figures
stay lines and not dots. The same report gives the same bytes.
"""

from __future__ import annotations

import io
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from console import __version__
from console.debrief.drawing import PAPER, pens
from console.debrief.pdf_flow import Piece, pieces_of, rule, write
from console.debrief.report import Report
from console.debrief.type_setting import broken, printable

if TYPE_CHECKING:
    from matplotlib.figure import Figure as Page

A4_IN = (210.0 / 25.4, 297.0 / 25.4)
MARGIN_IN = 15.0 / 25.4
HEAD_IN, FOOT_IN = 0.34, 0.36
"""What the line of title and that of caution take at a page's head and foot."""
SMALL_PT = 7.0
WIDTH_IN = A4_IN[0] - 2.0 * MARGIN_IN
ROOM_IN = A4_IN[1] - 2.0 * MARGIN_IN - HEAD_IN - FOOT_IN


def render_pdf(report: Report) -> bytes:
    """Give a report as a PDF document; its time is the report's own."""
    from matplotlib.backends.backend_pdf import PdfPages

    stream = io.BytesIO()
    made = datetime.fromtimestamp(int(report.created_s), tz=UTC)
    facts = {
        "Title": printable(report.title),
        "Subject": report.caution,
        "Creator": f"Leadmark {__version__}",
        "CreationDate": made,
    }
    with pens():
        pages = paged(pieces_of(report, WIDTH_IN), ROOM_IN)
        with PdfPages(stream, metadata=facts) as document:
            for number, pieces in enumerate(pages, start=1):
                document.savefig(_page(report, pieces, number, len(pages)))
    return stream.getvalue()


def paged(pieces: list[Piece], room_in: float) -> list[list[Piece]]:
    """Lay pieces onto pages.

    Parameters
    ----------
    pieces : list of Piece
        In order.
    room_in : float
        Height there is on a page.

    Returns
    -------
    list of list of Piece
        At least one page. A piece that keeps its next is never the last of its page; a table's
        row that begins a page has the table's head before it.
    """
    pages: list[list[Piece]] = [[]]
    used = 0.0
    for group in _groups(pieces):
        height = sum(piece.height_in for piece in group)
        if pages[-1] and (group[0].begins_page or used + height > room_in):
            pages.append([])
            used = 0.0
            head = group[0].head
            if head is not None:
                pages[-1].append(head)
                used = head.height_in
        pages[-1] += group
        used += height
    return pages


def _groups(pieces: list[Piece]) -> list[list[Piece]]:
    """Give runs of pieces that stay together."""
    groups: list[list[Piece]] = []
    is_open = False
    for piece in pieces:
        if is_open:
            groups[-1].append(piece)
        else:
            groups.append([piece])
        is_open = piece.keeps_next
    return groups


def _page(report: Report, pieces: list[Piece], number: int, count: int) -> Page:
    from matplotlib.figure import Figure as Page

    page = Page(figsize=A4_IN, facecolor=PAPER.ground)
    top = A4_IN[1] - MARGIN_IN
    right = MARGIN_IN + WIDTH_IN
    title = broken(report.title, SMALL_PT, WIDTH_IN - 1.0)[0]
    write(page, MARGIN_IN, top - 0.12, title, SMALL_PT, quiet=True)
    write(
        page, right, top - 0.12, f"page {number} of {count}", SMALL_PT, quiet=True, is_right=True
    )
    rule(page, MARGIN_IN, top - 0.19, WIDTH_IN)
    y = top - HEAD_IN
    for piece in pieces:
        piece.ink(page, MARGIN_IN, y)
        y -= piece.height_in
    foot = MARGIN_IN + 0.24
    rule(page, MARGIN_IN, foot, WIDTH_IN)
    write(page, MARGIN_IN, foot - 0.14, report.caution, SMALL_PT)
    return page
