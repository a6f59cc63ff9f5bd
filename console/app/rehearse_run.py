"""A rehearsal under way: the live watch over a feed of its own, masked for the trainee."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from console.app.around import Around
from console.app.clock import SystemClock
from console.app.demo import PORT, VEHICLE
from console.app.rehearse_feed import RehearsalFeed
from console.app.rehearse_stage import Staged
from console.app.watching import Assembled, WatchOrder, assemble
from console.archive.places import new_recording_path
from console.envelope.limits import LimitsFile
from console.envelope.setup import Setup
from console.present.port import WatchPort
from console.present.rehearse_keys import CallKey, MarkChoice, marks_of, seen_keys
from console.present.rehearse_mask import MODE, MaskedPort
from console.rehearsal.exercise import Hidden
from console.rehearsal.review import kept


@dataclass(frozen=True, slots=True)
class RunOrder:
    """What a rehearsal is run with.

    Attributes
    ----------
    trainee : str
        Initials.
    limits, setup, around : LimitsFile, Setup, Around
        In force.
    record : Path or None
        Where to; None for a new file in the user's data folder.
    """

    trainee: str
    limits: LimitsFile
    setup: Setup
    around: Around
    record: Path | None = None


class Rehearsal:
    """A running rehearsal; implements what the view asks of one.

    Parameters
    ----------
    staged : Staged
        Ready to play.
    order : RunOrder
    clock : callable, optional
        For tests; by default the approach's own clock at speed 1, else the wall clock.
    """

    def __init__(
        self, staged: Staged, order: RunOrder, clock: Callable[[], float] | None = None
    ) -> None:
        speed = staged.exercise.speed
        begin_s = staged.messages[0].t_publish_s if speed == 1.0 else None
        self._clock = SystemClock(begin_s)
        self._is_started = False
        self._limits = order.limits
        self._staged = staged
        self.trainee = order.trainee
        self.hidden: frozenset[Hidden] = staged.exercise.hidden
        time_source = clock or self._clock
        self._feed = RehearsalFeed(staged.messages, time_source, speed)
        self._assembled = self._assemble(order, time_source)
        self.port: WatchPort = MaskedPort(self._assembled.watch, self.hidden)

    def _assemble(self, order: RunOrder, clock: Callable[[], float]) -> Assembled:
        exercise = self._staged.exercise
        begun_s = time.time()
        path = order.record or new_recording_path(begun_s, f"rehearsal {order.trainee}")
        watch_order = WatchOrder(
            mode=MODE,
            endpoints=(),
            limits=order.limits,
            setup=order.setup,
            speed=exercise.speed,
            record=path,
            vehicle=VEHICLE,
            title=f"Rehearsal of {order.trainee}: {exercise.title}",
            port=PORT,
            around=order.around,
            more=kept(exercise, order.trainee, self._staged.truth, begun_s),
        )
        return assemble(watch_order, self._feed, clock)

    def start(self) -> None:
        """Begin to play."""
        self._is_started = True
        self._assembled.watch.start()
        self._clock.start()
        self._feed.begin()

    @property
    def marks(self) -> MarkChoice:
        """The marks ahead at the start."""
        path = self._staged.truth.path
        return marks_of(self._limits, path[0][1] if path else None)

    @property
    def seen_keys(self) -> tuple[CallKey, ...]:
        """A key for each kind of exceedance."""
        return seen_keys(self._limits)

    @property
    def path(self) -> Path:
        """Where it is recorded."""
        return self._assembled.recorder.path

    @property
    def is_over(self) -> bool:
        """Whether everything was played, or the watch broke off."""
        return self._feed.is_done or self._assembled.watch.failure is not None

    def stop(self) -> Path:
        """End it; what was received is fed and the recording closed."""
        if not self._is_started:
            self._assembled.watch.start()  # its thread is what closes the recording
        self._assembled.watch.stop()
        return self.path
