"""Printed pages: nothing cut, nothing overlapping, no row parted; readable in grey."""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations

import pytest
from debrief_tools import CREATED_S, debrief_of
from hypothesis import given
from hypothesis import strategies as st

from console import CAUTION_TEXT
from console.debrief import pdf
from console.debrief.drawing import BROKEN, GAP_HATCH, LIMIT_HATCH, PAPER, SHAPES, pens
from console.debrief.pdf import MARGIN_IN, ROOM_IN, WIDTH_IN, paged
from console.debrief.pdf_flow import Piece, pieces_of
from console.debrief.report import report_of
from console.debrief.type_setting import broken, column_widths, width_in

NAMES = ("late_braking.leadmark", "nominal_to_docked.leadmark")
TOUCHING_PX = 1.0


@lru_cache(maxsize=2)
def pages_of(name: str) -> list[object]:
    """Give the pages of a pass's PDF, laid out as they are drawn."""
    report = report_of([debrief_of(name)], CREATED_S)
    pages = []
    with pens():
        laid = paged(pieces_of(report, WIDTH_IN), ROOM_IN)
        for number, pieces in enumerate(laid, start=1):
            page = pdf._page(report, pieces, number, len(laid))
            page.draw_without_rendering()
            pages.append(page)
    return pages


def texts_of(page: object) -> list[tuple[str, object]]:
    """Give every text of a page that is seen, with its box."""
    from matplotlib.text import Text

    found = []
    for one in page.findobj(Text):  # type: ignore[attr-defined]
        if one.get_text().strip() and one.get_visible():
            axes = one.axes
            if axes is not None and one in axes.get_xticklabels() + axes.get_yticklabels():
                low, high = sorted(axes.get_xlim())
                x, y = one.get_position()
                bottom, top = sorted(axes.get_ylim())
                is_across = one in axes.get_xticklabels()
                if not (low <= x <= high if is_across else bottom <= y <= top):
                    continue
            found.append((one.get_text(), one.get_window_extent()))
    return found


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_cut_and_nothing_overlaps(name: str) -> None:
    """On every page each text lies within the margins, and no two lie on one another."""
    count = 0
    for page in pages_of(name):
        wide, high = page.get_size_inches() * page.dpi  # type: ignore[attr-defined]
        margin = MARGIN_IN * page.dpi - TOUCHING_PX  # type: ignore[attr-defined]
        texts = texts_of(page)
        count += len(texts)
        for words, box in texts:
            assert box.x0 >= margin, words  # type: ignore[attr-defined]
            assert box.x1 <= wide - margin, words  # type: ignore[attr-defined]
            assert box.y0 >= margin - 6.0, words  # type: ignore[attr-defined]
            assert box.y1 <= high - margin, words  # type: ignore[attr-defined]
        for (one, a), (other, b) in combinations(texts, 2):
            across = min(a.x1, b.x1) - max(a.x0, b.x0)  # type: ignore[attr-defined]
            down = min(a.y1, b.y1) - max(a.y0, b.y0)  # type: ignore[attr-defined]
            assert not (across > TOUCHING_PX and down > 2.0 * TOUCHING_PX), (one, other)
    assert count > 300


def test_every_page_carries_title_number_and_caution() -> None:
    """Head and foot stand on each page."""
    pages = pages_of(NAMES[0])
    assert len(pages) >= 4
    for number, page in enumerate(pages, start=1):
        words = [words for words, _ in texts_of(page)]
        assert words.count(CAUTION_TEXT) >= 1
        assert f"page {number} of {len(pages)}" in words
        assert "Debrief: Late braking, contact too fast" in words


def piece(height_in: float, **more: object) -> Piece:
    """Give a piece that draws nothing."""
    return Piece(height_in, lambda page, left, top: None, **more)  # type: ignore[arg-type]


@given(st.lists(st.tuples(st.floats(0.1, 3.0), st.booleans()), max_size=60))
def test_pieces_stay_whole_and_in_order(sizes: list[tuple[float, bool]]) -> None:
    """All pieces come, in order; no page is overfull; what keeps its next is never last."""
    pieces = [piece(high, keeps_next=keeps and high < 0.3) for high, keeps in sizes]
    pages = paged(pieces, 10.0)
    assert [one for page in pages for one in page] == pieces
    for page in pages:
        runs = sum(one.height_in for one in page if one.keeps_next)
        assert sum(one.height_in for one in page) <= 10.0 or runs > 6.0
    for page in pages[:-1]:
        assert not page[-1].keeps_next


def test_a_table_over_two_pages_repeats_its_head() -> None:
    """The first row of the next page has the head before it."""
    head = piece(0.3, keeps_next=True)
    rows = [piece(0.4, head=head) for _ in range(30)]
    pages = paged([head, *rows], 5.0)
    assert len(pages) > 2
    for page in pages:
        assert page[0] is head
        assert sum(one.height_in for one in page) <= 5.0


@given(st.text("abcd -_", max_size=120), st.floats(0.4, 3.0))
def test_broken_lines_fit_and_lose_nothing(words: str, room_in: float) -> None:
    """Lines are no wider than the room, and hold every letter in order."""
    lines = broken(words, 7.0, room_in)
    assert "".join(lines).replace(" ", "") == words.replace(" ", "")
    assert all(width_in(line, 7.0) <= room_in + 1e-9 for line in lines)


def test_numbers_are_never_broken() -> None:
    """A column of numbers keeps its widest cell whole while words give way."""
    cells = [("What", "Range"), ("some rather long words that may well be broken", "12.10 m")]
    widths = column_widths(cells, (False, True), 7.0, 1.6, 0.1)
    assert abs(sum(widths) - 1.6) < 1e-9
    assert widths[1] >= width_in("12.10 m", 7.0, bold=True) + 0.1 - 1e-9


def luminance(colour: str) -> float:
    """Give the relative luminance of a colour (WCAG 2.2, definition of relative luminance)."""
    shares = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares]
    return sum(w * s for w, s in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(a: str, b: str) -> float:
    """Give the contrast ratio of two colours (WCAG 2.2)."""
    light, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_ink_is_dark_on_paper_in_grey_too() -> None:
    """Text and traces stand out by luminance alone; the band's ground is far from its edge."""
    for ink in (PAPER.text, PAPER.text_quiet, PAPER.warning, PAPER.caution, PAPER.plan):
        assert contrast(ink, PAPER.panel) >= 6.0
    for ink in (PAPER.trace_a, PAPER.trace_b, PAPER.trace_c):
        assert contrast(ink, PAPER.panel) >= 6.0
        assert contrast(ink, PAPER.band) >= 4.5
    assert contrast(PAPER.band_edge, PAPER.band) >= 3.0
    assert contrast(PAPER.band, PAPER.panel) >= 1.15


def test_nothing_is_told_apart_by_colour_alone() -> None:
    """Traces of one lane differ in breaks and markers; warning and caution in their filling."""
    assert len({str(one) for one in BROKEN}) == len(set(SHAPES)) == 3
    assert len({"", LIMIT_HATCH, GAP_HATCH}) == 3
