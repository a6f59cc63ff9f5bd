"""Where the bench's parts stand: beside each other, or the curve above a column that scrolls."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from PySide6.QtCore import QRect
from PySide6.QtWidgets import QWidget

from console.window.fonts import Faces
from console.window.scroll_column import ScrollColumn

if TYPE_CHECKING:
    from console.window.bench_view import BenchView

LEFT_SHARE = 0.56
TIGHT_EM, TIGHT_SHARE = 110.0, 0.52
"""Below this width the table takes more: a pass's name stands in it whole."""
WIDE_EM = 90.0
"""Below this width the table goes under the rest, and what is least needed goes."""
NARROW_EM = 66.0
"""Below this one the curve keeps its place and the rest scrolls under it."""
CURVE_SHARE = 0.64
CURVE_MOST_EM = 34.0
"""What the curve takes of a narrow window: it is what one works on."""
SWEEP_EM, DELAYS_EM = 22.0, 16.0
TABLE_LEAST_LINES = 8


class BenchArrangement:
    """Places the parts of a bench for its size and text."""

    def __init__(self, view: BenchView) -> None:
        self._view = view
        self.scroll = ScrollColumn(view)
        self._scrolls = False

    def place(self, area: QRect, gap: int, faces: Faces) -> None:
        """Place everything between headline and entry line."""
        width = area.width() + 2 * gap
        held = self._settle(width < NARROW_EM * faces.em)
        if width >= WIDE_EM * faces.em:
            self._wide(area, gap, faces)
        elif not self._scrolls:
            self._low(area, gap, faces)
        else:
            self._narrow(area, gap, faces)
        if held is not None:
            (held if held.isVisibleTo(self._view) else self._view.table).setFocus()

    def _settle(self, scrolls: bool) -> QWidget | None:
        """Move parts in or out of what scrolls; give the one Qt took the keyboard from by it."""
        if scrolls == self._scrolls:
            return None
        self._scrolls = scrolls
        view, home = self._view, self.scroll.inner if scrolls else self._view
        parts: tuple[QWidget, ...] = (
            view.summary, view.heading, view.table, view.sweep, view.delays,
        )  # fmt: skip
        held = view.window().focusWidget()
        for part in parts:
            part.setParent(home)
            part.show()
        self.scroll.setVisible(scrolls)
        order = (view.curve, *parts) if scrolls else (
            view.curve, view.sweep, view.delays, view.summary, view.table,
        )  # fmt: skip
        for first, second in pairwise((view.headline.choice, *order)):
            QWidget.setTabOrder(first, second)
        return held if held in parts else None

    def _wide(self, area: QRect, gap: int, faces: Faces) -> None:
        view = self._view
        is_tight = area.width() < TIGHT_EM * faces.em
        left = round((TIGHT_SHARE if is_tight else LEFT_SHARE) * area.width())
        lower = round(0.32 * area.height())
        upper = area.height() - lower - gap
        x, y = area.x(), area.y()
        view.curve.setGeometry(x, y, left, upper)
        half = (left - gap) // 2
        view.sweep.setGeometry(x, y + upper + gap, half, lower)
        view.delays.setGeometry(x + half + gap, y + upper + gap, left - half - gap, lower)
        view.sweep.show()
        view.delays.show()
        right_x, right = x + left + gap, area.width() - left - gap
        tall = round(view.summary.natural_height(right))
        view.summary.setGeometry(right_x, y, right, tall)
        rest = QRect(right_x, y + tall + gap, right, area.height() - tall - gap)
        self._place_table(rest, faces)

    def _low(self, area: QRect, gap: int, faces: Faces) -> None:
        view = self._view
        view.sweep.hide()
        view.delays.hide()
        x, y, upper = area.x(), area.y(), round(0.6 * area.height())
        right = round(46.0 * faces.em)
        left = area.width() - right - gap
        view.curve.setGeometry(x, y, left, upper)
        view.summary.setGeometry(x + left + gap, y, right, upper)
        rest = QRect(x, y + upper + gap, area.width(), area.height() - upper - gap)
        self._place_table(rest, faces)

    def _narrow(self, area: QRect, gap: int, faces: Faces) -> None:
        view = self._view
        curve = round(min(CURVE_SHARE * area.height(), CURVE_MOST_EM * faces.em))
        view.curve.setGeometry(area.x(), area.y(), area.width(), curve)
        port = QRect(area.x(), area.y() + curve + gap, area.width(), area.height() - curve - gap)
        self.scroll.setGeometry(port)
        width = port.width() - self.scroll.verticalScrollBar().sizeHint().width() - gap
        line = round(faces.pitch)
        y = round(view.summary.natural_height(width))
        view.summary.setGeometry(0, 0, width, y)
        table = max(port.height(), (TABLE_LEAST_LINES + 1) * line)
        self._place_table(QRect(0, y + gap, width, table), faces)
        y += table + 2 * gap
        for plot, tall in ((view.sweep, SWEEP_EM), (view.delays, DELAYS_EM)):
            plot.setGeometry(0, y, width, round(tall * faces.em))
            y += round(tall * faces.em) + gap
        self.scroll.inner.resize(width, y)

    def _place_table(self, area: QRect, faces: Faces) -> None:
        line = round(faces.pitch)
        heading, table = self._view.heading, self._view.table
        heading.setGeometry(area.x() + round(0.5 * line), area.y(), area.width() - line, line)
        table.setGeometry(area.adjusted(0, line, 0, 0))
