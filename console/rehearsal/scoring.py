"""A run's truth, events and calls to its score.

Trials. Each exceedance gives one signal trial: the interval from ``early_s`` before its onset to
``response_s`` after it. The rest of the time before contact, less whatever any exceedance stood
in, is cut into noise trials of that same length; what is left over of a stretch is no trial. A
noise trial with a false "seen" in it is a false alarm.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from console.rehearsal.calls import MARK, SEEN, STOP, TraineeCall
from console.rehearsal.detection import Trials
from console.rehearsal.exercise import Rules
from console.rehearsal.matching import (
    CallOutcome,
    EventOutcome,
    Matching,
    TrueEvent,
)
from console.rehearsal.score import (
    CallScore,
    Delays,
    EventScore,
    MarkScore,
    StopScore,
    StopVerdict,
)
from console.rehearsal.truth import RunTruth

Span = tuple[float, float]


def asked(events: Sequence[TrueEvent], matching: Matching, t_end: float) -> list[int]:
    """Give the numbers of the events that count.

    One whose window was still open when the run ended, and that nobody answered, asks nothing.
    """
    return [
        i
        for i, event in enumerate(events)
        if matching.call_of[i] is not None or event.closes <= t_end
    ]


def event_scores(
    events: Sequence[TrueEvent], calls: Sequence[TraineeCall], matching: Matching
) -> tuple[EventScore, ...]:
    """Give each event with its answer."""
    scores = []
    for event, number in zip(events, matching.call_of, strict=True):
        if number is None:
            scores.append(EventScore(event, EventOutcome.MISS, None, None))
        else:
            t = calls[number].t
            scores.append(EventScore(event, EventOutcome.HIT, t, t - event.t))
    return tuple(scores)


def call_scores(
    calls: Sequence[TraineeCall], matching: Matching, truth: RunTruth
) -> tuple[CallScore, ...]:
    """Give each call with what it was worth and the true range then."""
    scores = []
    for call, outcome in zip(calls, matching.outcomes, strict=True):
        here = truth.at(call.t)
        range_m = None if here is None else here[0]
        scores.append(CallScore(call.t, call.call, call.words, outcome, range_m))
    return tuple(scores)


def mark_scores(events: Sequence[EventScore], calls: Sequence[CallScore]) -> tuple[MarkScore, ...]:
    """Give for each mark at which true range it was called.

    The call that answered it; where none did, the first late one.
    """
    scores = []
    for one in events:
        subject = one.event.subject
        if not subject.startswith(MARK):
            continue
        called = next(
            (c for c in calls if c.call == subject and c.t == one.called_t),
            next((c for c in calls if c.call == subject and c.outcome is CallOutcome.LATE), None),
        )
        mark_m = float(subject.removeprefix(MARK))
        at_m = None if called is None else called.true_range_m
        scores.append(
            MarkScore(
                range_m=mark_m,
                t=one.event.t,
                called_t=None if called is None else called.t,
                true_range_m=at_m,
                error_m=None if at_m is None else at_m - mark_m,
            )
        )
    return tuple(scores)


def delays_of(events: Sequence[EventScore]) -> Delays:
    """Give median and 90th percentile of the answered events' delays."""
    delays = [one.delay_s for one in events if one.delay_s is not None]
    missed = len(events) - len(delays)
    if not delays:
        return Delays(0, missed, None, None)
    median, p90 = np.percentile(delays, (50.0, 90.0))
    return Delays(len(delays), missed, float(median), float(p90))


def is_seen(subject: str) -> bool:
    """Tell whether a subject is an exceedance."""
    return subject.startswith(SEEN)


def trials_of(
    events: Sequence[EventScore], calls: Sequence[CallScore], span: Span, rules: Rules
) -> Trials:
    """Count signal and noise trials.

    Parameters
    ----------
    events, calls : sequence
        Of the run.
    span : tuple of float
        From when to when exceedances were to be watched for: to contact, or to the end.
    rules : Rules
        Length of a trial.
    """
    seen = [one for one in events if is_seen(one.event.subject)]
    hits = sum(one.outcome is EventOutcome.HIT for one in seen)
    false_t = [c.t for c in calls if is_seen(c.call) and c.outcome is CallOutcome.FALSE_ALARM]
    noise = noise_trials([one.event for one in seen], span, rules)
    alarmed = sum(any(begin <= t < end for t in false_t) for begin, end in noise)
    return Trials(hits, len(seen) - hits, alarmed, len(noise) - alarmed)


def noise_trials(events: Sequence[TrueEvent], span: Span, rules: Rules) -> list[Span]:
    """Cut the time in which no exceedance stood or was to be answered into equal intervals."""
    trials: list[Span] = []
    free_from = span[0]
    busy = sorted((event.opens, max(event.closes, event.until)) for event in events)
    for opens, closes in [*busy, (span[1], span[1])]:
        until = min(opens, span[1])
        count = int((until - free_from) / rules.trial_s + 1e-9) if until > free_from else 0
        trials += [
            (free_from + i * rules.trial_s, free_from + (i + 1) * rules.trial_s)
            for i in range(count)
        ]
        free_from = max(free_from, closes)
    return trials


def stop_score(
    events: Sequence[EventScore], calls: Sequence[CallScore], truth: RunTruth
) -> StopScore:
    """Tell whether a stop was called while it still helped, by the true state."""
    until = truth.hold_until
    due = next((one for one in events if one.event.subject == STOP), None)
    stops = [c for c in calls if TraineeCall(c.t, c.call).subject == STOP]
    if due is None:
        first = next(iter(stops), None)
        verdict = StopVerdict.NOT_NEEDED if first is None else StopVerdict.UNPROMPTED
        return _stop(verdict, None, until, first)
    if due.outcome is EventOutcome.HIT:
        answer = next(c for c in stops if c.t == due.called_t)
        return _stop(StopVerdict.IN_TIME, due.event.t, until, answer)
    late = next((c for c in stops if c.t > due.event.closes), None)
    if late is not None:
        return _stop(StopVerdict.TOO_LATE, due.event.t, until, late)
    early = max((c for c in stops if c.t < due.event.opens), key=lambda c: c.t, default=None)
    verdict = StopVerdict.NOT_CALLED if early is None else StopVerdict.TOO_EARLY
    return _stop(verdict, due.event.t, until, early)


def _stop(
    verdict: StopVerdict, due: float | None, until: float | None, call: CallScore | None
) -> StopScore:
    if call is None:
        return StopScore(verdict, due, until)
    spare = None if until is None else until - call.t
    return StopScore(verdict, due, until, call.t, call.call, spare)
