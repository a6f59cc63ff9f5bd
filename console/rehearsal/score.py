"""A rehearsal's score: what each true event, each call and the whole came to."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from console.rehearsal.detection import Detection, Trials
from console.rehearsal.exercise import Hidden, Origin, Rules
from console.rehearsal.matching import CallOutcome, EventOutcome, TrueEvent


class StopVerdict(StrEnum):
    """Whether a stop was called while it still helped."""

    NOT_NEEDED = "no stop was called for"
    IN_TIME = "called while it still helped"
    TOO_LATE = "called too late to help"
    TOO_EARLY = "called before anything called for it"
    NOT_CALLED = "not called"
    UNPROMPTED = "called though nothing called for it"


@dataclass(frozen=True, slots=True)
class EventScore:
    """A true event and its answer.

    Attributes
    ----------
    event : TrueEvent
    outcome : EventOutcome
    called_t : float or None
        When it was answered, UTC seconds; None where it was missed.
    delay_s : float or None
        From the event to the call, negative where the call came first.
    """

    event: TrueEvent
    outcome: EventOutcome
    called_t: float | None
    delay_s: float | None


@dataclass(frozen=True, slots=True)
class CallScore:
    """A call and what it was worth; the true range then, m, where it is known."""

    t: float
    call: str
    words: str
    outcome: CallOutcome
    true_range_m: float | None


@dataclass(frozen=True, slots=True)
class MarkScore:
    """The call of a range mark against the true range.

    Attributes
    ----------
    range_m : float
        Which mark.
    t : float
        When it was really passed.
    called_t : float or None
        When it was called; None where it was not.
    true_range_m : float or None
        True range at the call.
    error_m : float or None
        That less the mark: positive where the call came early.
    """

    range_m: float
    t: float
    called_t: float | None
    true_range_m: float | None
    error_m: float | None


@dataclass(frozen=True, slots=True)
class Delays:
    """Delays of answered events; missed ones are counted apart, not dropped in silence.

    Attributes
    ----------
    count, missed : int
    median_s, p90_s : float or None
        50th and 90th percentile, linear between order statistics: position ``(n - 1) p`` counted
        from 0 (definition 7 of R. J. Hyndman and Y. Fan, "Sample quantiles in statistical
        packages", *The American Statistician* 50(4), 1996); None where nothing was answered.
    """

    count: int
    missed: int
    median_s: float | None
    p90_s: float | None


@dataclass(frozen=True, slots=True)
class StopScore:
    """The stop call.

    Attributes
    ----------
    verdict : StopVerdict
    due_t : float or None
        When the first warning of a limit stood, so that a stop was called for.
    until_t : float or None
        Until when a stop called still helped, by the true state.
    called_t : float or None
        The call that decided the verdict.
    call : str
        ``hold``, ``retreat`` or ``abort``; empty without one.
    spare_s : float or None
        How long before it was too late; negative: too late by so much.
    """

    verdict: StopVerdict
    due_t: float | None = None
    until_t: float | None = None
    called_t: float | None = None
    call: str = ""
    spare_s: float | None = None


@dataclass(frozen=True, slots=True)
class FaultTold:
    """A fault that was played, in words, and when it really stood, UTC seconds."""

    words: str
    t_start: float
    t_end: float


@dataclass(frozen=True, slots=True)
class RehearsalScore:
    """All that is said of a rehearsal; made by ``review`` from its recording alone.

    Attributes
    ----------
    recording : str
        File name.
    title : str
        The exercise's.
    origin, name : Origin, str
        What was flown.
    exercise_sha256 : str
        Runs of the same one compare.
    seed : int
    speed : float
    trainee : str
        Initials.
    started_s : float
        Wall clock at the begin, UTC seconds.
    t_begin, t_end : float
        First and last moment that counts, pass time.
    hidden : tuple of Hidden
    rules : Rules
        ``early_s`` and ``response_s``; ``trial_s`` is the length of a trial.
    limits_title, limits_revision, limits_sha256 : str, int, str
    events : tuple of EventScore
        In order of time.
    calls : tuple of CallScore
        In order of time.
    marks : tuple of MarkScore
        Outermost first.
    faults : tuple of FaultTold
    exceedance_delays, milestone_delays : Delays
        Of exceedances seen; of marks, hands-off, contact and soft capture.
    trials : Trials
        Signal and noise trials; see the manual's chapter *Rehearse*.
    detection : Detection or None
        d' and c; None where there was no signal trial or no noise trial.
    stop : StopScore
    path : tuple of (float, float, float)
        True t, range m, closing rate m/s, about one a second.
    """

    recording: str
    title: str
    origin: Origin
    name: str
    exercise_sha256: str
    seed: int
    speed: float
    trainee: str
    started_s: float
    t_begin: float
    t_end: float
    hidden: tuple[Hidden, ...]
    rules: Rules
    limits_title: str
    limits_revision: int
    limits_sha256: str
    events: tuple[EventScore, ...]
    calls: tuple[CallScore, ...]
    marks: tuple[MarkScore, ...]
    faults: tuple[FaultTold, ...]
    exceedance_delays: Delays
    milestone_delays: Delays
    trials: Trials
    detection: Detection | None
    stop: StopScore
    path: tuple[tuple[float, float, float], ...] = ()

    @property
    def hits(self) -> int:
        """True events that were answered."""
        return sum(e.outcome is EventOutcome.HIT for e in self.events)

    @property
    def misses(self) -> int:
        """True events that were not."""
        return len(self.events) - self.hits

    @property
    def false_alarms(self) -> int:
        """Calls about nothing that came."""
        return sum(c.outcome is CallOutcome.FALSE_ALARM for c in self.calls)

    @property
    def mean_mark_error_m(self) -> float | None:
        """Mean size of the range-call errors, m; None where none was called."""
        errors = [abs(m.error_m) for m in self.marks if m.error_m is not None]
        return sum(errors) / len(errors) if errors else None
