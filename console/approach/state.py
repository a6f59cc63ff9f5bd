"""The state model: everything the console knows, fed one record at a time.

Theory of operation
-------------------
``take_sample``, ``take_capture``, ``tick`` and ``act`` change the state and give the events that
follow; ``snapshot`` reads it and changes nothing. Time is engine time and comes with each call:
it never runs backwards. The same calls in the same order give the same events to the byte, which
is what makes a replay, a score and a debrief agree with the watch.

A sample goes: sources (age, clock) -> estimator and its cross-checks -> choice of source ->
marks, hands-off and contact -> judging. Cross-checks come before the choice, and the choice
before judging, so that a sample is judged only if its source is in use at that very moment.
"""

from __future__ import annotations

from collections import Counter, deque

from console.approach import deed, picture, shelf
from console.approach.action import AnyAction
from console.approach.approach_course import DATA_LOST, ApproachCourse
from console.approach.call import CallBook
from console.approach.capture import CaptureBook
from console.approach.capture_course import CaptureCourse
from console.approach.condition import Situation
from console.approach.contact import ContactBook, MeasuredSample
from console.approach.data_flag import DataFlagBook
from console.approach.event import (
    AnyEvent,
    CaptureStep,
    Phase,
    SamplesLost,
    SourceChanged,
    SourceRestarted,
    StepWasDone,
)
from console.approach.leap import LeapBook
from console.approach.link_gaps import LinkGaps
from console.approach.milestone import MilestoneBook
from console.approach.outlook_book import OutlookBook
from console.approach.phase import PhaseBook
from console.approach.procedure import Procedure
from console.approach.procedure_book import ProcedureBook
from console.approach.snapshot import Snapshot, Timed
from console.approach.verdict import JudgingDesk
from console.core.ids import SourceId
from console.core.records import CaptureStatus, RelativeSample
from console.envelope.limits import LimitsFile
from console.envelope.setup import Setup
from console.judging.register import CAPACITY, Register
from console.surroundings.surroundings import Surroundings
from console.tracking.outlook import Countdown
from console.tracking.residuals import ResidualArchive
from console.tracking.source import SourceBoard
from console.tracking.tracker import Tracker
from console.wire.sequence import SequenceBook

TIMELINE_KEPT = 400


class StateModel:
    """One watch of one approach.

    Parameters
    ----------
    limits : LimitsFile
        Judged against; in force for the whole watch.
    setup : Setup
        Orbit, port, holds, sources.
    source : SourceId, optional
        Use this source alone instead of the automatic choice.
    ordered : bool
        The input is a table, put in order of time: nothing in it is late.
    kept : int
        How many cleared exceedances are kept.
    archive : ResidualArchive, optional
        Leftover errors of past passes, for calibrated chances at contact.
    procedure : Procedure, optional
        Steps and polls, in force for the whole watch.
    surroundings : Surroundings, optional
        Orbit and coverage plan, for light and link ahead.
    """

    def __init__(
        self,
        limits: LimitsFile,
        setup: Setup,
        *,
        source: SourceId | None = None,
        ordered: bool = False,
        kept: int = CAPACITY,
        archive: ResidualArchive | None = None,
        procedure: Procedure | None = None,
        surroundings: Surroundings | None = None,
    ) -> None:
        self.limits = limits
        self.setup = setup
        self.sequence = SequenceBook(ordered)
        self.rejects: Counter[str] = Counter()
        self.overflowed = 0
        self.board = SourceBoard(limits.data.stale_after_s)
        self.board.force(source)
        self.named_sources = frozenset({*setup.sources, *(() if source is None else (source,))})
        """Sources that are followed however many others there are."""
        self.tracker = Tracker(limits, setup, archive)
        self.register = Register.of(limits, kept)
        self.desk = JudgingDesk(limits, self.register)
        self.flags = DataFlagBook(limits.data, self.register)
        self.procedure = None if procedure is None else ProcedureBook(procedure, self.register)
        self.milestones = MilestoneBook(limits)
        self.contact = ContactBook(limits.contact_limits)
        self.phases = PhaseBook()
        self.capture = CaptureBook(self.register, setup.vestibule)
        self._course = CaptureCourse(self.phases, self.capture)
        self.outlook = None if surroundings is None else OutlookBook(surroundings)
        self.calls = CallBook()
        self.timeline: deque[Timed] = deque(maxlen=TIMELINE_KEPT)
        self.gaps = LinkGaps()
        self._approach = ApproachCourse(
            limits, setup, board=self.board, tracker=self.tracker, phases=self.phases,
            milestones=self.milestones, calls=self.calls, timeline=self.timeline,
        )  # fmt: skip
        self.authority = self._approach.authority
        self.engine_s = 0.0
        self._ticked_s = 0.0
        self.leaps = LeapBook()
        self.late: Counter[str] = Counter()
        self.invalid: Counter[str] = Counter()
        self.judged = 0
        self._newest_judged_t: float | None = None

    @property
    def unchanging(self) -> tuple[object, ...]:
        """What nothing that is fed changes, for whoever keeps many states of one watch."""
        procedure = None if self.procedure is None else self.procedure.procedure
        surroundings = None if self.outlook is None else self.outlook.surroundings
        return (procedure, surroundings, *self.limits.limits, *self.tracker.unchanging)

    # ------------------------------------------------------------------ time and records

    @property
    def now(self) -> float:
        """Engine time on the clock of the source in use, UTC seconds."""
        current = self.board.current
        return self.engine_s if current is None else current.now(self.engine_s)

    def pass_time(self, engine_s: float) -> None:
        """Let the clock go on between ticks, for the ages a snapshot tells; finds nothing."""
        self.engine_s = max(self.engine_s, engine_s)

    def tick(self, engine_s: float) -> list[AnyEvent]:
        """Let time pass: ages, cross-checks, choice of source, phase, authority."""
        self.engine_s = self._ticked_s = engine_s
        events: list[AnyEvent] = []
        if self.board.sources or self.capture.merged is not None:
            self._look_at_data(events)
            events += self._approach.follow(engine_s)
            self._look_at_course(events)
            self._follow_procedure(events)
            self._look_around(events)
        return events + shelf.expire(self.register, engine_s, self.now)

    def next_timer_s(self) -> float | None:
        """Give the next engine time at which time alone changes something, None if never.

        Data that grows old is not among them: it does so within ``lost_after_s`` of an input.
        """
        timers = [shelving.until for shelving in self.register.shelvings()]
        # after the newest tick: a clock that has gone on since has found nothing yet
        found = [self.capture.next_timer_s(self.phases.phase, self._ticked_s)]
        if self.procedure is not None:
            found.append(self.procedure.next_timer_s(self._ticked_s))
        return min(timers + [timer_s for timer_s in found if timer_s is not None], default=None)

    def take_sample(self, sample: RelativeSample, engine_s: float) -> list[AnyEvent]:
        """Take an accepted relative-state sample of any source, valid or not."""
        self.engine_s = engine_s
        events: list[AnyEvent] = []
        is_newest = sample.valid and self.board.take(sample, engine_s)
        self.tracker.update(sample)
        self.desk.note(sample)
        self._look_at_data(events)
        if not sample.valid:
            self.invalid[sample.source] += 1
        elif sample.source == self.board.in_use:
            self._take_in_use(sample, is_newest, events)
        elif not is_newest:
            self.late[sample.source] += 1
        return events

    def take_capture(
        self, status: CaptureStatus, engine_s: float, *, is_late: bool = False
    ) -> list[AnyEvent]:
        """Take a capture status; contact or soft capture reported in it is contact."""
        self.engine_s = engine_s
        events: list[AnyEvent] = []
        if status.contact or status.soft_capture:
            self._declare_contact(status.t, "capture status", events)
        for event in self.capture.take(status, engine_s, is_late=is_late):
            events.append(event)
            if isinstance(event, CaptureStep):
                self._note_capture(event)
        self._advance_capture(status.t, events)
        self._look_at_course(events)
        if self.phases.is_after_soft_capture and self.contact.t is not None:
            self._look_at_capture(events)
        return events

    def _note_capture(self, event: CaptureStep) -> None:
        if not (event.step == "contact" and self.calls.has("contact")):
            self.calls.note(event.step, event.words, event.t)
        self.timeline.append(Timed(event.t, "capture", event.words))

    def _take_in_use(
        self, sample: RelativeSample, is_newest: bool, events: list[AnyEvent]
    ) -> None:
        fallback = self.tracker.estimate(sample.t)
        measured = self.desk.measure(sample, fallback, is_newest=is_newest)
        if is_newest:
            self._pass_ranges(measured, events)
        newest_t = self._newest_judged_t
        if newest_t is not None and sample.t < newest_t:
            self.late[sample.source] += 1
        elif self.contact.t is None and sample.range_m > 0.0:
            self._newest_judged_t = sample.t
            self.judged += 1
            self.contact.predict(sample, self.engine_s, self.tracker.at_contact)
            events += self.desk.judge(measured, fallback)

    def _pass_ranges(self, measured: MeasuredSample, events: list[AnyEvent]) -> None:
        source = self.board.sources[measured.sample.source]
        self.contact.take(measured)
        passed = self.milestones.take(source, self.contact.t)
        events.extend(
            self.milestones.event(passing, self.tracker, self.calls, self.timeline)
            for passing in passed
        )
        touch = self.milestones.contact(source)
        if touch is not None:
            self._declare_contact(touch.t, "range", events)

    # ------------------------------------------------------------------ what follows from them

    def _look_at_data(self, events: list[AnyEvent]) -> None:
        is_touching = self.contact.t is not None
        if is_touching and self.phases.is_after_soft_capture:
            self._look_at_capture(events)
            return
        events += self.flags.look(self.tracker.findings(self.now), self.board, self.engine_s)
        current = self.board.current
        if current is not None:
            self.gaps.look(current, is_stale=self.board.is_stale(current, self.engine_s))
        if not is_touching:
            self._choose_source(events)

    def _choose_source(self, events: list[AnyEvent]) -> None:
        before = self.board.current
        reason = self.board.choose(self.engine_s)
        current = self.board.current
        if reason is None or current is None:
            return
        source = current.id
        self.desk.change_source()
        self.tracker.prefer(source)
        self.gaps.follow_clock(current)
        if before is not None and not before.shares_clock_with(current):
            # the newest time judged says nothing on another clock
            self.desk.forget_time()
            self._newest_judged_t = None
        name = None if before is None else before.id
        events.append(SourceChanged(t=self.now, source=source, before=name, reason=reason))
        if before is not None:
            words = f"Source {source} in use: {reason}"
            self.calls.note(f"source:{self.now}", words, self.now)

    def _look_at_capture(self, events: list[AnyEvent]) -> None:
        for source, heard in self.capture.heard.items():
            age_s = self.engine_s - heard.engine_s
            events += self.flags.look_at_capture(source, age_s, heard.t + age_s)

    def _follow_procedure(self, events: list[AnyEvent]) -> None:
        if self.procedure is None:
            return
        phase, t = self.phases.phase, self.now
        range_m: float | None = None
        if self.phases.is_after_contact:
            range_m = 0.0
        elif phase is not DATA_LOST:
            range_m = self.tracker.range_m(t)
        merged = self.capture.merged
        found = self.procedure.look(Situation(self.engine_s, t, phase, range_m, merged))
        for event in found:
            if isinstance(event, StepWasDone):
                self.calls.note(f"step:{event.step}", event.words, t, event.who)
        events += found

    def _look_around(self, events: list[AnyEvent]) -> None:
        """Hold what is predicted against light and link; while data is lost nothing is."""
        if self.outlook is None or not self.outlook.is_due(self.engine_s):
            return
        t, contact, hands_off = self.now, Countdown(), Countdown()
        if (
            self.board.current is not None
            and self.contact.t is None
            and not self._approach.is_lost(self.engine_s)
        ):
            contact = self.tracker.to_contact(t)
            if not self.milestones.is_inside_hands_off:
                hands_off = self.tracker.to_range(t, self.limits.hands_off.range_m)
        events += self.outlook.look(self.engine_s, t, contact, hands_off)

    def _declare_contact(self, t: float, by: str, events: list[AnyEvent]) -> None:
        is_first = self.contact.t is None
        if not self.contact.declare(t):
            return
        self.desk.stop()
        self.milestones.settle(t)
        events.append(self.milestones.contact_event(t, by, self.contact, self.calls))
        if is_first:
            self.timeline.append(Timed(t, "contact", "contact"))
        self._advance_capture(t, events)
        self._look_at_course(events)

    def _advance_capture(self, t: float, events: list[AnyEvent]) -> None:
        is_touching = self.contact.t is not None
        for change in self._course.advance(t, is_touching=is_touching):
            events.append(change)
            if change.phase is Phase.SOFT_CAPTURE and is_touching:
                events += self.flags.retire(t)
                self.gaps.end(t, self.now)  # nobody waits for that data any more
        events += self._approach.pass_authority(self.engine_s, t)

    def _look_at_course(self, events: list[AnyEvent]) -> None:
        if self.phases.is_after_contact:
            phase = self.phases.phase
            events += self._course.look(self.now, self.engine_s)
            if self.phases.phase is not phase:
                events += self._approach.pass_authority(self.engine_s, self.now)

    # ------------------------------------------------------------------ what the link tells

    def note_lost(
        self, source: SourceId, first_seq: int, count: int, engine_s: float
    ) -> list[AnyEvent]:
        """Note samples that never came."""
        self.engine_s = engine_s
        return [SamplesLost(t=self.now, source=source, first_seq=first_seq, count=count)]

    def note_restart(self, source: SourceId, seq: int, engine_s: float) -> list[AnyEvent]:
        """Note a source's new run."""
        self.engine_s = engine_s
        return [SourceRestarted(t=self.now, source=source, seq=seq)]

    # ------------------------------------------------------------------ the operator

    def act(self, action: AnyAction, engine_s: float) -> list[AnyEvent]:
        """Take what the operator did."""
        self.engine_s = max(self.engine_s, engine_s)
        return deed.do(self, action, self.now)

    def force_source(self, source: SourceId | None) -> list[AnyEvent]:
        """Take this source whatever its state, or None for the automatic choice."""
        self.board.force(source)
        events: list[AnyEvent] = []
        self._look_at_data(events)
        return events

    # ------------------------------------------------------------------ the picture

    def hold_call_s(self) -> float | None:
        """Give the seconds until the last useful stop call at constant rate, None if none is."""
        return self._approach.hold_call_s(self.engine_s)

    def snapshot(self) -> Snapshot:
        """Give everything a view may show; changes nothing."""
        return picture.draw(self)
