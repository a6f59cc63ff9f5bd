"""What is gathered of a pass: margins, calls, steps, polls, data, predictions."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from debrief_tools import FOLDER, debrief_of

from console.app.score import ScoreOrder, score_one
from console.approach.event import (
    CallMade,
    ContactMade,
    HandsOffPassed,
    MarkPassed,
    SourceChanged,
    StepFellDue,
    StepWasDone,
)
from console.approach.procedure_reading import parse_procedure
from console.approach.snapshot import LimitNow, Verdict
from console.approach.state import StateModel
from console.archive.shipped import shipped
from console.debrief.call_log import call_log
from console.debrief.chapter import chapter
from console.debrief.course import Course, CourseFollower, Rows
from console.debrief.margin import MarginBook
from console.debrief.page import Table
from console.debrief.procedure_log import steps_of
from console.debrief.tables import procedure as procedure_section
from console.envelope.limits import Level, LimitsFile
from console.envelope.quantity import Quantity
from console.envelope.reading import parse_limits
from console.envelope.setup import Setup
from console.judging.judge import Judge
from console.judging.reading import Reading

LIMITS = b"""
format = 1
title = "One limit"
revision = 1
author = "a test"
reason = "a test"
[hands_off]
range_m = 1.8
link_delay_s = 1.5
reaction_s = 4.0
braking_mps2 = 0.01
[glide_slope]
curve = [[0, 0.09], [200, 0.55]]
[marks]
ranges_m = [10]
[data]
stale_after_s = 1.0
[[limit]]
id = "fast"
quantity = "closing_rate"
basis = "measured"
level = "warning"
allow = "below"
curve = [[0, 0.1], [10, 0.1]]
deadband = 0.0
on_delay_s = 1.0
off_delay_s = 1.0
"""


def fast(limits: LimitsFile, value: float | None, bound: float | None = 0.1) -> tuple[LimitNow]:
    """Give the one limit as it stands for a value."""
    limit = limits.limits[0]
    margin = None if value is None or bound is None else bound - value
    return (
        LimitNow(
            limit.id, limit.quantity, limit.basis, limit.level, limit.allow, value, bound, margin,
            Verdict.INSIDE, False, None, "",
        ),
    )  # fmt: skip


def least_of(samples: list[tuple[float, float | None, float | None]]) -> float | None:
    """Give the least margin that held, from (t, value, limit)."""
    limits = parse_limits(LIMITS, "limits")
    book = MarginBook(limits)
    for t, value, bound in samples:
        book.take(t, 5.0, fast(limits, value, bound))
    least = book.margins()[0].least
    return None if least is None else round(least.margin, 6)


def test_a_margin_must_hold_for_the_on_delay() -> None:
    """One bad sample among good ones counts for nothing; a second of bad ones does."""
    good = [(0.5 * i, 0.08, 0.1) for i in range(4)]
    outlier = [(2.0, 0.5, 0.1), (2.5, 0.08, 0.1), (3.0, 0.08, 0.1)]
    assert least_of([*good, *outlier]) == 0.02
    bad = [(3.5, 0.13, 0.1), (4.0, 0.14, 0.1), (4.5, 0.12, 0.1)]
    assert least_of([*good, *outlier, *bad]) == -0.02


def test_a_margin_begins_afresh_after_a_gap_and_outside_the_curve() -> None:
    """Time without samples, or without the limit, is no time in which a margin held."""
    assert least_of([(0.0, 0.2, 0.1), (5.0, 0.2, 0.1)]) is None
    assert least_of([(0.0, 0.2, 0.1), (0.5, 0.2, None), (1.0, 0.2, 0.1)]) is None
    assert least_of([(0.0, 0.2, 0.1), (0.5, None, 0.1), (1.0, 0.2, 0.1)]) == -0.1


def test_a_change_of_source_begins_the_delay_afresh() -> None:
    """0.6 s beyond the limit by one source and 0.6 s by the next raise nothing in judging."""
    limits = parse_limits(LIMITS, "limits")
    judge, book = Judge(limits), MarginBook(limits)
    raised = 0
    for i in range(14):
        if i == 7:
            judge.restart_timers()
            book.change_source()
        t = 0.1 * i
        raised += len(judge.feed(Reading(t, 5.0, None, {Quantity.CLOSING_RATE: 0.13}, {})))
        book.take(t, 5.0, fast(limits, 0.13))
    assert not raised
    assert book.margins()[0].least is None


def test_the_review_hears_of_a_change_of_source(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each event of one, and of one only, begins the delays of margins afresh."""
    heard: list[None] = []
    monkeypatch.setattr(MarginBook, "change_source", lambda book: heard.append(None))
    limits = parse_limits(LIMITS, "limits")
    follower, state = CourseFollower(limits), StateModel(limits, Setup())
    mark = MarkPassed(t=10.0, range_m=5.0, words="5 metres")
    changed = SourceChanged(t=11.0, source="radio", before="optical", reason="optical is stale")
    follower.look(state, [mark], was_judged=False)
    assert not heard
    follower.look(state, [mark, changed], was_judged=False)
    assert len(heard) == 1


@pytest.mark.parametrize(
    "name", ["late_braking.leadmark", "lateral_drift.parquet", "biased_backup.csv"]
)
def test_a_least_margin_below_zero_is_an_exceedance(name: str) -> None:
    """A limit's least margin is negative exactly where its exceedance was raised."""
    d = debrief_of(name)
    raised = {e.id for e in d.exceedances if e.quantity is not None}
    assert raised
    below = {m.limit.id for m in d.margins if m.least is not None and m.least.share < 0.0}
    assert below == raised


def test_the_least_margin_comes_first() -> None:
    """Margins are in order of their share of the limit."""
    shares = [m.least.share for m in debrief_of("late_braking.leadmark").margins if m.least]
    assert shares == sorted(shares)
    assert len(shares) > 10


def test_each_call_answers_the_nearest_of_its_kind() -> None:
    """Two passings of a mark and two calls of it pair up in time; what is left stands alone."""
    events = [
        MarkPassed(t=10.0, range_m=5.0, words="5 metres"),
        CallMade(t=11.5, initials="MK", call="mark:5", was_useful=None),
        CallMade(t=20.0, initials="MK", call="hold", was_useful=True),
        MarkPassed(t=90.0, range_m=5.0, words="5 metres"),
        CallMade(t=89.0, initials="RB", call="mark:5", was_useful=None),
        HandsOffPassed(t=95.0, range_m=1.8, closing_rate_mps=0.09, words="Hands off"),
        ContactMade(t=110.2, by="range", words="Contact"),
        ContactMade(t=110.0, by="capture status", words="Contact"),
    ]
    log = call_log(events)
    assert [(entry.key, entry.delay_s) for entry in log] == [
        ("mark:5", 1.5), ("hold", None), ("mark:5", -1.0), ("hands_off", None), ("contact", None),
    ]  # fmt: skip
    assert log[1].was_useful is True
    assert log[-1].passed_t == 110.0


def test_people_steps_and_polls_of_a_recording_are_told() -> None:
    """The nominal recording holds its poll with every answer, its steps, and who acted."""
    d = debrief_of("nominal_to_docked.leadmark")
    assert set(d.facts.people) == {"LT", "RB", "OH", "EK", "MK"}
    (poll,) = d.polls
    assert [a.position for a in poll.answers][-1] == "console"
    assert [a.answer.value for a in poll.answers if a.position == "station"] == ["not yet", "go"]
    assert poll.complete_t is not None
    assert poll.released_by == "MK"
    done = {entry.step.id: entry for entry in d.steps if entry.done_t is not None}
    assert done["cabin"].initials == "EK"
    assert done["hooks"].initials == ""  # the data showed it
    assert all(entry.late_s(d.course.t_last) is None for entry in d.steps)


def test_a_step_not_done_at_contact_is_told_as_missed_and_late_up_to_there() -> None:
    """What belongs to capture goes on being late; a step ticked after contact is not missed."""
    path = shipped("replay_data", "procedures", "port_c_arrival.toml")
    procedure = parse_procedure(path.read_bytes(), path.name)
    due = [
        StepFellDue(t=t, step=step, who="", words="")
        for t, step in ((100.0, "stop-call"), (60.0, "cabin"), (210.0, "thrusters"))
    ]
    done = StepWasDone(t=230.0, step="cabin", who="", words="", initials="EK")
    steps = {e.step.id: e for e in steps_of(procedure, [*due, done], contact_t=200.0)}
    assert {id_ for id_, entry in steps.items() if entry.is_missed} == {"stop-call"}
    assert steps["stop-call"].late_s(900.0) == 200.0 - 100.0 - 20.0
    assert steps["thrusters"].late_s(900.0) == 900.0 - 210.0 - 30.0
    d = replace(debrief_of("nominal_to_docked.leadmark"), steps=tuple(steps.values()))
    (row,) = [row for row in procedure_section(d).blocks[0].rows if "stop call" in row.cells[1]]
    assert row.cells[3] == "not done, missed"


def test_predictions_stand_at_their_ranges() -> None:
    """Contact is predicted from 20, 10, 5 and 2 m, and the time of contact comes out right."""
    d = debrief_of("nominal_to_docked.leadmark")
    assert [p.at_m for p in d.predictions] == [20.0, 10.0, 5.0, 2.0]
    last = d.predictions[-1]
    assert last.to_contact.best_s is not None
    assert abs(last.t + last.to_contact.best_s - d.outcome["contact"]["t"]) < 1.5


def test_a_gap_in_the_data_is_told_with_its_length() -> None:
    """The link gap of 8 s is one gap, its samples counted as lost."""
    d = debrief_of("link_gap.leadmark")
    (gap,) = d.data.gaps
    assert gap.t_end is not None
    assert 7.5 < gap.t_end - gap.t_start < 9.5
    assert sum(source.lost for source in d.data.sources) == d.outcome["lost"] == 56


def test_a_range_at_a_time_is_never_between_two_clocks() -> None:
    """A time by either clock has its range; one between them, or by both, has none."""
    metres = np.arange(20.0, 0.0, -1.0)
    seconds = np.arange(20.0)

    def course(moved_s: float) -> Course:
        clock = np.where(seconds < 10.0, 0.0, -moved_s)
        path = {"t": seconds - clock, "range_m": metres, "clock_s": clock}
        return Course(path, {}, 0.0, 19.0 + moved_s)

    one = course(0.0)
    assert [one.range_at(t) for t in (-1.0, 0.0, 9.5, 19.0, 19.5)] == [
        None, 20.0, 10.5, 1.0, None,
    ]  # fmt: skip
    ahead = course(7200.0)
    assert [ahead.range_at(t) for t in (8.5, 9.5, 3600.0, 7209.5, 7210.0, 7219.0)] == [
        11.5, None, None, None, 10.0, 1.0,
    ]  # fmt: skip
    behind = course(-7200.0)
    assert [behind.range_at(t) for t in (8.5, 9.5, -7190.0, -7181.0, -3600.0)] == [
        11.5, None, 10.0, 1.0, None,
    ]  # fmt: skip
    overlapping = course(-15.0)  # its second half is told from -5 to 4
    assert [overlapping.range_at(t) for t in (-5.0, 3.0, 4.0, 5.0)] == [10.0, None, None, 15.0]


def test_a_report_changes_no_outcome() -> None:
    """Looking on while a pass is judged leaves its outcome as it is."""
    name = "biased_backup.csv"
    assert score_one(FOLDER / name, ScoreOrder()).outcome == debrief_of(name).outcome


def test_rows_are_thinned_evenly_and_stay_bounded() -> None:
    """However many rows come, a bounded number is kept, evenly spread from first to last."""
    rows = Rows(("t", "x"), most=64)
    for i in range(10_000):
        rows.add((float(i), 2.0 * i))
    kept = rows.columns()
    assert 32 <= kept["t"].size < 64
    assert len({later - earlier for earlier, later in pairwise(kept["t"].tolist())}) == 1
    assert kept["t"][0] == 0.0
    assert kept["t"][-1] > 9_500.0
    assert (kept["x"] == 2.0 * kept["t"]).all()


def test_warnings_of_a_table_are_never_called_unacknowledged() -> None:
    """Nobody could acknowledge anything in a table, so nothing is said of it."""
    d = debrief_of("lateral_drift.parquet")
    assert any(e.level is Level.WARNING for e in d.exceedances)
    assert d.facts.people == ()


def test_a_rehearsal_carries_its_score() -> None:
    """The shipped rehearsal's debrief holds the score of its recording, told in its section."""
    d = debrief_of("rehearsal.leadmark")
    assert d.rehearsal is not None
    assert d.rehearsal.trainee == "TS"
    section = next(s for s in chapter(d).sections if s.key == "rehearsal")
    (log, marks) = (block for block in section.blocks if isinstance(block, Table))
    missed = [row for row in log.rows if "missed" in row.cells[2]]
    assert len(missed) == d.rehearsal.misses
    assert "4 metres" in {row.cells[1] for row in missed}  # the call the trainee forgets
    assert [row.cells[0] for row in marks.rows] == ["5 m", "4 m", "3 m", "2 m", "1 m"]
    moments = [row.t for row in log.rows]
    assert moments == sorted(t for t in moments if t is not None)
    assert chapter(debrief_of("biased_backup.csv")).sections[-1].key == "data"


def test_a_call_answers_the_later_passing_where_that_is_nearer() -> None:
    """A passing nobody called stays without a call, however early it stands in the log."""
    events = [
        MarkPassed(t=100.0, range_m=20.0, words="20 metres"),
        MarkPassed(t=500.0, range_m=20.0, words="20 metres"),
        CallMade(t=501.0, initials="MK", call="mark:20", was_useful=None),
    ]
    assert [(e.passed_t, e.delay_s) for e in call_log(events)] == [(100.0, None), (500.0, 1.0)]
