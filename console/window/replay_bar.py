"""The bar of a replay: how it plays, where it stands, and the pass's time line to point at."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QMouseEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from console.present.replay_bar import (
    LineMark,
    ReplayBarView,
    line_marks,
    replay_bar,
    time_at,
)
from console.present.replay_port import ReplayNow, Tick, TickKind
from console.present.theme import DARK, Theme
from console.present.tone import Tone
from console.window.fonts import Face, Faces
from console.window.ink import Drawn, Ink

HEIGHT_EM = 2.1
SIGN_PX = 5.0
USUAL_SPEED = "0.25×"
ORDER = (
    TickKind.PHASE, TickKind.MARK, TickKind.NOTE, TickKind.CAUTION, TickKind.WARNING,
)  # fmt: skip
"""What is drawn later lies above."""


class ReplayBar(QWidget):
    """One line: state, speed, UTC, time since the begin, range; then the time line.

    On the line a range mark or phase is a quiet tick, a note a triangle at the top, a caution a
    half-filled square, a warning a filled one. What was not read yet is hatched. A click or a
    drag stands there.

    Signals
    -------
    pointed : float
        The time somebody points at, UTC seconds.
    """

    pointed = Signal(float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.theme: Theme = DARK
        self.faces = Faces(1.0)
        self.drawn: tuple[Drawn, ...] = ()
        self._now: ReplayNow | None = None
        self._view: ReplayBarView | None = None
        self._ticks: tuple[Tick, ...] = ()
        self._marks: tuple[LineMark, ...] = ()
        self._marked_for: tuple[float, float] | None = None
        self.setAccessibleName("Replay: time line")
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)

    @property
    def view(self) -> ReplayBarView | None:
        """What is shown."""
        return self._view

    def show_replay(self, now: ReplayNow, ticks: tuple[Tick, ...]) -> None:
        """Show how a replay stands; does nothing where that looks the same."""
        view = replay_bar(now)
        span = (now.t_first, now.t_last)
        is_same_line = ticks is self._ticks and span == self._marked_for
        if view == self._view and is_same_line:
            return
        if not is_same_line:
            self._ticks, self._marked_for = ticks, span
            self._marks = line_marks(now, ticks)
        self._now, self._view = now, view
        self.setAccessibleDescription(view.spoken)
        self.update()

    def natural_height(self) -> float:
        """Give the height of the one line."""
        return float(round(HEIGHT_EM * self.faces.em))

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        self.theme = theme
        if scale != self.faces.scale:
            self.faces = Faces(scale)
        self.update()

    def sizeHint(self) -> QSize:
        """Give a good size."""
        return QSize(round(80 * self.faces.em), round(self.natural_height()))

    def line(self) -> QRectF:
        """Give where the time line lies, px."""
        em = self.faces.em
        left = round(self._columns()[-1])
        return QRectF(left, 0.2 * em, max(self.width() - left - 0.8 * em, 10.0), 1.7 * em)

    # -- the mouse ------------------------------------------------------------------------

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Stand where somebody points."""
        self._point(event)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Follow a drag."""
        if event.buttons() & Qt.MouseButton.LeftButton:
            self._point(event)

    def _point(self, event: QMouseEvent) -> None:
        line, x = self.line(), event.position().x()
        if self._now is not None and x >= line.left() - self.faces.em:
            self.pointed.emit(time_at(self._now, (x - line.left()) / line.width()))

    # -- painting -------------------------------------------------------------------------

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the words and the line."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        ink = Ink(painter, self.theme, self.faces)
        ink.fill(QRectF(self.rect()), self.theme.panel)
        if self._view is not None:
            self._paint_words(ink, self._view)
            self._paint_line(ink, self._view)
        edge = QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5)
        ink.frame(edge, self.theme.hairline)
        if self.hasFocus():
            ink.frame(edge.adjusted(1.0, 1.0, -1.0, -1.0), self.theme.focus, 2.0)
        painter.end()
        self.drawn = tuple(ink.drawn)

    def _columns(self) -> list[float]:
        """Give the left ends of the sign, state, speed, clock, elapsed, range and line, px."""
        faces, em = self.faces, self.faces.em
        speed = self._view.speed if self._view is not None else USUAL_SPEED
        wide = [
            1.3 * em,
            faces.width(Face.SMALL_BOLD, "playing") + 0.8 * em,
            max(faces.width(Face.DIGITS_SMALL, w) for w in (speed, USUAL_SPEED)) + em,
            faces.width(Face.DIGITS_SMALL, "00:00:00.0 UTC") + em,
            faces.width(Face.DIGITS_SMALL, "0:00:00 of 0:00:00") + em,
            faces.width(Face.DIGITS_SMALL, "200.00 m") + em,
        ]
        left, columns = 0.8 * em, []
        for one in wide:
            columns.append(left)
            left += one
        return [*columns, left]

    def _paint_words(self, ink: Ink, view: ReplayBarView) -> None:
        faces = self.faces
        y = (self.height() + faces.capital(Face.SMALL)) / 2.0
        sign, state, speed, clock, elapsed, range_m, _ = self._columns()
        self._paint_sign(ink, sign, y, is_playing=view.is_playing)
        ink.text(state, y, view.state, Face.SMALL_BOLD, Tone.STRONG)
        ink.text(speed, y, view.speed, Face.DIGITS_SMALL)
        ink.text(clock, y, f"{view.clock} UTC", Face.DIGITS_SMALL)
        ink.text(elapsed, y, view.elapsed, Face.DIGITS_SMALL, Tone.QUIET)
        ink.text(range_m, y, view.range_m, Face.DIGITS_SMALL)

    def _paint_sign(self, ink: Ink, x: float, baseline: float, *, is_playing: bool) -> None:
        """Paint the sign of playing, or of standing still."""
        tall = round(self.faces.capital(Face.SMALL))
        top = round(baseline) - tall
        colour = self.theme.text
        if not is_playing:
            for left in (0.0, 5.0):
                ink.fill(QRectF(round(x) + left, top, 3.0, tall), colour)
            return
        for column in range(tall):
            inset = column / 2.0
            ink.fill(QRectF(round(x) + column, top + inset, 1.0, tall - 2.0 * inset), colour)

    def _paint_line(self, ink: Ink, view: ReplayBarView) -> None:
        line, theme = self.line(), self.theme
        middle = round(line.center().y())
        ink.fill(QRectF(line.left(), middle - 1.0, line.width(), 3.0), theme.bar_ground)
        past = QRectF(line.left(), middle - 1.0, line.width() * view.share, 3.0)
        ink.fill(past, theme.bar)
        if view.read_share < 1.0:
            left = line.left() + line.width() * view.read_share
            ink.hatch(QRectF(left, line.top(), line.right() - left, line.height()))
        self._paint_marks(ink, line)
        if view.waits:
            wide = self.faces.width(Face.SMALL, view.waits)
            y = line.top() + self.faces.ascent(Face.SMALL)
            box = QRectF(line.right() - wide - 4.0, line.top(), wide + 4.0, line.height())
            ink.fill(box, theme.panel)
            ink.text(line.right() - wide, y, view.waits, Face.SMALL, Tone.PLAIN)
        x = round(line.left() + line.width() * view.share)
        ink.fill(QRectF(x - 1.0, line.top(), 3.0, line.height()), theme.text)

    def _paint_marks(self, ink: Ink, line: QRectF) -> None:
        """Paint each kind of mark once for a pixel, what matters most on top."""
        places: dict[TickKind, set[int]] = {kind: set() for kind in ORDER}
        for mark in self._marks:
            places[mark.kind].add(round(line.left() + line.width() * mark.share))
        for kind in ORDER:
            for x in sorted(places[kind]):
                self._paint_mark(ink, kind, float(x), line)

    def _paint_mark(self, ink: Ink, kind: TickKind, x: float, line: QRectF) -> None:
        theme, middle = self.theme, round(line.center().y())
        if kind in (TickKind.PHASE, TickKind.MARK):
            tall = 4.0 if kind is TickKind.PHASE else 6.0
            ink.fill(QRectF(x, middle + 2.0, 1.0, tall), theme.text_quiet)
        elif kind is TickKind.NOTE:
            for row in range(4):
                ink.fill(QRectF(x - 3.0 + row, line.top() + row, 7.0 - 2.0 * row, 1.0), theme.text)
            ink.fill(QRectF(x, line.top() + 4.0, 1.0, middle - line.top() - 4.0), theme.text)
        else:
            self._paint_square(ink, kind, x, middle)

    def _paint_square(self, ink: Ink, kind: TickKind, x: float, middle: float) -> None:
        is_warning = kind is TickKind.WARNING
        colour = self.theme.warning if is_warning else self.theme.caution
        size = SIGN_PX + 2.0
        box = QRectF(x - 3.0, middle - 3.0 - size, size, size)
        ink.fill(QRectF(x, middle - 3.0, 1.0, 6.0), colour)
        if is_warning:
            ink.fill(box, colour)
            return
        ink.fill(box, self.theme.panel)
        ink.fill(QRectF(box.left(), box.top(), 3.0, size), colour)
        ink.painter.setPen(QColor(colour))
        ink.painter.setBrush(Qt.BrushStyle.NoBrush)
        ink.painter.drawRect(box.adjusted(0.5, 0.5, -0.5, -0.5))
