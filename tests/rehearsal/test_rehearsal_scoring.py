"""Episodes, trials, delays and the stop verdict, each against a table worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from fakes.limits import fake_limits
from hypothesis import given
from hypothesis import strategies as st

from console.approach.event import AnyEvent, CallMade, ExceedanceCleared, ExceedanceRaised
from console.present.rehearse_score import score_view
from console.rehearsal.calls import TraineeCall, calls_of, words_of
from console.rehearsal.compare import by_exercise, by_trainee, of_exercise, of_trainee
from console.rehearsal.detection import Trials, detection
from console.rehearsal.exercise import Origin, Rules
from console.rehearsal.matching import CallOutcome, EventOutcome, TrueEvent, match
from console.rehearsal.score import (
    CallScore,
    Delays,
    EventScore,
    RehearsalScore,
    StopScore,
    StopVerdict,
)
from console.rehearsal.scoring import (
    asked,
    call_scores,
    delays_of,
    event_scores,
    noise_trials,
    stop_score,
    trials_of,
)
from console.rehearsal.true_events import stood_of, true_events
from console.rehearsal.truth import RunTruth
from tests.fakes.changed import replace

RULES = Rules(early_s=2.0, response_s=8.0)
TRUTH = RunTruth(
    t_begin=0.0, t_end=200.0, marks=((10.0, 20.0), (5.0, 70.0)), hands_off=102.0, contact=120.0,
    soft_capture=121.4, hold_until=91.5, path=((0.0, 12.0, 0.1), (120.0, 0.0, 0.1)),
    violations=(("closing-fast", 30.0, 35.0),), faults=(),
)  # fmt: skip


def raised(id_: str, onset: float, cleared: float | None, level: str, source=None) -> list:
    """Give the events of an exceedance raised a second after its onset."""
    key = f"{id_}@{onset}"
    found: list[AnyEvent] = [
        ExceedanceRaised(
            t=onset + 1.0, key=key, id=id_, level=level, onset=onset, source=source, value=1.0,
            limit=0.5, words=id_,
        )
    ]  # fmt: skip
    if cleared is not None:
        found.append(
            ExceedanceCleared(
                t=cleared, key=key, id=id_, level=level, onset=onset, raised=onset + 1.0,
                source=source, peak=None, peak_limit=None, peak_t=None, words="",
            )
        )  # fmt: skip
    return found


def events_of(*log: list, t_end: float = 200.0) -> list[TrueEvent]:
    """Give the true events of a log beside the truth."""
    limits = fake_limits()
    stood = stood_of([event for part in log for event in part], limits)
    return list(true_events(TRUTH, stood, limits, RULES, t_end))


def test_milestones_come_from_the_truth() -> None:
    """Marks, hands-off, contact and soft capture, each with its window, in order of time."""
    found = events_of()
    assert [e.subject for e in found] == [
        "mark:10",
        "mark:5",
        "hands_off",
        "contact",
        "soft_capture",
    ]
    assert (found[0].opens, found[0].closes) == (18.0, 28.0)
    assert len(events_of(t_end=110.0)) == 3


def test_limits_ids_of_the_fake_file() -> None:
    """The table below uses limits that the fake file has."""
    ids = {limit.id: limit.quantity.value for limit in fake_limits().limits}
    assert {"closing-fast", "closing-fast-caution"} <= set(ids)


def test_overlapping_exceedances_of_one_quantity_are_one_event() -> None:
    """Caution 30-40 s and warning 32-36 s are one from 30 s, as the warning; 50 s is another."""
    found = events_of(
        raised("closing-fast-caution", 30.0, 40.0, "caution"),
        raised("closing-fast", 32.0, 36.0, "warning"),
        raised("closing-fast-caution", 50.0, None, "caution"),
    )
    seen = [e for e in found if e.subject == "seen:closing_rate"]
    assert [(30.0, 40.0, "warning", True), (50.0, math.inf, "caution", False)] == [
        (e.t, e.until, e.level, e.was_true) for e in seen
    ]


def test_a_stop_is_called_for_by_the_first_warning_of_a_limit() -> None:
    """From its raise until a stop no longer helps; a warning of the data calls for none."""
    found = events_of(
        raised("data:frozen", 10.0, 20.0, "warning", source="optical"),
        raised("closing-fast", 32.0, 36.0, "warning"),
        raised("closing-fast", 60.0, 66.0, "warning"),
    )
    (stop,) = [e for e in found if e.subject == "stop"]
    assert (stop.t, stop.opens, stop.closes) == (33.0, 30.0, 91.5)
    (data,) = [e for e in found if e.subject == "seen:data"]
    assert data.was_true is None
    assert not [e for e in events_of(raised("closing-fast", 95.0, None, "warning"))
                if e.subject == "stop"]  # fmt: skip


def test_advisories_and_what_comes_after_contact_ask_for_no_call() -> None:
    """Nor does an advisory of a procedure, which has no source and no limit."""
    found = events_of(
        raised("data:bias", 10.0, 20.0, "advisory", source="optical"),
        raised("step:x", 10.0, 20.0, "advisory"),
        raised("capture:late", 10.0, None, "caution", source="mechanism"),
        raised("data:link", 130.0, None, "warning", source="optical"),
    )
    assert not [e for e in found if e.subject.startswith("seen:")]


@pytest.mark.parametrize(
    ("busy", "span", "trials"),
    [
        ([], (0.0, 35.0), [(0, 10), (10, 20), (20, 30)]),
        ([], (0.0, 9.9), []),
        ([(12.0, 30.0)], (0.0, 60.0), [(0, 10), (30, 40), (40, 50), (50, 60)]),
        ([(12.0, 30.0), (20.0, 45.0)], (0.0, 60.0), [(0, 10), (45, 55)]),
        ([(20.0, 45.0), (25.0, 30.0)], (0.0, 60.0), [(0, 10), (10, 20), (45, 55)]),
        ([(30.0, math.inf)], (0.0, 60.0), [(0, 10), (10, 20), (20, 30)]),
        ([(-5.0, 4.0)], (0.0, 20.0), [(4, 14)]),
        ([(55.0, 90.0)], (0.0, 60.0), [(0, 10), (10, 20), (20, 30), (30, 40), (40, 50)]),
    ],
)
def test_noise_trials(busy: list, span: tuple, trials: list) -> None:
    """Whole intervals of 10 s in the time nothing stands; what is left over is none."""
    events = [TrueEvent("seen:roll", a, a, min(b, a + 8.0), b) for a, b in busy]
    assert trials == [tuple(map(float, t)) for t in noise_trials(events, span, RULES)]


@given(
    st.lists(st.tuples(st.integers(0, 300), st.integers(0, 60)), max_size=8),
    st.lists(st.integers(0, 320), max_size=20),
)
def test_trials_add_up(stood: list[tuple[int, int]], called: list[int]) -> None:
    """Signal trials are the exceedances, noise trials do not meet them, rates stay finite."""
    events = [
        TrueEvent("seen:roll", float(t), t - 2.0, t + 8.0, float(max(t + n, t + 8)))
        for t, n in stood
    ]
    calls = [TraineeCall(float(t), "seen:roll") for t in called]
    found = match(events, calls)
    scores = event_scores(events, calls, found)
    told = call_scores(calls, found, TRUTH)
    trials = trials_of(scores, told, (0.0, 320.0), RULES)
    assert len(events) == trials.signal
    noise = noise_trials(events, (0.0, 320.0), RULES)
    assert len(noise) == trials.noise
    for begin, end in noise:
        assert end - begin == pytest.approx(10.0)
        assert all(end <= e.opens + 1e-9 or begin >= e.until - 1e-9 for e in events)
    assert trials.false_alarms <= sum(c.outcome is CallOutcome.FALSE_ALARM for c in told)
    result = detection(trials)
    assert result is None or math.isfinite(result.d_prime)


def test_a_false_call_outside_every_noise_trial_is_told_and_is_no_trial() -> None:
    """Roll called while closing rate stands: a false alarm in the table, none among trials."""
    events = [TrueEvent("seen:closing_rate", 30.0, 28.0, 38.0, 60.0)]
    calls = [TraineeCall(45.0, "seen:roll")]
    found = match(events, calls)
    told = call_scores(calls, found, TRUTH)
    assert CallOutcome.FALSE_ALARM is told[0].outcome
    trials = trials_of(event_scores(events, calls, found), told, (0.0, 100.0), RULES)
    assert Trials(0, 1, 0, 6) == trials


@given(st.lists(st.floats(-5.0, 60.0), min_size=1, max_size=30))
def test_percentiles_are_linear_between_order_statistics(delays: list[float]) -> None:
    """Position (n - 1) p from 0: worked out here by sorting."""
    scores = [EventScore(event(), EventOutcome.HIT, 0.0, d) for d in delays]
    found = delays_of([*scores, EventScore(event(), EventOutcome.MISS, None, None)])
    assert (len(delays), 1) == (found.count, found.missed)
    for share, told in ((0.5, found.median_s), (0.9, found.p90_s)):
        ordered = sorted(delays)
        place = (len(ordered) - 1) * share
        low = int(place)
        high = min(low + 1, len(ordered) - 1)
        expected = ordered[low] + (place - low) * (ordered[high] - ordered[low])
        assert told == pytest.approx(expected, abs=1e-9)


def test_the_printed_reaction_times() -> None:
    """.62 .70 .75 .81 2.40 s have the median 0.75; nothing answered has none."""
    scores = [EventScore(event(), EventOutcome.HIT, 0.0, d) for d in (0.62, 0.7, 0.75, 0.81, 2.4)]
    assert delays_of(scores).median_s == 0.75
    assert Delays(0, 0, None, None) == delays_of([])


def event() -> TrueEvent:
    """Give some event."""
    return TrueEvent("contact", 10.0, 8.0, 18.0)


DUE = TrueEvent("stop", 33.0, 30.0, 91.5, level="warning")


@pytest.mark.parametrize(
    ("is_due", "calls", "verdict", "spare_s"),
    [
        (False, [], StopVerdict.NOT_NEEDED, None),
        (False, [(50.0, "hold")], StopVerdict.UNPROMPTED, 41.5),
        (True, [], StopVerdict.NOT_CALLED, None),
        (True, [(80.0, "retreat")], StopVerdict.IN_TIME, 11.5),
        (True, [(91.5, "hold")], StopVerdict.IN_TIME, 0.0),
        (True, [(95.0, "hold")], StopVerdict.TOO_LATE, -3.5),
        (True, [(20.0, "hold"), (96.0, "hold")], StopVerdict.TOO_LATE, -4.5),
        (True, [(20.0, "hold")], StopVerdict.TOO_EARLY, 71.5),
        (True, [(15.0, "hold"), (29.0, "retreat")], StopVerdict.TOO_EARLY, 62.5),
        (True, [(20.0, "hold"), (40.0, "abort")], StopVerdict.IN_TIME, 51.5),
    ],
)
def test_stop_verdicts(
    is_due: bool, calls: list, verdict: StopVerdict, spare_s: float | None
) -> None:
    """Due from 33 s (called from 30 s on counts) to 91.5 s."""
    events = [DUE] if is_due else []
    made = [TraineeCall(t, call) for t, call in calls]
    found = match(events, made)
    score = stop_score(event_scores(events, made, found), call_scores(made, found, TRUTH), TRUTH)
    assert (verdict, spare_s) == (score.verdict, score.spare_s)


def test_a_stop_called_too_early_is_said_to_be() -> None:
    """Which stop, and how long before the warning that called for one."""
    stop = StopScore(StopVerdict.TOO_EARLY, 33.0, 91.5, 29.0, "retreat", 62.5)
    figures = score_view(replace(a_score("AA", "x", 1.0, 5, 1), stop=stop)).figures
    words = "retreat called before anything called for it, 4.0 s early"
    assert words in [value for _, value in figures]


def test_an_open_window_at_the_end_asks_nothing() -> None:
    """Unanswered with its window still open when the run ended: it does not count."""
    events = [event(), TrueEvent("contact", 10.0, 8.0, 25.0), TrueEvent("hands_off", 19, 17, 27)]
    found = match(events, [TraineeCall(19.5, "hands_off")])
    assert asked(events, found, 20.0) == [0, 2]


def test_calls_are_read_off_the_log() -> None:
    """Only calls, in order of time, with who made them."""
    log = [CallMade(t=5.0, initials="AB", call="hold", was_useful=True),
           *raised("x", 1.0, None, "caution"),
           CallMade(t=3.0, initials="AB", call="seen:roll", was_useful=None)]  # fmt: skip
    assert [(c.t, c.call, c.initials) for c in calls_of(log)] == [
        (3.0, "seen:roll", "AB"),
        (5.0, "hold", "AB"),
    ]
    assert words_of("mark:10") == "10 metres"
    assert words_of("seen:roll") == "roll exceeded"
    assert words_of("seen:data") == "data at fault"
    assert words_of("hands_off") == "hands off"


def a_score(trainee: str, sha256: str, begun: float, hits: int, false: int) -> RehearsalScore:
    """Give a run with so many of 10 exceedances seen and of 20 quiet trials called."""
    trials = Trials(hits, 10 - hits, false, 20 - false)
    scored = [EventScore(event(), EventOutcome.HIT, 0.0, 1.0)] * hits
    scored += [EventScore(event(), EventOutcome.MISS, None, None)] * (10 - hits)
    calls = [CallScore(1.0, "seen:roll", "", CallOutcome.FALSE_ALARM, None)] * false
    return RehearsalScore(
        recording=f"{trainee}{begun}", title=f"title {sha256}", origin=Origin.SCENARIO,
        name="nominal", exercise_sha256=sha256, seed=1, speed=1.0, trainee=trainee,
        started_s=begun, t_begin=0.0, t_end=1.0, hidden=(), rules=RULES, limits_title="",
        limits_revision=1, limits_sha256="", events=tuple(scored), calls=tuple(calls), marks=(),
        faults=(), exceedance_delays=Delays(hits, 10 - hits, float(hits), None),
        milestone_delays=Delays(0, 0, None, None), trials=trials, detection=detection(trials),
        stop=StopScore(StopVerdict.IN_TIME if hits > 5 else StopVerdict.NOT_CALLED, 1.0),
    )  # fmt: skip


RUNS = [
    a_score("BB", "x", 3.0, 9, 1),
    a_score("AA", "x", 2.0, 5, 4),
    a_score("AA", "y", 1.0, 8, 0),
]


def test_runs_are_put_beside_each_other() -> None:
    """One trainee's by time; one exercise's by trainee."""
    assert [run.started_s for run in of_trainee(RUNS, "AA")] == [1.0, 2.0]
    assert [run.trainee for run in of_exercise(RUNS, "x")] == ["AA", "BB"]


def test_sensitivities_are_averaged_and_rates_are_not() -> None:
    """AA's mean d' is that of two runs' d'; hits and false alarms are added up."""
    line = by_trainee(RUNS)[0]
    single = [run.detection.d_prime for run in of_trainee(RUNS, "AA") if run.detection]
    assert line.mean_d_prime == pytest.approx(float(np.mean(single)))
    pooled = detection(Trials(13, 7, 4, 36))
    assert pooled is not None
    assert line.mean_d_prime != pytest.approx(pooled.d_prime, abs=0.01)
    assert (
        line.who, line.runs, line.hits, line.misses, line.false_alarms, line.median_delay_s,
        line.stops_in_time, line.stops_due,
    ) == ("AA", 2, 13, 7, 4, 6.5, 1, 2)  # fmt: skip
    assert [one.who for one in by_exercise(RUNS)] == ["title x", "title y"]


def test_a_run_without_trials_has_no_sensitivity() -> None:
    """It counts as a run, and in no average."""
    without = replace(RUNS[0], detection=None, trainee="CC")
    line = by_trainee([without])[0]
    assert (line.runs, line.mean_d_prime, line.runs_with_d_prime) == (1, None, 0)
