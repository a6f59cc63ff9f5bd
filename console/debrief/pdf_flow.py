"""A report cut into pieces that go onto pages: what may be parted, and what keeps together."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from console.debrief import figures
from console.debrief.drawing import PAPER, Canvas
from console.debrief.page import Block, Chapter, Facts, Lines, Picture, Row, Section, Table
from console.debrief.report import Report
from console.debrief.review import Debrief
from console.debrief.type_setting import broken, column_widths, line_in

if TYPE_CHECKING:
    from matplotlib.figure import Figure as Page

TITLE_PT, CHAPTER_PT, SECTION_PT, TEXT_PT, TABLE_PT, NOTE_PT = 15.0, 13.0, 10.5, 8.5, 7.2, 7.2
PAD_IN = 0.1
ROW_IN = 0.045
"""Free space of a table's row above and below its text together."""
MARK_IN = 0.2

Inking: TypeAlias = "Callable[[Page, float, float], None]"


@dataclass(frozen=True, slots=True)
class Piece:
    """Something of a height that goes onto one page whole.

    Attributes
    ----------
    ink : callable
        Draws it onto a page, given its left and upper edge, inches from the lower left.
    keeps_next : bool
        It never stands at a page's foot: the next piece comes with it.
    begins_page : bool
        It stands at the head of a page.
    head : Piece or None
        Of a table's row: the head to repeat where the row begins a page.
    """

    height_in: float
    ink: Inking
    keeps_next: bool = False
    begins_page: bool = False
    head: Piece | None = None


def pieces_of(report: Report, width_in: float) -> list[Piece]:
    """Give a report as pieces, in order."""
    found = [
        _words(report.title, TITLE_PT, width_in, bold=True, below_in=0.02),
        _words(report.made, TEXT_PT, width_in, quiet=True, below_in=0.06),
        _boxed(report.caution, width_in),
    ]
    if report.comparison is not None:
        found += _section(report.comparison, None, width_in)
    for chapter, debrief in zip(report.chapters, report.debriefs, strict=True):
        is_alone = report.comparison is None
        found += _chapter(chapter, debrief, width_in, begins_page=not is_alone)
    return found


def _chapter(
    chapter: Chapter, debrief: Debrief, width_in: float, *, begins_page: bool
) -> list[Piece]:
    found = [
        _words(
            chapter.title, CHAPTER_PT, width_in, bold=True, keeps_next=True,
            begins_page=begins_page, above_in=0.1,
        ),
        _words(chapter.subtitle, TEXT_PT, width_in, quiet=True, keeps_next=True, below_in=0.05),
    ]  # fmt: skip
    for section in chapter.sections:
        found += _section(section, debrief, width_in)
    return found


def _section(section: Section, debrief: Debrief | None, width_in: float) -> list[Piece]:
    found = [
        _words(
            section.title, SECTION_PT, width_in, bold=True, keeps_next=True, above_in=0.16,
            below_in=0.05,
        )
    ]  # fmt: skip
    for block in section.blocks:
        found += _block(block, debrief, width_in)
    return found


def _block(block: Block, debrief: Debrief | None, width_in: float) -> list[Piece]:
    match block:
        case Lines():
            return [_line(line.mark, line.text, width_in) for line in block.lines]
        case Facts(rows=()):
            return []
        case Facts():
            rows = tuple(Row(pair) for pair in block.rows)
            return _table(block.caption, (), rows, (False, False), width_in)
        case Table():
            numbers = tuple(column.is_number for column in block.columns)
            names = tuple(column.name for column in block.columns)
            if not block.rows:
                nothing = _words(block.nothing, TABLE_PT, width_in, below_in=0.1)
                return [_caption(block.caption, width_in), nothing]
            return _table(block.caption, names, block.rows, numbers, width_in)
        case Picture():
            assert debrief is not None
            return [_picture(block, debrief, width_in)]


def _words(
    words: str,
    size_pt: float,
    room_in: float,
    *,
    bold: bool = False,
    quiet: bool = False,
    keeps_next: bool = False,
    begins_page: bool = False,
    above_in: float = 0.0,
    below_in: float = 0.0,
) -> Piece:
    """Give a paragraph."""
    lines = broken(words, size_pt, room_in, bold=bold)
    pitch = line_in(size_pt)

    def ink(page: Page, left: float, top: float) -> None:
        for i, line in enumerate(lines):
            y = top - above_in - (i + 0.78) * pitch
            write(page, left, y, line, size_pt, bold=bold, quiet=quiet)

    height = above_in + len(lines) * pitch + below_in
    return Piece(height, ink, keeps_next=keeps_next, begins_page=begins_page)


def _line(mark: str, words: str, width_in: float) -> Piece:
    """Give a line with a column for its mark."""
    said = _words(words, TEXT_PT, width_in - MARK_IN, bold=bool(mark), below_in=0.02)

    def ink(page: Page, left: float, top: float) -> None:
        write(page, left, top - 0.78 * line_in(TEXT_PT), mark, TEXT_PT, bold=True)
        said.ink(page, left + MARK_IN, top)

    return Piece(said.height_in, ink)


def _boxed(words: str, width_in: float) -> Piece:
    """Give the caution in its frame."""
    said = _words(words, TEXT_PT, width_in - 0.2, bold=True)
    height = said.height_in + 0.12

    def ink(page: Page, left: float, top: float) -> None:
        frame(page, left, top - height, width_in, height)
        said.ink(page, left + 0.1, top - 0.06)

    return Piece(height + 0.05, ink)


def _caption(words: str, width_in: float) -> Piece:
    return _words(
        words, TABLE_PT + 0.6, width_in, bold=True, keeps_next=True, above_in=0.06, below_in=0.02
    )


def _picture(block: Picture, debrief: Debrief, width_in: float) -> Piece:
    """Give a figure with its caption below it, never parted."""
    high = figures.height_in(block.figure, debrief)
    caption = _words(block.caption, NOTE_PT, width_in, quiet=True, below_in=0.1)

    def ink(page: Page, left: float, top: float) -> None:
        canvas = Canvas(page, left, top - high, width_in, high, PAPER)
        figures.draw(block.figure, debrief, canvas)
        caption.ink(page, left, top - high)

    return Piece(high + caption.height_in, ink)


def _table(
    caption: str,
    names: tuple[str, ...],
    rows: Sequence[Row],
    numbers: tuple[bool, ...],
    width_in: float,
) -> list[Piece]:
    """Give caption, head and rows; each row is whole, and the head is repeated over a break."""
    cells = [row.cells for row in rows]
    every = [names, *cells] if names else cells
    widths = column_widths(every, numbers, TABLE_PT, width_in, PAD_IN)
    head = None
    found = [_caption(caption, width_in)]
    if names:
        head = _row(Row(names), widths, numbers, is_head=True)
        found.append(head)
    for i, row in enumerate(rows):
        made = _row(row, widths, numbers, head=head, keeps_next=i == 0 and len(rows) > 1)
        found.append(made)
    return found


def _row(
    row: Row,
    widths: list[float],
    numbers: tuple[bool, ...],
    *,
    is_head: bool = False,
    head: Piece | None = None,
    keeps_next: bool = False,
) -> Piece:
    bold = is_head or row.is_strong
    pitch = line_in(TABLE_PT)
    lines = [
        broken(cell, TABLE_PT, wide - PAD_IN, bold=bold)
        for cell, wide in zip(row.cells, widths, strict=True)
    ]
    height = max(len(cell) for cell in lines) * pitch + ROW_IN

    def ink(page: Page, left: float, top: float) -> None:
        x = left
        for cell, wide, is_number in zip(lines, widths, numbers, strict=True):
            for i, line in enumerate(cell):
                y = top - ROW_IN / 2.0 - (i + 0.76) * pitch
                end = x + wide - PAD_IN
                write(
                    page, end if is_number else x, y, line, TABLE_PT, bold=bold,
                    is_right=is_number,
                )  # fmt: skip
            x += wide
        rule(page, left, top - height, sum(widths), is_heavy=is_head)

    return Piece(height, ink, keeps_next=is_head or keeps_next, head=head)


def write(
    page: Page,
    x: float,
    y: float,
    words: str,
    size_pt: float,
    *,
    bold: bool = False,
    quiet: bool = False,
    is_right: bool = False,
) -> None:
    """Write a line of text onto a page, inches from its lower left."""
    if not words:
        return
    wide, high = (float(inches) for inches in page.get_size_inches())
    page.text(
        x / wide, y / high, words, size=size_pt, weight="bold" if bold else "normal",
        color=PAPER.text_quiet if quiet else PAPER.text, ha="right" if is_right else "left",
        va="baseline",
    )  # fmt: skip


def rule(page: Page, left: float, y: float, length_in: float, *, is_heavy: bool = False) -> None:
    """Draw a level line onto a page."""
    from matplotlib.lines import Line2D

    wide, high = (float(inches) for inches in page.get_size_inches())
    page.add_artist(
        Line2D(
            (left / wide, (left + length_in) / wide), (y / high, y / high),
            color=PAPER.text if is_heavy else PAPER.hairline, linewidth=0.9 if is_heavy else 0.4,
        )
    )  # fmt: skip


def frame(page: Page, left: float, bottom: float, width_in: float, height_in: float) -> None:
    """Draw the outline of a box onto a page."""
    from matplotlib.patches import Rectangle

    wide, high = (float(inches) for inches in page.get_size_inches())
    page.add_artist(
        Rectangle(
            (left / wide, bottom / high), width_in / wide, height_in / high, fill=False,
            edgecolor=PAPER.text, linewidth=0.8, transform=page.transFigure,
        )
    )  # fmt: skip
