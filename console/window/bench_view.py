"""The Bench view: a limit's curve over all passes, before and after, driven by keys or mouse."""

from __future__ import annotations

from PySide6.QtCore import QRect, Qt, QTimer
from PySide6.QtGui import QCloseEvent, QHideEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QLabel, QWidget

from console import CAUTION_TEXT
from console.envelope.consistency import inconsistencies
from console.envelope.inconsistency import Kind
from console.envelope.limits import Level
from console.present.bench_curve import STEPS_M, CurveNow, CurveView, Touch, view_at, view_of
from console.present.bench_density import outermost_m, value_span
from console.present.bench_draft import Draft
from console.present.bench_port import Answer, BenchPort, Question
from console.present.bench_rows import Column, Rows
from console.present.bench_summary import headline, limit_names, summary
from console.present.bench_touches import gained_and_lost
from console.present.theme import DARK, Theme
from console.window.bench_arrangement import BenchArrangement
from console.window.bench_deeds import BenchDeeds
from console.window.bench_keys import HINTS, bench_sheet_rows
from console.window.bench_sweeper import BenchSweeper
from console.window.bench_table import PassTable
from console.window.fonts import Face, Faces
from console.window.panels.bench_headline import BenchHeadline
from console.window.panels.bench_summary import BenchSummary
from console.window.panels.entry import EntryLine
from console.window.panels.manual import ManualReader
from console.window.panels.sheet import KeySheet
from console.window.plots.bench_curve import CurvePlot
from console.window.plots.bench_delays import DelaysPlot
from console.window.plots.bench_sweep import SweepPlot

TICK_MS = 16
SLOW_TICK_MS = 100
TABLE_REST_MS = 120
"""While dragging the table is renewed so often: faster is not read."""


class BenchView(QWidget):
    """Everything of the bench in one widget.

    Parameters
    ----------
    port : BenchPort
        Loads, judges and saves.
    """

    title = "Bench"

    def __init__(self, port: BenchPort, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.port = port
        self.draft = Draft(port.opened)
        self.only = False
        self.filter = ""
        self.sort: Column | None = None
        self.falling = False
        self.marks = 0
        self.answer: Answer | None = None
        self.asked: Question | None = None
        self._pending: tuple[float, float] | None = None
        self._touches: tuple[tuple[Touch, ...], tuple[Touch, ...]] = ((), ())
        self._known_faults: tuple[str, frozenset[tuple[Kind, str]]] = ("", frozenset())
        self._table_rest = QTimer(self)
        self._table_rest.setSingleShot(True)
        self._faces = Faces(1.0)
        self._theme: Theme = DARK
        self._curve_view: CurveView | None = None
        self.headline = BenchHeadline(self)
        self.curve = CurvePlot(self)
        self.sweep = SweepPlot(self)
        self.delays = DelaysPlot(self)
        self.summary = BenchSummary(self)
        self.table = PassTable(self)
        self.heading = QLabel(self)
        self.caution = QLabel(CAUTION_TEXT, self)
        self.entry = EntryLine(self, hints=HINTS, asks_who=False)
        self._arrangement = BenchArrangement(self)
        self.sheet = KeySheet(bench_sheet_rows(), self)
        self.manual = ManualReader(self)
        self._timer = QTimer(self)
        self._timer.timeout.connect(self.tick)
        self.headline.set_limits(limit_names(self.draft.file))
        self.sweeper = BenchSweeper(self, self.sweep)
        self.deeds = BenchDeeds(self)
        self._connect()
        self.changed()

    def _connect(self) -> None:
        self.headline.limit_chosen.connect(self.choose_limit)
        self.curve.point_chosen.connect(self._on_point_chosen)
        self.curve.drag_begun.connect(self.draft.begin_drag)
        self.curve.dragged.connect(self._on_dragged)
        self.curve.drag_ended.connect(self._on_drag_ended)
        self.curve.nudged.connect(self._on_nudged)
        self.curve.inserted.connect(self._on_inserted)
        self.table.pass_opened.connect(self.deeds.open_pass)
        self.table.head_chosen.connect(self.sort_by)

    # ------------------------------------------------------------------ what is shown

    def choose_limit(self, index: int) -> None:
        """Work on another limit."""
        self.draft.choose_limit(index)
        self._curve_view = None
        self.changed()

    def changed(self) -> None:
        """Show the draft as it is now, and have it judged."""
        self._show_curve()
        self._show_headline()
        question = Question(self.draft.file, self.draft.place.limit, self.only, self.marks)
        if question != self.asked and self.port.loaded() is not None:
            self.asked = question
            self.sweeper.changed()
            self.port.ask(question)
            answer = self.port.take()
            if answer is not None:
                self._show_answer(answer)

    def tick(self) -> None:
        """Take what came: loaded passes, a new answer."""
        passes = self.port.loaded()
        if self.asked is None:
            if passes is not None:
                self._timer.setInterval(TICK_MS)
                self._curve_view = None
                self.changed()
                self._tell_refused()
            else:
                self._show_headline()
            return
        if self._pending is not None:
            place, self._pending = self._pending, None
            self.draft.move_to(*place)
            self.changed()
        self.sweeper.tick()
        answer = self.port.take()
        if answer is not None:
            self._show_answer(answer)

    def sort_by(self, column: int) -> None:
        """Sort the table by a column, the other way round the second time."""
        chosen = Column(column)
        self.falling = self.sort is chosen and not self.falling
        self.sort = chosen
        self.show_rows()

    def show_rows(self) -> None:
        """Show the table's rows as they are filtered and sorted."""
        passes = self.port.loaded()
        if passes is None or self.answer is None:
            return
        rows = Rows(passes, self.port.labels, self.answer)
        order = rows.ordered(self.filter, self.sort, falling=self.falling)
        self.table.show_rows(rows, order)
        self.heading.setText(rows.heading(len(order), self.filter, self.sort))

    def zoom(self, step: int) -> None:
        """Show closer or farther ranges."""
        present = self._view()
        at = STEPS_M.index(present.outer_m) if present.outer_m in STEPS_M else len(STEPS_M) - 1
        outer_m = STEPS_M[min(max(at + step, 0), len(STEPS_M) - 1)]
        passes = self.port.loaded()
        span = None if passes is None else value_span(passes.stack, self.draft.limit, outer_m)
        self._curve_view = view_at(self.draft.limit, span, outer_m)
        self._show_curve()

    def _view(self) -> CurveView:
        if self._curve_view is None:
            passes, limit = self.port.loaded(), self.draft.limit
            if passes is None:
                return view_of(limit, None, 0.0)
            far_m = outermost_m(passes.stack)
            first = view_of(limit, None, far_m)
            self._curve_view = view_of(
                limit, value_span(passes.stack, limit, first.outer_m), far_m
            )
        return self._curve_view

    def _show_curve(self) -> None:
        passes, limit = self.port.loaded(), self.draft.limit
        column = None
        if passes is not None:
            column = passes.stack.column(limit.basis, limit.quantity)
        self.curve.show_traces(column, self._view())
        gained, lost = self._touches
        self.curve.show_now(
            CurveNow(
                self.draft.opened_limit, limit, self.draft.place.point,
                self.draft.opened.revision, gained, lost,
            )
        )  # fmt: skip

    def _show_headline(self) -> None:
        passes = self.port.loaded()
        took_s = None if self.answer is None else self.answer.took_s
        self.headline.choose(self.draft.place.limit)
        count = None if passes is None else len(passes)
        refused = 0 if passes is None else len(passes.refused)
        before = self.headline.natural_height(self.width())
        self.headline.show_view(headline(self.draft, self.port.loading(), count, refused, took_s))
        if before != self.headline.natural_height(self.width()):
            self.arrange()

    def _show_answer(self, answer: Answer) -> None:
        passes = self.port.loaded()
        if passes is None:
            return
        self.answer = answer
        limit = answer.question.draft.limits[answer.question.limit]
        self._touches = gained_and_lost(answer, passes, limit.id)
        self._show_curve()
        found = answer.comparison
        notes = () if self.curve.is_dragging else self._notes(answer)
        self.summary.show_view(summary(answer, notes))
        self.delays.show_delays(found.before.delays_s, found.after.delays_s)
        if self.curve.is_dragging and self._table_rest.isActive():
            return  # nobody reads a table faster
        self._table_rest.start(TABLE_REST_MS)
        self.show_rows()
        self._show_headline()

    def _notes(self, answer: Answer) -> tuple[str, ...]:
        """Give what the draft contradicts that the opened file does not."""
        draft, opened = answer.question.draft, self.draft.opened
        if draft.limits == opened.limits:
            return ()
        if self._known_faults[0] != opened.sha256:
            known = frozenset((one.kind, one.place) for one in inconsistencies(opened))
            self._known_faults = (opened.sha256, known)
        return tuple(
            f"{one.place}: {one.words}"
            for one in inconsistencies(draft)
            if one.level is Level.CAUTION and (one.kind, one.place) not in self._known_faults[1]
        )

    def _tell_refused(self) -> None:
        passes = self.port.loaded()
        if passes is not None and passes.refused:
            more = f" (and {len(passes.refused) - 1} more)" if len(passes.refused) > 1 else ""
            self.entry.tell(f"refused: {passes.refused[0].reason}{more}")

    # ------------------------------------------------------------------ mouse and arrows

    def _on_point_chosen(self, point: int) -> None:
        self.draft.choose_point(point)
        self._show_curve()

    def _on_dragged(self, range_m: float, value: float) -> None:
        self._pending = (range_m, value)  # taken at the next tick: a frame is enough

    def _on_drag_ended(self) -> None:
        if self._pending is not None:
            place, self._pending = self._pending, None
            self.draft.move_to(*place)
        self.draft.end_drag()
        self.changed()
        self.sweeper.changed()  # what was asked for while it was dragged was not swept
        if self.answer is not None:
            self._show_answer(self.answer)

    def _on_nudged(self, ranges: float, values: float) -> None:
        self.draft.move_by(ranges, values)
        self.changed()

    def _on_inserted(self, range_m: float, value: float) -> None:
        if self.draft.insert(range_m, None):
            self.changed()

    def unsaved(self) -> str:
        """Say which limits of the draft are changed and not saved; '' where none is."""
        if not self.draft.is_changed:
            return ""
        return f"The draft is not saved: {', '.join(self.draft.changed)} changed."

    # ------------------------------------------------------------------ the widget itself

    def apply_theme(self, theme: Theme, scale: float) -> None:
        """Take other colours or another text size."""
        self._theme = theme
        if scale != self._faces.scale:
            self._faces = Faces(scale)
        for part in (
            self.headline, self.curve, self.sweep, self.delays, self.summary, self.table,
            self.entry, self.sheet, self.manual,
        ):  # fmt: skip
            part.apply_theme(theme, scale)
        for label in (self.heading, self.caution):
            label.setFont(self._faces.font(Face.SMALL))
            label.setStyleSheet(f"color: {theme.text_quiet};")
        self.arrange()

    def arrange(self) -> None:
        """Place the parts for the present size."""
        width, height = self.width(), self.height()
        gap = round(0.35 * self._faces.em)
        line = round(self._faces.pitch)
        self.caution.setGeometry(2 * gap, height - line, width - 4 * gap, line)
        foot = round(self.entry.natural_height()) + line
        self.entry.setGeometry(gap, height - foot, width - 2 * gap, foot - line)
        head = round(self.headline.natural_height(width))
        self.headline.setGeometry(gap, gap, width - 2 * gap, head)
        area = QRect(gap, head + 2 * gap, width - 2 * gap, height - foot - head - 3 * gap)
        self._arrangement.place(area, gap, self._faces)
        size = self.sheet.size_in(float(area.height()), float(area.width()))
        self.sheet.setGeometry(
            area.x(), area.bottom() + 1 - size.height(), size.width(), size.height()
        )
        self.sheet.raise_()
        self.manual.setGeometry(area)
        self.manual.raise_()

    def toggle_manual(self) -> None:
        """Open the manual over everything but the headline, or close it."""
        if self.manual.isHidden():
            self.manual.open_reader()
        else:
            self.manual.close_reader()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Place the parts anew."""
        super().resizeEvent(event)
        self.arrange()

    def showEvent(self, event: QShowEvent) -> None:
        """Begin to ask for what is loaded and judged."""
        super().showEvent(event)
        self._timer.start(SLOW_TICK_MS if self.asked is None else TICK_MS)
        self.curve.setFocus(Qt.FocusReason.OtherFocusReason)
        self.sweeper.changed()

    def hideEvent(self, event: QHideEvent) -> None:
        """Stop asking while nobody looks."""
        self._timer.stop()
        self._table_rest.stop()
        self.sweeper.stop()
        super().hideEvent(event)

    def closeEvent(self, event: QCloseEvent) -> None:
        """Stop everything."""
        self._timer.stop()
        self._table_rest.stop()
        self.sweeper.stop()
        self.port.close()
        super().closeEvent(event)
