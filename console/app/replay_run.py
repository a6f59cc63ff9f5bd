"""A run of an intake through a pass: one input after the other, forward only."""

from __future__ import annotations

import math
from collections.abc import Generator
from typing import cast

from console.app.checkpoints import Checkpoint, CheckpointBook
from console.app.replay_inputs import BEGIN, Given, PassInputs, Place, feed
from console.approach.engine_time import EngineTime
from console.approach.event import AnyEvent
from console.approach.intake import Intake
from console.archive.recording.taken import FrameTaken
from console.core.records import CaptureStatus, RelativeSample


class Run:
    """An intake on its way through a pass.

    Parameters
    ----------
    intake : Intake
    inputs : PassInputs
    is_recording : bool
        Records come as messages: what the newest was decoded to is asked of the intake.

    Attributes
    ----------
    count : int
        Inputs fed.
    captures : int
        Capture statuses among them.
    hooks : tuple of float or None
        As last told.
    """

    def __init__(
        self, intake: Intake, inputs: PassInputs, *, count: int = 0, place: Place = BEGIN
    ) -> None:
        self.intake = intake
        self._inputs = inputs
        self.count = count
        self.captures = 0
        self.hooks: tuple[float, ...] | None = None
        self.newest: object = None
        """The record of the newest input, where it was one."""
        self._given = cast("Generator[Given]", inputs.given(place))
        self._next = next(self._given, None)

    @classmethod
    def from_checkpoint(cls, kept: Checkpoint, book: CheckpointBook, inputs: PassInputs) -> Run:
        """Go on from a checkpoint."""
        run = cls(book.restored(kept), inputs, count=kept.count, place=kept.place)
        run.captures, run.hooks = kept.captures, kept.hooks
        return run

    @property
    def coming(self) -> Given | None:
        """The next input, None at the end."""
        return self._next

    @property
    def coming_t(self) -> float:
        """Engine time at which the next input is taken; infinite at the end."""
        return math.inf if self._next is None else max(self._next.t, self.intake.now)

    def feed(self) -> list[AnyEvent]:
        """Feed the next input."""
        assert self._next is not None
        item = self._next.item
        events = feed(self.intake, item)
        self.count += 1
        self._note(item)
        self._next = next(self._given, None)
        return events

    def _note(self, item: object) -> None:
        self.newest = newest = self._record_of(item)
        if isinstance(newest, CaptureStatus):
            self.captures += 1
            if newest.hooks is not None:
                self.hooks = newest.hooks

    def _record_of(self, item: object) -> object:
        if isinstance(item, RelativeSample | CaptureStatus):
            return item
        return self.intake.newest if isinstance(item, FrameTaken) else None

    def pass_time(self, t: float) -> list[AnyEvent]:
        """Let time go on to before the next input, where a clock carries it and not the samples.

        That changes no event: ticks stand where they stand, whatever steps time goes on in.
        """
        if self._inputs.mode is not EngineTime.RECEIVE or not self.count or self._next is None:
            return []
        return self.intake.advance(min(t, self.coming_t))

    def close(self) -> None:
        """Read no further."""
        self._given.close()
        self._next = None
