"""One reading of a whole pass: checkpoints on the way, where events fell, the least margins.

It feeds a state model of its own from begin to end, some inputs at a time, so that whoever drives
it can do other things between. Everywhere it has been a replay may jump to.
"""

from __future__ import annotations

from array import array
from bisect import bisect_left, bisect_right
from dataclasses import dataclass

from console.app.checkpoints import CheckpointBook
from console.app.replay_inputs import PassInputs
from console.app.replay_run import Run
from console.app.trail_feed import TrailFeed
from console.approach.event import AnyEvent
from console.approach.intake import Intake
from console.approach.snapshot import LimitNow
from console.core.records import RelativeSample
from console.core.units import MICROSECOND_S

CHECKPOINT_S = 30.0
CHECKPOINT_INPUTS = 160
"""A checkpoint comes after so much of the pass, or after so many inputs if that is sooner: going
on from one takes at most as long as feeding these."""
EVENTS_KEPT = 200_000
STEP_S = 0.1
STEPS_MOST = 100
"""Silence is gone through tick by tick only so long: nothing but timers comes later."""


@dataclass(frozen=True, slots=True)
class Found:
    """An event and the engine time at which the operator had it, UTC seconds."""

    t: float
    count: int
    """Inputs fed when it was there."""
    event: AnyEvent


@dataclass(frozen=True, slots=True)
class LeastMargin:
    """Where a limit's margin was least before contact."""

    t: float
    count: int
    range_m: float
    limit: LimitNow


class PassScan:
    """The reading of one pass.

    Parameters
    ----------
    intake : Intake
        Fresh; fed here alone.
    inputs : PassInputs

    Attributes
    ----------
    book : CheckpointBook
    events : list of Found
        In order; at most 200,000, ``dropped`` counts those beyond.
    least : dict of str to LeastMargin
        By limit's id.
    """

    def __init__(self, intake: Intake, inputs: PassInputs) -> None:
        self.run = Run(intake, inputs)
        self.book = CheckpointBook(intake)
        self.events: list[Found] = []
        self.dropped = 0
        self.least: dict[str, LeastMargin] = {}
        self._follow = TrailFeed(intake.state)
        self.trail = self._follow.trail
        self._times = array("d")
        self._sample_counts = array("q")
        self._row_counts = array("q")
        self._kept_at = (0, 0.0)
        self._judged = 0
        self.is_done = self.run.coming is None
        self._keep()

    @property
    def count(self) -> int:
        """Inputs read so far."""
        return len(self._times)

    @property
    def reach_t(self) -> float:
        """Engine time it has come to, UTC seconds; 0 before the first input."""
        return self._times[-1] if self._times else 0.0

    def read(self, most: int) -> int:
        """Read so many inputs at most; give how many it were."""
        read = 0
        while read < most and self.run.coming is not None:
            self._read_one()
            read += 1
        if self.run.coming is None:
            self.is_done = True
        return read

    def _read_one(self) -> None:
        run = self.run
        self._maybe_keep()
        self._pass_silence()
        events = run.feed()
        t = run.intake.now
        self._times.append(t)
        self._note(events)
        rows = self._follow.trail.count
        self._follow.follow(run.newest)
        if self._follow.trail.count != rows:
            self._row_counts.append(run.count)
        if isinstance(run.newest, RelativeSample) and run.intake.accepted:
            self._sample_counts.append(run.count)
        if run.intake.state.judged != self._judged:
            self._judged = run.intake.state.judged
            self._compare()

    def _pass_silence(self) -> None:
        """Let a silence pass tick by tick, so that what falls into it is known by its own time."""
        run = self.run
        if not run.count:
            return
        for _ in range(STEPS_MOST):
            now, t = run.intake.now, run.coming_t
            if t - now <= STEP_S + MICROSECOND_S:
                return
            self._note(run.pass_time(now + STEP_S))
            if run.intake.now <= now:
                return  # time comes with the samples here

    def _note(self, events: list[AnyEvent]) -> None:
        t, count = self.run.intake.now, self.run.count
        for event in events:
            if len(self.events) < EVENTS_KEPT:
                self.events.append(Found(t, count, event))
            else:
                self.dropped += 1

    def _compare(self) -> None:
        """Hold each limit's margin against the least so far."""
        run = self.run
        state = run.intake.state
        for now in state.desk.limits_now(is_stale=False):
            if now.margin is None:
                continue
            least = self.least.get(now.id)
            if least is None or least.limit.margin is None or now.margin < least.limit.margin:
                assert isinstance(run.newest, RelativeSample)
                place = LeastMargin(run.intake.now, run.count, run.newest.range_m, now)
                self.least[now.id] = place

    # -- checkpoints -----------------------------------------------------------------------

    def _maybe_keep(self) -> None:
        count, t = self._kept_at
        run = self.run
        is_due = run.count - count >= CHECKPOINT_INPUTS or run.intake.now - t >= CHECKPOINT_S
        if is_due and run.count > count:
            self._keep()

    def _keep(self) -> None:
        run = self.run
        if run.coming is None or run.coming.place is None:
            if run.count:
                return
            place = (0, 0)
        else:
            place = (0, 0) if not run.count else run.coming.place
        self.book.keep(run.count, place, run.captures, run.hooks)
        self._kept_at = (run.count, run.intake.now)

    # -- questions -------------------------------------------------------------------------

    def time_at(self, count: int) -> float:
        """Give the engine time after so many inputs, at least one."""
        return self._times[count - 1]

    def count_at(self, t: float) -> int:
        """Give how many of the inputs read are fed by an engine time."""
        return bisect_right(self._times, t)

    def sample_before(self, count: int) -> int | None:
        """Give the count at which the last sample before that count was just fed."""
        place = bisect_left(self._sample_counts, count)
        return self._sample_counts[place - 1] if place else None

    def sample_after(self, count: int) -> int | None:
        """Give the count at which the next sample after that count was just fed."""
        place = bisect_right(self._sample_counts, count)
        return self._sample_counts[place] if place < len(self._sample_counts) else None

    def rows_at(self, count: int) -> int:
        """Give how many rows the path had after so many inputs."""
        return bisect_right(self._row_counts, count)

    def count_of_row(self, row: int) -> int:
        """Give the count at which a row of the path came."""
        return self._row_counts[row]
