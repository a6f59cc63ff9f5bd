"""Calls matched to true events: worked tables, and what holds of any run."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from console.rehearsal.calls import TraineeCall
from console.rehearsal.matching import CallOutcome, EventOutcome, TrueEvent, match
from console.rehearsal.scoring import event_scores

HIT, LATE = CallOutcome.HIT, CallOutcome.LATE
REPEAT, FALSE = CallOutcome.REPEAT, CallOutcome.FALSE_ALARM


def event(subject: str, t: float, until: float = math.inf) -> TrueEvent:
    """Give an event answered from 3 s before to 15 s after."""
    return TrueEvent(subject, t, t - 3.0, t + 15.0, until)


@pytest.mark.parametrize(
    ("events", "calls", "call_of", "outcomes"),
    [
        ([("contact", 100)], [(101, "contact")], (0,), (HIT,)),
        ([("contact", 100)], [(97, "contact")], (0,), (HIT,)),
        ([("contact", 100)], [(115, "contact")], (0,), (HIT,)),
        ([("contact", 100)], [(96.9, "contact")], (None,), (FALSE,)),
        ([("contact", 100)], [(115.1, "contact")], (None,), (LATE,)),
        ([("contact", 100)], [(101, "contact"), (102, "contact")], (0,), (HIT, REPEAT)),
        ([("contact", 100)], [(102, "contact"), (101, "contact")], (1,), (REPEAT, HIT)),
        ([("contact", 100)], [(101, "hands_off")], (None,), (FALSE,)),
        ([("mark:5", 50), ("mark:4", 60)], [(61, "mark:5")], (0, None), (HIT,)),
        # a second event whose window is open too: each call takes the one that closes first
        ([("mark:5", 50), ("mark:5", 60)], [(58, "mark:5"), (61, "mark:5")], (0, 1), (HIT, HIT)),
        ([("stop", 50)], [(51, "retreat")], (0,), (HIT,)),
        ([("stop", 50)], [(51, "abort"), (52, "hold")], (0,), (HIT, REPEAT)),
        ([], [(1, "hold")], (), (FALSE,)),
        ([("stop", 50)], [], (None,), ()),
    ],
)
def test_worked_examples(events: list, calls: list, call_of: tuple, outcomes: tuple) -> None:
    """Window ends count, one call answers one event, any stop call answers a stop."""
    found = match([event(*e) for e in events], [TraineeCall(t, c) for t, c in calls])
    assert (call_of, outcomes) == (found.call_of, found.outcomes)


@pytest.mark.parametrize(
    ("t", "outcome"), [(20.0, HIT), (26.0, LATE), (39.9, LATE), (40.1, FALSE), (5.0, FALSE)]
)
def test_a_late_call_of_an_exceedance_is_false_once_it_has_cleared(
    t: float, outcome: CallOutcome
) -> None:
    """From 10 to 40 s it stands; the window closes at 25."""
    found = match([event("seen:roll", 10.0, 40.0)], [TraineeCall(t, "seen:roll")])
    assert (outcome,) == found.outcomes


subjects = st.sampled_from(["mark:5", "seen:roll", "stop"])
times = st.integers(0, 60).map(float)
runs = st.tuples(
    st.lists(st.tuples(subjects, times, st.integers(0, 9), st.integers(0, 20)), max_size=6),
    st.lists(st.tuples(times, subjects), max_size=6),
)


def drawn(run: tuple) -> tuple[list[TrueEvent], list[TraineeCall]]:
    """Give the events, each with a window of its own, and the calls of a drawn run."""
    events = [TrueEvent(s, t, t - early, t + late, t + 2.0 * late) for s, t, early, late in run[0]]
    calls = [TraineeCall(t, "hold" if s == "stop" else s) for t, s in run[1]]
    return events, calls


@given(runs)
def test_counts_add_up_and_no_call_is_matched_twice(run: tuple) -> None:
    """Hits and misses are all events, hits among calls are as many, pairs fit their windows."""
    events, calls = drawn(run)
    found = match(events, calls)
    scores = event_scores(events, calls, found)
    hits = sum(s.outcome is EventOutcome.HIT for s in scores)
    assert len(events) == hits + sum(s.outcome is EventOutcome.MISS for s in scores)
    assert hits == sum(o is CallOutcome.HIT for o in found.outcomes)
    assert len(calls) == len(found.outcomes)
    used = [number for number in found.call_of if number is not None]
    assert len(used) == len(set(used))
    for one, number in zip(events, found.call_of, strict=True):
        if number is not None:
            assert one.opens <= calls[number].t <= one.closes
            assert one.subject == calls[number].subject


@given(runs)
def test_as_many_are_matched_as_can_be(run: tuple) -> None:
    """No other way of pairing gives more hits (all of them are tried)."""
    events, calls = drawn((run[0][:4], run[1][:5]))
    found = match(events, calls)
    best = 0
    choices = [[None, *range(len(calls))] for _ in events]
    for pairing in itertools.product(*choices):
        used = [n for n in pairing if n is not None]
        fits = all(
            e.subject == calls[n].subject and e.opens <= calls[n].t <= e.closes
            for e, n in zip(events, pairing, strict=True)
            if n is not None
        )
        if fits and len(used) == len(set(used)):
            best = max(best, len(used))
    assert best == sum(n is not None for n in found.call_of)


@given(runs, st.randoms())
def test_the_order_of_the_lists_changes_nothing(run: tuple, random: object) -> None:
    """How many hits there are does not depend on how events and calls are listed."""
    events, calls = drawn(run)
    hits = sum(n is not None for n in match(events, calls).call_of)
    random.shuffle(events)  # type: ignore[attr-defined]
    random.shuffle(calls)  # type: ignore[attr-defined]
    assert hits == sum(n is not None for n in match(events, calls).call_of)
