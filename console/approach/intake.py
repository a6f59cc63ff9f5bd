"""The one door to the state model: frames, table records and actions in, events out.

Live, replay, headless scoring and the bench all hand their inputs in here, so decoding, counting
of what is no good, sequence numbers and ticks are done once, the same way.

Engine time is the receive time on a live link at speed 1 and in its replay; for tables, and for
any run at another speed, it is the newest ``t``. Ticks stand at whole multiples of 0.1 s of
engine time, and all that are due are fed before the next input, so they follow from the inputs
alone.

Ticks find what the mere passing of time changes: data that grows stale and is lost, a source that
gives way, a phase. Once all is lost, ``lost_after_s`` after the newest input, there is nothing
more to find but what has a time of its own, such as the end of a shelving or a step overdue: from
then on ticks are left out until the next input, but for the ticks of those. That changes no event,
whether time goes on in small steps, as live, or in one, as in a replay, and a gap of years costs
nothing.
"""

from __future__ import annotations

import math

from console.approach.action import AnyAction
from console.approach.engine_time import EngineTime
from console.approach.event import AnyEvent
from console.approach.roll import SOURCES_AT_MOST, SourceRoll
from console.approach.state import StateModel
from console.core.errors import WireError
from console.core.records import CaptureStatus, Frame, Heartbeat, Record, RelativeSample
from console.core.units import MICROSECOND_S
from console.wire.decode import decode
from console.wire.reason import Reason, rejected
from console.wire.sequence import Arrival, ArrivalKind
from console.wire.topic import Kind, kind_of

TICKS_PER_S = 10
DUPLICATE, RESTART = ArrivalKind.DUPLICATE, ArrivalKind.RESTART
AFTER_LOST_S = 1.0
"""Ticks go on so long after all is lost; one would do."""


class Intake:
    """Feeds a state model and counts what never reaches it.

    Parameters
    ----------
    state : StateModel
        Fed with valid records, actions and ticks.
    mode : EngineTime
        What carries engine time forward.
    """

    def __init__(self, state: StateModel, mode: EngineTime) -> None:
        self.state = state
        self.mode = mode
        self._by_receipt = mode is EngineTime.RECEIVE
        self._sequence = state.sequence
        self._roll = SourceRoll(state.named_sources)
        self._engine_s: float | None = None
        self._next_tick = 0
        self._newest_input_s = 0.0
        self._awake_s = state.limits.data.lost_after_s + AFTER_LOST_S
        self.newest: Record | WireError | None = None
        """What the newest frame was decoded to, for whoever records it."""
        self.accepted = False
        """Whether the newest record reached the state model: it was no duplicate."""
        self.moved: Kind | None = None
        """The kind whose counter the newest record moved forward; None where it moved none."""

    def frame(self, frame: Frame) -> list[AnyEvent]:
        """Take a message off the link; one that does not validate is counted, not raised."""
        events: list[AnyEvent] = []
        self.moved = None
        if self._by_receipt:
            events += self._reach(frame.t_received_s)
        try:
            record = decode(frame.topic, frame.payload)
            self._check_source(record)
        except WireError as error:
            self.newest = error
            self.accepted = False
            self.reject(error.reason)
            return events
        self.newest = record
        return events + self._take(record)

    def record(self, record: Record) -> list[AnyEvent]:
        """Take a record that was validated elsewhere, such as a table's row."""
        try:
            self._check_source(record)
        except WireError as error:
            self.accepted = False
            self.reject(error.reason)
            return []
        return self._take(record)

    def _check_source(self, record: Record) -> None:
        """Raise :class:`WireError` for a source beyond the number that is followed."""
        if not self._roll.takes(record.source, keeps_place=not isinstance(record, Heartbeat)):
            raise rejected(Reason.SOURCES, f"{record.source}: {SOURCES_AT_MOST} are followed")

    def reject(self, reason: str, count: int = 1) -> None:
        """Count messages or rows that did not validate."""
        self.state.rejects[reason] += count

    def action(self, engine_s: float, action: AnyAction) -> list[AnyEvent]:
        """Take what the operator did at an engine time."""
        events = self._reach(engine_s)
        return events + self.state.act(action, self.now)

    def advance(self, engine_s: float) -> list[AnyEvent]:
        """Move engine time forward and feed the ticks due; time never runs backwards."""
        if self._engine_s is None:
            self._engine_s = self._newest_input_s = engine_s
            self._next_tick = math.floor(engine_s * TICKS_PER_S) + 1
            return []
        if engine_s <= self._engine_s:
            return []
        events: list[AnyEvent] = []
        self._engine_s = engine_s
        last_tick = math.floor((engine_s + MICROSECOND_S) * TICKS_PER_S)
        awake_until = math.ceil((self._newest_input_s + self._awake_s) * TICKS_PER_S)
        while self._next_tick <= min(last_tick, awake_until):
            events += self.state.tick(self._next_tick / TICKS_PER_S)
            self._next_tick += 1
        events += self._tick_for_timers(last_tick)
        self._next_tick = last_tick + 1
        self.state.pass_time(engine_s)
        return events

    def _tick_for_timers(self, last_tick: int) -> list[AnyEvent]:
        """Feed the ticks at which time alone changes something though all data is lost."""
        events: list[AnyEvent] = []
        while self._next_tick <= last_tick:
            timer_s = self.state.next_timer_s()
            if timer_s is None:
                break
            due_tick = math.ceil((timer_s - MICROSECOND_S) * TICKS_PER_S)
            tick = max(due_tick, self._next_tick)
            if tick > last_tick:
                break
            events += self.state.tick(tick / TICKS_PER_S)
            self._next_tick = tick + 1
        return events

    def _reach(self, engine_s: float) -> list[AnyEvent]:
        """Move engine time forward to an input's."""
        events = self.advance(engine_s)
        self._newest_input_s = self.now
        return events

    @property
    def now(self) -> float:
        """Engine time, 0 before the first input."""
        return 0.0 if self._engine_s is None else self._engine_s

    def _take(self, record: Record) -> list[AnyEvent]:
        events: list[AnyEvent] = []
        if not self._by_receipt:
            events += self._reach(record.t)
        engine_s = self.now
        self.moved = None
        self.accepted = not isinstance(record, Heartbeat)
        if isinstance(record, Heartbeat):
            missing = self._sequence.heartbeat(record)
            if missing:
                self.moved = self._sequence.spoken_for(record.source)
                events += self.state.note_lost(
                    record.source, record.last_seq - missing + 1, missing, engine_s
                )
            return events
        arrival = self._sequence.accept(record)
        if arrival.kind is DUPLICATE:
            self.accepted = False
            return events
        if arrival.kind is not ArrivalKind.LATE:
            self.moved = kind_of(record)
        events += self._note_arrival(record, arrival, engine_s)
        if isinstance(record, RelativeSample):
            if self._by_receipt:
                record = self.state.leaps.checked(record, engine_s)
            return events + self.state.take_sample(record, engine_s)
        is_late = arrival.kind is ArrivalKind.LATE
        return events + self.state.take_capture(record, engine_s, is_late=is_late)

    def _note_arrival(
        self, record: RelativeSample | CaptureStatus, arrival: Arrival, engine_s: float
    ) -> list[AnyEvent]:
        if arrival.kind is RESTART:
            return self.state.note_restart(record.source, record.seq, engine_s)
        if arrival.lost:
            return self.state.note_lost(
                record.source, arrival.first_lost_seq, arrival.lost, engine_s
            )
        return []
