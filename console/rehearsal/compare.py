"""Runs beside each other: one trainee's over time, several trainees' on one exercise.

Sensitivities are averaged, rates never are: d' of pooled counts would mix people and criteria
(N. A. Macmillan and H. L. Kaplan, "Detection theory analysis of group data", *Psychological
Bulletin* 98(1), 1985; from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import median

from console.rehearsal.score import RehearsalScore, StopVerdict


@dataclass(frozen=True, slots=True)
class Standing:
    """Several runs in one line.

    Attributes
    ----------
    who : str
        The trainee, or the exercise's title.
    runs : int
    hits, misses, false_alarms : int
        Over all runs.
    mean_d_prime : float or None
        Over the runs that have one.
    runs_with_d_prime : int
    median_delay_s : float or None
        Middle one of the runs' median delays of exceedances.
    mean_mark_error_m : float or None
    stops_in_time, stops_due : int
        Runs in which a stop was called for, and called in time.
    """

    who: str
    runs: int
    hits: int
    misses: int
    false_alarms: int
    mean_d_prime: float | None
    runs_with_d_prime: int
    median_delay_s: float | None
    mean_mark_error_m: float | None
    stops_in_time: int
    stops_due: int


def of_trainee(scores: Sequence[RehearsalScore], trainee: str) -> tuple[RehearsalScore, ...]:
    """Give one trainee's runs, the earliest first."""
    mine = [score for score in scores if score.trainee == trainee]
    return tuple(sorted(mine, key=lambda score: score.started_s))


def of_exercise(scores: Sequence[RehearsalScore], sha256: str) -> tuple[RehearsalScore, ...]:
    """Give the runs of one exercise, by trainee, then the earliest first."""
    same = [score for score in scores if score.exercise_sha256 == sha256]
    return tuple(sorted(same, key=lambda score: (score.trainee, score.started_s)))


def by_trainee(scores: Sequence[RehearsalScore]) -> tuple[Standing, ...]:
    """Give a line for each trainee, in order of initials."""
    return _grouped(scores, lambda score: score.trainee)


def by_exercise(scores: Sequence[RehearsalScore]) -> tuple[Standing, ...]:
    """Give a line for each exercise, in order of title; the same text is the same exercise."""
    names = {score.exercise_sha256: score.title for score in scores}
    groups = [of_exercise(scores, sha256) for sha256 in names]
    lines = [standing(group[0].title, group) for group in groups]
    return tuple(sorted(lines, key=lambda line: line.who))


def standing(who: str, scores: Sequence[RehearsalScore]) -> Standing:
    """Put several runs into one line."""
    d_primes = [s.detection.d_prime for s in scores if s.detection is not None]
    medians = [
        s.exceedance_delays.median_s for s in scores if s.exceedance_delays.median_s is not None
    ]
    errors = [s.mean_mark_error_m for s in scores if s.mean_mark_error_m is not None]
    due = [s for s in scores if s.stop.due_t is not None]
    return Standing(
        who=who,
        runs=len(scores),
        hits=sum(s.hits for s in scores),
        misses=sum(s.misses for s in scores),
        false_alarms=sum(s.false_alarms for s in scores),
        mean_d_prime=_mean(d_primes),
        runs_with_d_prime=len(d_primes),
        median_delay_s=median(medians) if medians else None,
        mean_mark_error_m=_mean(errors),
        stops_in_time=sum(s.stop.verdict is StopVerdict.IN_TIME for s in due),
        stops_due=len(due),
    )


def _grouped(
    scores: Sequence[RehearsalScore], key: Callable[[RehearsalScore], str]
) -> tuple[Standing, ...]:
    names = sorted({key(score) for score in scores})
    return tuple(standing(name, [s for s in scores if key(s) == name]) for name in names)


def _mean(values: Sequence[float]) -> float | None:
    return sum(values) / len(values) if values else None
