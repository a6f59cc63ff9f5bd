"""A rehearsal's recording to its score: everything needed stands in the recording."""

from __future__ import annotations

import msgspec

from console.approach.event import AnyEvent
from console.archive.recording import Recording
from console.archive.recording.meta import RecordingMeta
from console.core.errors import InputError
from console.core.foreign_json import BAD_JSON
from console.envelope.limits import LimitsFile
from console.envelope.reading import parse_limits
from console.rehearsal import scoring
from console.rehearsal.calls import calls_of
from console.rehearsal.detection import detection
from console.rehearsal.exercise import Exercise, Hidden
from console.rehearsal.exercise_reading import parse_exercise
from console.rehearsal.matching import match
from console.rehearsal.score import FaultTold, RehearsalScore
from console.rehearsal.true_events import stood_of, true_events
from console.rehearsal.truth import RunTruth

EXERCISE_KEY = "rehearsal_exercise"
TRAINEE_KEY = "rehearsal_trainee"
TRUTH_KEY = "rehearsal_truth"
BEGUN_KEY = "rehearsal_begun_s"
HIDDEN_KEY = "rehearsal_hidden"


def kept(exercise: Exercise, trainee: str, truth: RunTruth, begun_s: float) -> dict[str, str]:
    """Give the facts a rehearsal's recording opens with, beside those of any watch.

    Parameters
    ----------
    exercise : Exercise
    trainee : str
        Initials.
    truth : RunTruth
    begun_s : float
        Wall clock, UTC seconds: a simulated approach has a clock of its own.
    """
    return {
        EXERCISE_KEY: exercise.text,
        TRAINEE_KEY: trainee,
        BEGUN_KEY: repr(begun_s),
        HIDDEN_KEY: " ".join(part.value for part in Hidden if part in exercise.hidden),
        TRUTH_KEY: msgspec.json.encode(truth).decode(),
    }


def is_rehearsal(meta: RecordingMeta) -> bool:
    """Tell whether a recording is one of a rehearsal."""
    return EXERCISE_KEY in meta.more and TRUTH_KEY in meta.more


def exercise_in(recording: Recording) -> Exercise:
    """Read the exercise of a rehearsal's recording.

    Raises
    ------
    InputError
        It is no rehearsal.
    """
    name = recording.path.name
    if not is_rehearsal(recording.meta):
        raise InputError.of(
            name, "", "no rehearsal was recorded in it", "give a recording made in Rehearse"
        )
    text = recording.meta.more[EXERCISE_KEY]
    return parse_exercise(text.encode(), f"{name} (its own exercise)")


def review(recording: Recording) -> RehearsalScore:
    """Score a rehearsal from its recording alone.

    Raises
    ------
    InputError
        It is no rehearsal, or what it keeps of one cannot be read.
    """
    exercise = exercise_in(recording)
    meta = recording.meta
    truth = _truth_in(recording)
    limits = parse_limits(meta.limits_text.encode(), f"{recording.path.name} (its own limits)")
    log = _log_in(recording)
    end = recording.extent.end_t
    t_end = truth.t_end if end is None else min(truth.t_end, end)
    return _score(recording, exercise, truth, limits, log, t_end)


def _log_in(recording: Recording) -> list[AnyEvent]:
    decoder = msgspec.json.Decoder(AnyEvent)
    try:
        return [decoder.decode(line) for line in recording.events()]
    except BAD_JSON as error:
        raise _unreadable(recording, "events", error) from None


def _truth_in(recording: Recording) -> RunTruth:
    try:
        return msgspec.json.decode(recording.meta.more[TRUTH_KEY], type=RunTruth)
    except msgspec.MsgspecError as error:
        raise _unreadable(recording, TRUTH_KEY, error) from None


def _unreadable(recording: Recording, place: str, error: Exception) -> InputError:
    found, mend = f"cannot be read: {error}", "restore it from a copy"
    return InputError.of(recording.path.name, place, found, mend)


def _score(
    recording: Recording,
    exercise: Exercise,
    truth: RunTruth,
    limits: LimitsFile,
    log: list[AnyEvent],
    t_end: float,
) -> RehearsalScore:
    rules, meta = exercise.rules, recording.meta
    all_events = true_events(truth, stood_of(log, limits), limits, rules, t_end)
    calls = calls_of(log)
    matching = match(all_events, calls)
    every = scoring.event_scores(all_events, calls, matching)
    events = tuple(every[i] for i in scoring.asked(all_events, matching, t_end))
    told = scoring.call_scores(calls, matching, truth)
    seen = [one for one in events if scoring.is_seen(one.event.subject)]
    milestones = [one for one in events if not one.event.level]
    watched = (truth.t_begin, min(t_end, truth.contact or t_end))
    trials = scoring.trials_of(events, told, watched, rules)
    return RehearsalScore(
        recording=recording.path.name,
        title=exercise.title,
        origin=exercise.origin,
        name=exercise.name,
        exercise_sha256=exercise.sha256,
        seed=exercise.seed,
        speed=exercise.speed,
        trainee=meta.more.get(TRAINEE_KEY, ""),
        started_s=float(meta.more.get(BEGUN_KEY, meta.started_s)),
        t_begin=truth.t_begin,
        t_end=t_end,
        hidden=tuple(part for part in Hidden if part in exercise.hidden),
        rules=rules,
        limits_title=limits.title,
        limits_revision=limits.revision,
        limits_sha256=limits.sha256,
        events=events,
        calls=told,
        marks=scoring.mark_scores(events, told),
        faults=tuple(
            FaultTold(f.words, f.t_start, truth.t_end if f.t_end is None else f.t_end)
            for f in truth.faults
            if f.t_start <= t_end
        ),
        exceedance_delays=scoring.delays_of(seen),
        milestone_delays=scoring.delays_of(milestones),
        trials=trials,
        detection=detection(trials),
        stop=scoring.stop_score(events, told, truth),
        path=truth.path,
    )
