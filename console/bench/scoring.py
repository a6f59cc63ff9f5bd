"""One pass through the state model, headless: the same intake as live, so the same events."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

from console.approach.action import ChooseSource
from console.approach.engine_time import EngineTime
from console.approach.event import AnyEvent
from console.approach.intake import Intake
from console.approach.procedure import Procedure
from console.approach.state import StateModel
from console.archive.recorded_pass import Pass
from console.archive.recording import Recording
from console.archive.recording.taken import ActionTaken, FrameTaken, feed_taken
from console.bench.outcome import outcome_of
from console.bench.trace import Cell, trace_row
from console.core.errors import InputError
from console.core.ids import SourceId
from console.core.records import CaptureStatus, Heartbeat, RelativeSample
from console.envelope.limits import LimitsFile
from console.envelope.setup import Setup
from console.surroundings.surroundings import Surroundings
from console.tracking.residuals import ResidualArchive

KEPT = 10_000_000
"""Cleared exceedances kept while scoring: every one must be in the outcome."""


@dataclass(frozen=True, slots=True)
class Scored:
    """A pass that was judged.

    Attributes
    ----------
    outcome : dict
        As ``score --json`` writes it.
    state : StateModel
        At the end of the data.
    trace : list of tuple
        One row for each judged sample where a trace was asked for, else empty.
    """

    outcome: dict[str, Any]
    state: StateModel
    trace: list[tuple[Cell, ...]]


class Follower(Protocol):
    """Looks on while a pass is judged; it reads the state model and changes nothing."""

    def look(self, state: StateModel, events: list[AnyEvent], *, was_judged: bool) -> None:
        """Take in the state after one input.

        Parameters
        ----------
        state : StateModel
        events : list of AnyEvent
            What that input brought about.
        was_judged : bool
            The input was a sample that was judged.
        """
        ...


class _Tally:
    """Counts accepted samples and the span of their times."""

    def __init__(self) -> None:
        self.samples = 0
        self._first: float | None = None
        self._last: float | None = None

    def note(self, record: object) -> None:
        if isinstance(record, RelativeSample):
            self.samples += 1
        elif not isinstance(record, CaptureStatus):
            return
        t = record.t
        self._first = t if self._first is None else min(self._first, t)
        self._last = t if self._last is None else max(self._last, t)

    @property
    def duration_s(self) -> float:
        return 0.0 if self._first is None or self._last is None else self._last - self._first


def score_pass(
    one: Pass,
    limits: LimitsFile,
    setup: Setup,
    *,
    source: SourceId | None = None,
    wants_trace: bool = False,
    archive: ResidualArchive | None = None,
    procedure: Procedure | None = None,
    surroundings: Surroundings | None = None,
    on_events: Callable[[list[AnyEvent]], None] | None = None,
    prepare: Callable[[StateModel], None] | None = None,
    follower: Follower | None = None,
) -> Scored:
    """Judge a pass from its first record to its last.

    Parameters
    ----------
    one : Pass
        A table, taken in order of time, or a recording, taken as it was received.
    limits, setup : LimitsFile, Setup
        In force for the whole pass.
    source : SourceId, optional
        Judge this source alone; by default the automatic choice, as live.
    wants_trace : bool
        Take a snapshot at each judged sample.
    archive : ResidualArchive, optional
        For calibrated chances in the trace.
    procedure : Procedure, optional
        Steps and polls, so that a recording's events come out as they were.
    surroundings : Surroundings, optional
        Light and link ahead, for the same reason.
    on_events : callable, optional
        Told of the events of each input, in order.
    prepare : callable, optional
        Handed the state model before the first input.
    follower : Follower, optional
        Looks at the state model after each input.

    Raises
    ------
    InputError
        The pass holds samples, but none of the source asked for: a clean bill for a misspelt
        name would be believed.
    """
    is_table = one.recording is None
    state = StateModel(
        limits,
        setup,
        source=source,
        ordered=is_table,
        kept=KEPT,
        archive=archive,
        procedure=procedure,
        surroundings=surroundings,
    )
    if prepare is not None:
        prepare(state)
    mode = EngineTime.NEWEST if one.recording is None else one.recording.meta.engine_time
    intake = Intake(state, mode)
    tally = _Tally()
    trace: list[tuple[Cell, ...]] = []

    def after(events: list[AnyEvent], judged_before: int) -> None:
        if on_events is not None and events:
            on_events(events)
        if follower is not None:
            follower.look(state, events, was_judged=state.judged != judged_before)
        if wants_trace and state.judged != judged_before:
            trace.append(trace_row(one.name, state.snapshot()))

    if one.recording is not None:
        _play(one.recording, intake, tally, after, keeps_source=source is not None)
    else:
        for record in one.records():
            before = state.judged
            events = intake.record(record)
            if intake.accepted:
                tally.note(record)
            after(events, before)
    if source is not None:
        _check_heard(one.name, source, state)
    rejected = sum(state.rejects.values()) + (one.rejected_count if is_table else 0)
    outcome = outcome_of(
        state,
        name=one.name,
        samples=tally.samples,
        rejected=rejected,
        duration_s=tally.duration_s,
    )
    return Scored(outcome, state, trace)


def _play(
    recording: Recording,
    intake: Intake,
    tally: _Tally,
    after: Callable[[list[AnyEvent], int], None],
    *,
    keeps_source: bool,
) -> None:
    """Feed a recording's inputs exactly as they were taken live.

    With ``keeps_source`` the operator's own choices of a source are left out.
    """
    for item in recording.inputs():
        if (
            keeps_source
            and isinstance(item, ActionTaken)
            and isinstance(item.action, ChooseSource)
        ):
            continue
        before = intake.state.judged
        events = feed_taken(intake, item)
        newest = intake.newest
        if isinstance(item, FrameTaken) and intake.accepted and not isinstance(newest, Heartbeat):
            tally.note(newest)
        after(events, before)


def _check_heard(name: str, source: SourceId, state: StateModel) -> None:
    heard = state.board.sources
    if heard and source not in heard:
        raise InputError.of(
            name, "--source", f"no valid sample of {source!r}", "one of " + ", ".join(heard)
        )
