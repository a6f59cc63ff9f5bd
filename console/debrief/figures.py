"""The figures of a debrief, each drawn into a canvas: the same for HTML, PDF and the screen."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import TYPE_CHECKING

from console.debrief import figure_capture, figure_course, figure_lanes, figure_margins
from console.debrief.drawing import PAPER, Canvas, pens
from console.debrief.page import Figure
from console.debrief.review import Debrief
from console.present.theme import Theme

if TYPE_CHECKING:
    from matplotlib.figure import Figure as Page

WIDTH_IN = 7.1
"""The width between the margins of an upright A4 page, 15 mm each."""

DRAW: dict[Figure, Callable[[Debrief, Canvas], None]] = {
    Figure.COURSE: figure_course.draw,
    Figure.LANES: figure_lanes.draw,
    Figure.MARGINS: figure_margins.draw,
    Figure.PREDICTED: figure_capture.draw_predicted,
    Figure.CAPTURE: figure_capture.draw,
}


def height_in(figure: Figure, d: Debrief) -> float:
    """Give how high a figure stands, inches."""
    match figure:
        case Figure.COURSE:
            return figure_course.height_in(d)
        case Figure.LANES:
            return figure_lanes.HEIGHT_IN
        case Figure.MARGINS:
            return figure_margins.height_in(d)
        case Figure.PREDICTED:
            return figure_capture.PREDICTED_IN
        case Figure.CAPTURE:
            return figure_capture.HEIGHT_IN


def draw(figure: Figure, d: Debrief, canvas: Canvas) -> None:
    """Draw a figure into a place of a page; inside :func:`console.debrief.drawing.pens`."""
    DRAW[figure](d, canvas)


def svg(figure: Figure, d: Debrief, theme: Theme = PAPER) -> bytes:
    """Give a figure as an SVG picture; the same debrief gives the same bytes."""
    stream = io.BytesIO()
    with pens():
        plain = {"Date": None, "Creator": None, "Format": None, "Type": None}
        _page(figure, d, theme).savefig(stream, format="svg", metadata=plain)
    return stream.getvalue()


def png(figure: Figure, d: Debrief, theme: Theme, dots_per_inch: float) -> bytes:
    """Give a figure as a PNG picture, for the screen."""
    stream = io.BytesIO()
    with pens():
        page = _page(figure, d, theme)
        page.savefig(stream, format="png", dpi=dots_per_inch, metadata={"Software": None})
    return stream.getvalue()


def _page(figure: Figure, d: Debrief, theme: Theme) -> Page:
    from matplotlib.figure import Figure as Page

    height = height_in(figure, d)
    page = Page(figsize=(WIDTH_IN, height), facecolor=theme.panel)
    draw(figure, d, Canvas(page, 0.0, 0.0, WIDTH_IN, height, theme))
    return page
