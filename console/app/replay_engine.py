"""A pass that can be stood in anywhere: the state there is the one that playing through gives."""

from __future__ import annotations

from console.app.replay_inputs import PassInputs
from console.app.replay_run import Run
from console.app.replay_scan import PassScan
from console.approach.event import AnyEvent
from console.approach.intake import Intake
from console.approach.snapshot import Snapshot
from console.approach.state import StateModel
from console.present.shown_trail import ShownTrail


class ReplayEngine:
    """A scan of a pass and a place in it.

    Parameters
    ----------
    state : StateModel
        Fresh, built as the watch's own was.
    inputs : PassInputs

    Notes
    -----
    No thread and no clock: whoever drives it reads on with ``scan`` and moves with ``seek_*`` and
    ``play_to``. It never goes beyond what was read.
    """

    def __init__(self, state: StateModel, inputs: PassInputs) -> None:
        self._inputs = inputs
        self.scan = PassScan(Intake(state, inputs.mode), inputs)
        self.trail = ShownTrail(self.scan.trail)
        book = self.scan.book
        self._run = Run.from_checkpoint(book.before(0), book, inputs)

    # -- where it stands -------------------------------------------------------------------

    @property
    def count(self) -> int:
        """Inputs fed."""
        return self._run.count

    @property
    def now(self) -> float:
        """Engine time, UTC seconds; 0 before the first input."""
        return self._run.intake.now

    @property
    def state(self) -> StateModel:
        """The state model as it stands here; not to be fed."""
        return self._run.intake.state

    @property
    def is_at_end(self) -> bool:
        """Whether every input is fed."""
        return self.scan.is_done and self._run.count >= self.scan.count

    def snapshot(self) -> Snapshot | None:
        """Give what is known here; None before the first input."""
        return self.state.snapshot() if self._run.count else None

    # -- moving ----------------------------------------------------------------------------

    def seek_count(self, count: int) -> None:
        """Stand right after so many inputs, those read so far at most."""
        count = min(max(count, 0), self.scan.count)
        kept = self.scan.book.before(count)
        is_behind = count < self._run.count or (count == self._run.count and self._has_waited())
        if is_behind or kept.count > self._run.count:
            self._run.close()
            self._run = Run.from_checkpoint(kept, self.scan.book, self._inputs)
            self.trail.generation += 1
        while self._run.count < count:
            self._run.feed()
        self._show()

    def seek_time(self, t: float) -> None:
        """Stand at an engine time, with all that was taken by then."""
        count = max(self.scan.count_at(t), min(self.scan.count, 1))
        if count != self._run.count or t < self.now:
            self.seek_count(count)
        self._run.pass_time(t)

    def play_to(self, t: float, most: int) -> tuple[list[AnyEvent], bool]:
        """Go on to an engine time; give what was found, and whether it was reached.

        Parameters
        ----------
        most : int
            Feed so many inputs at most.
        """
        events: list[AnyEvent] = []
        run, fed = self._run, 0
        while run.coming_t <= t and run.count < self.scan.count:
            if fed >= most:
                self._show()
                return events, False
            events += run.feed()
            fed += 1
        if run.count < self.scan.count:
            events += run.pass_time(t)
        self._show()
        return events, True

    def close(self) -> None:
        """Read no further."""
        self._run.close()
        self.scan.run.close()

    def _has_waited(self) -> bool:
        """Whether time has gone on since the newest input."""
        return self._run.count > 0 and self.now > self.scan.time_at(self._run.count)

    def _show(self) -> None:
        rows = self.scan.rows_at(self._run.count)
        self.trail.show(rows, self._run.captures, self._run.hooks)
