"""The section on a rehearsal: what the trainee called, against the truth.

The words are those of the score page; what is added is where in the pass each line belongs.
"""

from __future__ import annotations

from console.debrief.page import Column, Facts, Line, Lines, Row, Section, Table
from console.debrief.review import Debrief
from console.debrief.written import metres
from console.present import text
from console.present.rehearse_score import EVENT_HEADS, ScoreView, score_view
from console.rehearsal.matching import CallOutcome
from console.rehearsal.score import MarkScore, RehearsalScore

NUMBERS = (True, False, False, True, True)
"""Which columns of the score page's log are numbers."""


def rehearsal(d: Debrief) -> Section | None:
    """Give the score of a rehearsal; None for any other pass."""
    score = d.rehearsal
    if score is None:
        return None
    view = score_view(score)
    about = Lines(tuple(Line(words) for words in (view.title, *view.facts)))
    return Section(
        "rehearsal",
        "Rehearsal score",
        (about, Facts("Score", view.figures), _log(view, score), _marks(score)),
    )


def _log(view: ScoreView, score: RehearsalScore) -> Table:
    """Give the log of events and calls, each with its moment."""
    moments = sorted(
        [one.event.t for one in score.events]
        + [call.t for call in score.calls if call.outcome is not CallOutcome.HIT]
    )
    columns = tuple(
        Column(name, is_number=is_number)
        for name, is_number in zip(EVENT_HEADS, NUMBERS, strict=True)
    )
    rows = tuple(
        Row(row.cells, t, is_strong=bool(row.bad))
        for row, t in zip(view.log, moments, strict=True)
    )
    return Table("What happened, and what the trainee called", columns, rows)


def _marks(score: RehearsalScore) -> Table:
    columns = (
        Column("Mark", is_number=True), Column("Passed", is_number=True),
        Column("Called", is_number=True), Column("True range then", is_number=True),
        Column("Error", is_number=True),
    )  # fmt: skip
    rows = tuple(Row(_mark(mark), mark.t) for mark in score.marks)
    return Table("Range calls against the true range", columns, rows, "no mark was passed")


def _mark(mark: MarkScore) -> tuple[str, ...]:
    error = text.UNKNOWN if mark.error_m is None else f"{text.signed(mark.error_m, 2)} m"
    return (
        f"{mark.range_m:g} m", text.clock(mark.t), text.clock(mark.called_t),
        metres(mark.true_range_m), error,
    )  # fmt: skip
