"""One pass gathered for a debrief: judged by the one engine, and everything said of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from console import __version__
from console.approach.event import AnyEvent, PhaseChanged, Shelved
from console.approach.picture import exceedance_now
from console.approach.procedure import Procedure
from console.approach.snapshot import CaptureNow, ExceedanceNow
from console.archive.pass_notes import read_notes
from console.archive.recorded_pass import Pass
from console.archive.recording import RecordedNote
from console.bench.scoring import Scored, score_pass
from console.bench.trace import Cell
from console.core.ids import SourceId
from console.debrief.call_log import CallEntry, call_log
from console.debrief.course import Course, CourseFollower
from console.debrief.data_quality import DataQuality, data_quality
from console.debrief.margin import LimitMargin
from console.debrief.prediction import PredictedAt
from console.debrief.procedure_log import PollEntry, StepEntry, polls_of, steps_of
from console.envelope.limits import LimitsFile
from console.envelope.setup import Setup
from console.rehearsal.review import is_rehearsal
from console.rehearsal.review import review as review_rehearsal
from console.rehearsal.score import RehearsalScore
from console.surroundings.surroundings import Surroundings
from console.tracking.residuals import ResidualArchive


@dataclass(frozen=True, slots=True)
class PassFacts:
    """Who, what, and under which rules.

    Attributes
    ----------
    name : str
        The pass's file name.
    form : str
        ``recording``, ``CSV`` or ``Parquet``.
    people : tuple of str
        Initials of everybody who did something, in order of first appearance.
    recorded_by, judged_by : str
        Versions of the program; the first is empty for a table.
    limits_are_own : bool
        Judged by the limits kept in the recording.
    """

    name: str
    form: str
    title: str
    vehicle: str
    port: str
    people: tuple[str, ...]
    recorded_by: str
    judged_by: str
    limits_are_own: bool
    setup_sha256: str
    procedure: Procedure | None


@dataclass(frozen=True, slots=True, eq=False)
class Debrief:
    """All that a debrief says of a pass.

    Attributes
    ----------
    outcome : dict
        As ``score --json`` writes it.
    margins : tuple of LimitMargin
        The least first.
    exceedances : tuple of ExceedanceNow
        Of limits, data checks and the procedure, in the order raised.
    stages : tuple of PhaseChanged
        Every change of phase.
    capture : CaptureNow or None
        Capture as it stood at the end; None without any status.
    rehearsal : RehearsalScore or None
        Where the pass is a rehearsal's recording.
    events_dropped : int
        Events that no longer fitted.
    """

    facts: PassFacts
    outcome: dict[str, Any]
    limits: LimitsFile
    course: Course
    margins: tuple[LimitMargin, ...]
    exceedances: tuple[ExceedanceNow, ...]
    shelvings: tuple[Shelved, ...]
    calls: tuple[CallEntry, ...]
    steps: tuple[StepEntry, ...]
    polls: tuple[PollEntry, ...]
    data: DataQuality
    predictions: tuple[PredictedAt, ...]
    stages: tuple[PhaseChanged, ...]
    capture: CaptureNow | None
    notes: tuple[RecordedNote, ...]
    rehearsal: RehearsalScore | None
    events_dropped: int = 0


def review_pass(
    one: Pass,
    limits: LimitsFile,
    setup: Setup,
    *,
    archive: ResidualArchive,
    source: SourceId | None = None,
    procedure: Procedure | None = None,
    surroundings: Surroundings | None = None,
    limits_are_own: bool = False,
    wants_trace: bool = False,
) -> tuple[Debrief, list[tuple[Cell, ...]]]:
    """Judge a pass once and gather its debrief; also give the trace's rows, if wanted.

    Parameters
    ----------
    one : Pass
    limits, setup : LimitsFile, Setup
        In force for the whole pass.
    archive : ResidualArchive
        For calibrated chances at contact.
    source, procedure, surroundings
        As :func:`console.bench.scoring.score_pass` takes them.
    limits_are_own : bool
        The limits are those kept in the recording.

    Raises
    ------
    InputError
        The source asked for is not among those heard, or notes or rehearsal cannot be read.
    """
    follower = CourseFollower(limits)
    scored = score_pass(
        one,
        limits,
        setup,
        source=source,
        wants_trace=wants_trace,
        archive=archive,
        procedure=procedure,
        surroundings=surroundings,
        follower=follower,
    )
    facts = _facts(one, scored, follower.events, procedure, limits_are_own=limits_are_own)
    return _debrief(one, scored, follower, facts), scored.trace


def _debrief(one: Pass, scored: Scored, follower: CourseFollower, facts: PassFacts) -> Debrief:
    events, last = follower.events, scored.state.snapshot()
    register = scored.state.register
    recording = one.recording
    is_rehearsed = recording is not None and is_rehearsal(recording.meta)
    contact = scored.outcome["contact"]
    return Debrief(
        facts=facts,
        outcome=scored.outcome,
        limits=scored.state.limits,
        course=follower.course(),
        margins=follower.margins(),
        exceedances=tuple(exceedance_now(e) for e in sorted(register, key=lambda e: e.raised)),
        shelvings=tuple(e for e in events if isinstance(e, Shelved)),
        calls=call_log(events),
        steps=steps_of(facts.procedure, events, None if contact is None else contact["t"]),
        polls=polls_of(facts.procedure, events),
        data=data_quality(one, last, events),
        predictions=follower.predictions(),
        stages=tuple(e for e in events if isinstance(e, PhaseChanged)),
        capture=last.capture,
        notes=read_notes(one.path),
        rehearsal=review_rehearsal(recording) if recording and is_rehearsed else None,
        events_dropped=follower.events_dropped,
    )


def _facts(
    one: Pass,
    scored: Scored,
    events: list[AnyEvent],
    procedure: Procedure | None,
    *,
    limits_are_own: bool,
) -> PassFacts:
    meta = None if one.recording is None else one.recording.meta
    initials = (getattr(event, "initials", "") for event in events)
    table = "Parquet" if one.path.suffix == ".parquet" else "CSV"
    return PassFacts(
        name=one.name,
        form=table if meta is None else "recording",
        title=one.header.get("title", ""),
        vehicle=one.header.get("vehicle", ""),
        port=one.header.get("port", ""),
        people=tuple(dict.fromkeys(name for name in initials if name)),
        recorded_by="" if meta is None else meta.software,
        judged_by=__version__,
        limits_are_own=limits_are_own,
        setup_sha256=scored.state.setup.sha256,
        procedure=procedure,
    )
