"""The section on a rehearsal: what the trainee called, against the truth."""

from __future__ import annotations

from console.debrief.page import Column, Facts, Line, Lines, Row, Section, Table
from console.debrief.review import Debrief
from console.debrief.written import delay, metres, seconds
from console.present import text
from console.present.tone import WARNING_MARK
from console.rehearsal.matching import EventOutcome
from console.rehearsal.score import Delays, EventScore, RehearsalScore, StopVerdict

BAD_STOPS = (StopVerdict.TOO_LATE, StopVerdict.NOT_CALLED)


def rehearsal(d: Debrief) -> Section | None:
    """Give the score of a rehearsal; None for any other pass."""
    score = d.rehearsal
    if score is None:
        return None
    stop = Line(
        f"Stop call: {score.stop.verdict.value}",
        WARNING_MARK if score.stop.verdict in BAD_STOPS else "",
    )
    events = Table(
        "What happened, and the trainee's call",
        (
            Column("Time", is_number=True), Column("What happened"),
            Column("Outcome"), Column("Called", is_number=True),
            Column("Delay", is_number=True),
        ),
        tuple(_event(one) for one in score.events),
    )  # fmt: skip
    marks = Table(
        "Range calls against the true range",
        (
            Column("Mark", is_number=True), Column("Passed", is_number=True),
            Column("Called", is_number=True), Column("True range then", is_number=True),
            Column("Error", is_number=True),
        ),
        tuple(
            Row(
                (
                    f"{m.range_m:g} m", text.clock(m.t), text.clock(m.called_t),
                    metres(m.true_range_m),
                    text.UNKNOWN if m.error_m is None else f"{text.signed(m.error_m, 2)} m",
                ),
                m.t,
            )
            for m in score.marks
        ),
    )  # fmt: skip
    return Section(
        "rehearsal",
        "Rehearsal score",
        (Lines((stop,)), _figures(score), events, marks, *_more(score)),
    )


def _event(one: EventScore) -> Row:
    is_miss = one.outcome is EventOutcome.MISS
    outcome = f"{WARNING_MARK} missed" if is_miss else one.outcome.value
    words = one.event.words
    cells = (text.clock(one.event.t), words, outcome, text.clock(one.called_t), delay(one.delay_s))
    return Row(cells, one.event.t, is_strong=is_miss)


def _figures(score: RehearsalScore) -> Facts:
    rows = [
        ("Trainee", score.trainee),
        ("Exercise", f"{score.title} ({score.origin.value} {score.name}, seed {score.seed})"),
        ("Hits, misses, false alarms", f"{score.hits}, {score.misses}, {score.false_alarms}"),
        ("Delay on exceedances", _delays(score.exceedance_delays)),
        ("Delay on marks and the rest", _delays(score.milestone_delays)),
        ("Sensitivity d'", _sensitivity(score)),
        ("Trials", f"of {seconds(score.rules.trial_s)} each"),
    ]
    if score.mean_mark_error_m is not None:
        rows.append(("Mean error of range calls", f"{text.number(score.mean_mark_error_m, 2)} m"))
    return Facts("Score", tuple(row for row in rows if row[1]))


def _delays(delays: Delays) -> str:
    if not delays.count:
        return f"none answered, {delays.missed} missed" if delays.missed else ""
    return (
        f"median {seconds(delays.median_s)}, 90th percentile {seconds(delays.p90_s)} of "
        f"{delays.count}; {delays.missed} missed"
    )


def _sensitivity(score: RehearsalScore) -> str:
    found = score.detection
    if found is None:
        return "not known: no signal trial or no noise trial"
    low, high = (text.number(value, 2) for value in found.d_interval)
    c_low, c_high = (text.number(value, 2) for value in found.c_interval)
    return (
        f"{text.number(found.d_prime, 2)} ({low} to {high}), criterion c "
        f"{text.number(found.criterion, 2)} ({c_low} to {c_high}), 95 % intervals"
    )


def _more(score: RehearsalScore) -> tuple[Table, ...]:
    extra = tuple(
        Row((text.clock(c.t), c.words, c.outcome.value, metres(c.true_range_m)), c.t)
        for c in score.calls
        if c.outcome.value != "hit"
    )
    faults = tuple(
        Row((text.clock(f.t_start), text.clock(f.t_end), f.words), f.t_start) for f in score.faults
    )
    return (
        Table(
            "Calls that answered nothing in time",
            (
                Column("Time", is_number=True), Column("Call"), Column("Outcome"),
                Column("True range", is_number=True),
            ),
            extra,
        ),
        Table(
            "Faults played",
            (
                Column("From", is_number=True), Column("To", is_number=True),
                Column("Fault"),
            ),
            faults,
        ),
    )  # fmt: skip
