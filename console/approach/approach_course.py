"""The way in to contact: what the motion of the range makes of phase and abort authority.

Asked at each tick. Bound to the books it reads; gives the changes of phase and of authority as
events. What follows contact is the business of ``capture_course``; authority goes on here.
"""

from __future__ import annotations

from collections import deque

from console.approach.authority import AuthorityBook
from console.approach.call import CallBook
from console.approach.event import AnyEvent, AuthorityChanged, Phase, PhaseChanged
from console.approach.milestone import MilestoneBook
from console.approach.phase import Cue, PhaseBook, motion_cue
from console.approach.snapshot import Timed
from console.core.units import MICROSECOND_S
from console.envelope.limits import LimitsFile
from console.envelope.setup import Setup
from console.motion.braking import latest_call_s
from console.tracking.contact_time import CLOSING
from console.tracking.source import Source, SourceBoard
from console.tracking.tracker import Tracker

FORGOTTEN_S = 600.0
"""State carried forward longer than this says nothing any more: it is unknown, not coasted."""
DATA_LOST = Phase.DATA_LOST
HALTED = frozenset({Phase.HOLD, Phase.RETREAT, Phase.ABORT})


class ApproachCourse:
    """Moves the phase before contact, and authority.

    Parameters
    ----------
    limits, setup : LimitsFile, Setup
        Hands-off rule, ages, planned retreat and who may hold authority.
    board, tracker, phases, milestones, calls : SourceBoard and others
        Read; the phase is moved, calls and timeline are told.
    timeline : deque of Timed
        Told of holds and departures.
    """

    def __init__(
        self,
        limits: LimitsFile,
        setup: Setup,
        *,
        board: SourceBoard,
        tracker: Tracker,
        phases: PhaseBook,
        milestones: MilestoneBook,
        calls: CallBook,
        timeline: deque[Timed],
    ) -> None:
        self._hands_off = limits.hands_off
        self._lost_s = limits.data.lost_after_s + MICROSECOND_S
        self._retreat_mps = setup.retreat.rate_mps
        self._board = board
        self._tracker = tracker
        self._phases = phases
        self._milestones = milestones
        self._calls = calls
        self._timeline = timeline
        self.authority = AuthorityBook(limits.hands_off.range_m, setup.ground_holds_authority)

    def follow(self, engine_s: float) -> list[AnyEvent]:
        """Take what the motion shows at a tick; give the changes of phase and authority."""
        current = self._board.current
        if current is None or self._phases.is_after_contact:
            return []
        events: list[AnyEvent] = []
        now = current.now(engine_s)
        if current.age_s(engine_s) > self._lost_s:
            self._enter(Cue.SILENT, current, engine_s, events)
        else:
            self._enter(self._motion_cue(current, engine_s), current, engine_s, events)
        return events + self.pass_authority(engine_s, now)

    def _motion_cue(self, current: Source, engine_s: float) -> Cue | None:
        known_t = self._known_t(current, engine_s)
        estimate = self._tracker.estimate(known_t)
        if estimate is None:
            return None
        opening_mps = -estimate.closing_rate_mps
        is_inside = self._milestones.is_inside_hands_off
        return motion_cue(self._tracker.motion(known_t), opening_mps, self._retreat_mps, is_inside)

    def _known_t(self, current: Source, engine_s: float) -> float:
        """Give the time motion is asked at: the newest sample's as long as it is fresh.

        It is a fraction of a second ago, and the state need not be carried forward for it.
        """
        if self._board.is_stale(current, engine_s):
            return current.now(engine_s)
        return current.newest.t

    def is_lost(self, engine_s: float) -> bool:
        """Tell whether the source in use has been silent for longer than ``lost_after_s``."""
        current = self._board.current
        return current is not None and current.age_s(engine_s) > self._lost_s

    def _enter(
        self, cue: Cue | None, current: Source, engine_s: float, events: list[AnyEvent]
    ) -> None:
        now, before = current.now(engine_s), self._phases.phase
        entered = self._phases.cue(cue, now, engine_s)
        if entered is not None and cue is not None:
            words = f"{cue.value}: {self._evidence(cue, current, engine_s)}"
            events.append(PhaseChanged(t=now, phase=entered, before=before, evidence=words))
            self._milestones.note_phase(entered, before, now, self._calls, self._timeline)

    def _evidence(self, cue: Cue, current: Source, engine_s: float) -> str:
        if cue is Cue.SILENT:
            return f"no data for {current.age_s(engine_s):.1f} s"
        estimate = self._tracker.estimate(self._known_t(current, engine_s))
        if estimate is None:
            return "range measured"
        return f"range {estimate.range_m:.1f} m, closing {estimate.closing_rate_mps:.3f} m/s"

    def pass_authority(self, engine_s: float, t: float) -> list[AnyEvent]:
        """Work out who holds abort authority; give the event where that changed."""
        phase = self._phases.phase
        # while nothing is known a coasted figure moves no authority
        # and after contact none counts
        is_told = phase is not DATA_LOST and not self._phases.is_after_contact
        hold_call_s = self.hold_call_s(engine_s) if is_told else None
        is_inside = self._milestones.is_inside_hands_off
        if self.authority.take(
            phase, hold_call_s, is_holding=phase in HALTED, is_inside=is_inside
        ):
            return [AuthorityChanged(t=t, holders=self.authority.now.holders)]
        return []

    def hold_call_s(self, engine_s: float) -> float | None:
        """Give the seconds until the last useful stop call at constant rate, None if none is."""
        current = self._board.current
        if current is None:
            return None
        age_s = current.age_s(engine_s)
        if age_s > FORGOTTEN_S:
            return None
        t, tracker = self._known_t(current, engine_s), self._tracker
        estimate = tracker.estimate(t) if tracker.motion(t) is CLOSING else None
        if estimate is None:
            return None
        hands_off = self._hands_off
        delay_s = age_s + hands_off.link_delay_s + hands_off.reaction_s
        since_t = latest_call_s(
            estimate.range_m, estimate.closing_rate_mps, hands_off.range_m, delay_s,
            hands_off.braking_mps2,
        )  # fmt: skip
        return None if since_t is None else since_t - (current.now(engine_s) - t)
