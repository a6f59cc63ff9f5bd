"""Asks for sweeps once the draft is at rest, and shows what comes of them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer

from console.bench.sweep import Knob
from console.present.bench_port import SweepQuestion
from console.present.bench_sweep import WORDS, SweepView, knob_values, neutral_at
from console.window.plots.bench_sweep import SweepPlot

if TYPE_CHECKING:
    from console.window.bench_view import BenchView

REST_MS = 400
"""A sweep is many limits judged: it begins when nothing was changed for so long."""


class BenchSweeper(QObject):
    """Keeps a sweep plot in step with the limit worked on."""

    def __init__(self, view: BenchView, plot: SweepPlot) -> None:
        super().__init__(view)
        self._view = view
        self._plot = plot
        self._knob = Knob.SCALE
        self._asked: SweepQuestion | None = None
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.timeout.connect(self.ask)
        plot.point_chosen.connect(self._on_point_chosen)
        plot.point_taken.connect(self._on_point_taken)

    def changed(self) -> None:
        """Follow another draft, once it is at rest; the sweep of another limit goes at once."""
        shown, limit = self._plot.view, self._view.draft.limit
        if shown is not None and shown.limit.id != limit.id:
            self._plot.show_sweep(SweepView(limit, self._knob))
        self._rest.start(REST_MS)

    def stop(self) -> None:
        """Ask for nothing more."""
        self._rest.stop()

    def next_knob(self) -> None:
        """Sweep the next figure of the limit."""
        knobs = list(Knob)
        self._knob = knobs[(knobs.index(self._knob) + 1) % len(knobs)]
        self._view.entry.tell(f"sweeping the {WORDS[self._knob]}")
        self.ask()

    def ask(self) -> None:
        """Ask for the sweep of the limit as it is now, unless that is the one shown."""
        view = self._view
        if view.port.loaded() is None or view.curve.is_dragging:
            return
        draft, limit = view.draft.file, view.draft.limit
        values = knob_values(limit, self._knob)
        question = SweepQuestion(draft, view.draft.place.limit, self._knob, values, view.marks)
        if question != self._asked:
            self._asked = question
            self._plot.show_sweep(SweepView(limit, self._knob))
            view.port.ask_sweep(question)

    def tick(self) -> None:
        """Show a sweep that came, if it is the one asked for last."""
        found = self._view.port.take_sweep()
        if found is None or found[0] != self._asked:
            return
        question, points = found
        limit = question.draft.limits[question.limit]
        view = SweepView(limit, question.knob, points)
        self._plot.show_sweep(replace(view, chosen=neutral_at(view)))

    def _on_point_chosen(self, at: int) -> None:
        view = self._plot.view
        if view is not None:
            self._plot.show_sweep(replace(view, chosen=at))

    def _on_point_taken(self, at: int) -> None:
        view = self._plot.view
        if view is not None and view.limit == self._view.draft.limit:
            self._view.draft.put_limit(view.points[at].limit)
            self._view.changed()
