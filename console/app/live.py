"""A live watch: one thread receives and records, another decodes and feeds the state model.

The receive thread alone decides the order of things: it stamps each frame, hands it to the
recorder and to a bounded queue, and puts a moment into the queue after each poll. The engine
thread takes the queue in order, so engine time never runs ahead of a frame still to come, and a
replay of the recording sees exactly what the engine saw. The window only reads.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Protocol

import msgspec

from console.app.arrival_rate import ArrivalRate
from console.app.drained import CountedQueue, drained
from console.app.fair_queue import FairQueue
from console.app.own_drops import Before, OwnDrops
from console.app.pace import Pace
from console.app.thread_start import start_thread
from console.app.trail_feed import TrailFeed
from console.approach.action import AnyAction
from console.approach.engine_time import EngineTime
from console.approach.event import AnyEvent
from console.approach.intake import Intake
from console.approach.snapshot import Snapshot
from console.approach.state import StateModel
from console.archive.recording.recorder import Recorder
from console.archive.recording.status import RecorderState
from console.core.errors import InputError, WireError
from console.core.records import Frame
from console.envelope.limits import LimitsFile
from console.present.port import WatchStatus
from console.present.trail import Trail

QUEUE_FRAMES = 100_000
QUEUE_FRAMES_A_TOPIC = 10_000
"""About a second's work: what is shown under a flood is not older than that."""
EVENTS_KEPT = 10_000
ACTIONS_KEPT = 1000
POLL_S = 0.02
LEAST_WAIT_S = 0.001
IDLE_MARK_S = 1.0
OTHERS, MOMENTS = b"", b"\x00moments"
"""Shares of the queue: topics of no source that is followed; the receive thread's own word."""
FED_AT_ONCE = 100
"""So many inputs at most between two looks at actions and the snapshot's time."""
JOIN_TIMEOUT_S = 10.0
CLOSE_TIMEOUT_S = 30.0
"""Longer than a recorder waits for a slow disk in the end."""

_encode = msgspec.json.Encoder(order="deterministic").encode


class FrameSource(Protocol):
    """Where frames come from: a subscriber, or a fake in tests."""

    def poll(self, timeout_s: float) -> list[Frame]:
        """Wait at most so long; give what came, stamped with its receive time."""
        ...

    def trouble(self) -> str:
        """Say what is wrong with the link itself, empty where nothing is."""
        ...

    def cuts(self) -> int:
        """Count how often a link that stood was cut."""
        ...

    def given_up(self) -> int:
        """Count the messages that were given up because more came than could be taken."""
        ...

    def close(self) -> None:
        """Stop receiving."""
        ...


class ActingCrew(Protocol):
    """People who act by themselves on what happens: those of a demo."""

    def note(self, event: AnyEvent, engine_s: float) -> None:
        """Hear what happened, on the engine thread."""
        ...

    def due(self, engine_s: float) -> list[AnyAction]:
        """Give what they do by now."""
        ...


@dataclass(frozen=True, slots=True)
class _Numbered:
    """A frame with its number in the recording (0 where none is made)."""

    number: int
    frame: Frame
    dropped: Before
    """Messages dropped so far whose absence it may show."""


@dataclass(frozen=True, slots=True)
class _Moment:
    """The receive thread's word that everything before this time has been handed over."""

    engine_s: float


class LiveWatch:
    """A running watch over a frame source; the window's port to it.

    Parameters
    ----------
    state : StateModel
        Fresh.
    source : FrameSource
        Closed at the end.
    clock : callable
        The clock frames are stamped with.
    engine_time : EngineTime
        What carries engine time: receive time at speed 1, newest ``t`` otherwise.
    recorder : Recorder or None
        Closed at the end.
    status : WatchStatus
        Mode, endpoint and limits for the status line; counts are filled in.
    on_event : callable, optional
        Told of each event as it comes, on the engine thread.
    crew : ActingCrew, optional
        People of a demo, whose actions are fed and recorded like the operator's.
    """

    def __init__(
        self,
        state: StateModel,
        source: FrameSource,
        *,
        clock: Callable[[], float],
        engine_time: EngineTime,
        recorder: Recorder | None,
        status: WatchStatus,
        on_event: Callable[[AnyEvent], None] | None = None,
        crew: ActingCrew | None = None,
    ) -> None:
        self._intake = Intake(state, engine_time)
        self._state = state
        self._source = source
        self._clock = clock
        self._recorder = recorder
        self._status = status
        self._on_event = on_event
        self._crew = crew
        self._queue: FairQueue[_Numbered | _Moment] = FairQueue(QUEUE_FRAMES, QUEUE_FRAMES_A_TOPIC)
        self._known_topics: set[bytes] = set()
        """Of sources that are followed; each has its share of the queue."""
        self._actions: CountedQueue[AnyAction] = CountedQueue(ACTIONS_KEPT)
        self._events: CountedQueue[AnyEvent] = CountedQueue(EVENTS_KEPT)
        self._trail = TrailFeed(state)
        self._snapshot: Snapshot | None = None
        self._pace = Pace()
        self._tell_new: Callable[[], None] | None = None
        self._newest_number = 0
        self._idle_since_s = 0.0
        self._overflowed = 0
        self._own_drops = OwnDrops()
        self._lost = 0
        self._rejected = 0
        self._arrivals = ArrivalRate()
        self._taken_s = 0.0
        """Receive time up to which the engine has taken what came."""
        self._stop = threading.Event()
        self._receiving = threading.Thread(target=self._receive, name="receive", daemon=True)
        self._engine = threading.Thread(target=self._feed, name="engine", daemon=True)
        self.failure: BaseException | None = None

    def start(self) -> None:
        """Begin to receive and feed.

        Raises
        ------
        InputError
            The system gives no more threads; whatever ran is stopped, the recording closed.
        """
        try:
            for thread in (self._receiving, self._engine):
                start_thread(thread, "the watch")
        except InputError:
            self._stop_half_started()
            raise

    def stop(self) -> None:
        """Stop receiving, feed what was received, end the recording."""
        self._stop.set()
        if self._receiving.is_alive():
            self._receiving.join(JOIN_TIMEOUT_S)
        waiting = self._queue.qsize() + 1
        while self._engine.is_alive() and self._queue.qsize() < waiting:
            # a long queue may take longer: what was received is fed as long as it gets shorter
            waiting = self._queue.qsize()
            self._engine.join(JOIN_TIMEOUT_S)
        if self._engine.is_alive():
            self._engine.join(CLOSE_TIMEOUT_S)

    def _stop_half_started(self) -> None:
        self._stop.set()
        if self._receiving.is_alive():
            self._receiving.join(JOIN_TIMEOUT_S)
        else:
            self._source.close()
        if self._recorder is not None:
            self._recorder.close()

    # ------------------------------------------------------------------ the window's port

    @property
    def trail(self) -> Trail:
        """The past path for the plots."""
        return self._trail.trail

    @property
    def limits(self) -> LimitsFile:
        """The limits file in force."""
        return self._state.limits

    def snapshot(self) -> Snapshot | None:
        """Give the newest snapshot."""
        return self._snapshot

    def when_new(self, tell: Callable[[], None]) -> None:
        """Call ``tell`` after each new snapshot, on the engine thread; it must return at once."""
        self._tell_new = tell

    def take_events(self) -> list[AnyEvent]:
        """Give and forget the events since the last call."""
        return drained(self._events)

    def act(self, action: AnyAction) -> None:
        """Hand an operator's action to the engine thread."""
        self._actions.append(action)

    def status(self) -> WatchStatus:
        """Give how link and recording do."""
        now = self._clock()
        return replace(
            self._with_recording(self._status),
            samples_per_s=None if self._snapshot is None else self._arrivals.per_s(now),
            lost=self._lost,
            overflowed=self._overflowed,
            rejected=self._rejected,
            behind_s=self._behind_s(now),
            link_cuts=self._source.cuts(),
            link_given_up=self._source.given_up(),
            events_dropped=self._events.dropped,
            deeds_dropped=self._actions.dropped,
            notice=self._notice(),
        )

    def _behind_s(self, now: float) -> float:
        """Tell how old the newest is that the engine has taken of what was received."""
        if self._taken_s == 0.0 or self._queue.empty():
            return 0.0
        return max(0.0, now - self._taken_s)

    def _notice(self) -> str:
        """Say the one thing about the watch itself that must be read."""
        if self.failure is not None:
            goes_on = ", the recording goes on" if self._receiving.is_alive() else ""
            return f"the watch has stopped: {self.failure}{goes_on}"
        return self._source.trouble()

    def _with_recording(self, status: WatchStatus) -> WatchStatus:
        if self._recorder is None:
            return replace(status, not_recording_because="not asked for")
        recorder = self._recorder.status()
        return replace(
            status,
            recording=None if recorder.state is RecorderState.STOPPED else recorder.path.name,
            not_recording_because=recorder.reason,
            recording_moved_because=recorder.moved_because,
            unrecorded=recorder.lost_frames,
            unrecorded_rows=recorder.lost_rows,
        )

    # ------------------------------------------------------------------ receive thread

    def _receive(self) -> None:
        try:
            while not self._stop.is_set():
                for frame in self._source.poll(POLL_S):
                    self._hand_over(frame)
                self._queue.put(_Moment(self._clock()), MOMENTS)
        except Exception as error:
            self.failure = error
        finally:
            self._source.close()

    def _hand_over(self, frame: Frame) -> None:
        number = 0 if self._recorder is None else self._recorder.frame(frame)
        self._arrivals.note(frame.t_received_s)
        share = frame.topic if frame.topic in self._known_topics else OTHERS
        item = _Numbered(number, frame, self._own_drops.before(frame.topic))
        if not self._queue.put(item, share):
            self._overflowed += 1
            if share is not OTHERS:
                self._own_drops.drop(frame.topic)
            if self._recorder is not None:
                self._recorder.not_fed(number)

    # ------------------------------------------------------------------ engine thread

    def _feed(self) -> None:
        try:
            while self._receiving.is_alive() or not self._queue.empty():
                self._feed_some()
            self._finish()
        except Exception as error:
            self.failure = error
            self._only_record()
        finally:
            if self._recorder is not None:
                self._recorder.close()

    def _only_record(self) -> None:
        """Take what comes for the recording alone: a defect in judging must not end that too."""
        while self._receiving.is_alive() or not self._queue.empty():
            try:
                item = self._queue.get(POLL_S * 2)
            except queue.Empty:
                continue
            if isinstance(item, _Numbered) and self._recorder is not None:
                self._recorder.not_fed(item.number)

    def _feed_some(self) -> None:
        try:
            # no longer than a snapshot that is due can wait
            wait_s = min(POLL_S * 2, max(self._pace.left_s(self._clock()), LEAST_WAIT_S))
            self._take(self._queue.get(wait_s))
            self._let_crew_act()
            for _ in range(FED_AT_ONCE):
                self._take(self._queue.get())
                self._let_crew_act()
        except queue.Empty:
            pass
        if self._intake.now > 0.0 or self._intake.mode is EngineTime.RECEIVE:
            self._do_actions()
        self._draw()

    def _take(self, item: _Numbered | _Moment) -> None:
        if isinstance(item, _Moment):
            self._taken_s = item.engine_s
            self._idle(item.engine_s)
            return
        self._pace.note_news()
        self._taken_s = item.frame.t_received_s
        self._newest_number = item.number
        self._idle_since_s = item.frame.t_received_s
        events = self._intake.frame(item.frame)
        if item.dropped:
            moved = self._intake.moved
            self._own_drops.hold_against(item.frame.topic, item.dropped, moved, events)
        self._publish(events)
        if self._intake.accepted:
            self._known_topics.add(item.frame.topic)
        self._trail.follow(self._intake.newest)
        if self._recorder is not None:
            self._record_decoded(self._recorder, item)

    def _record_decoded(self, recorder: Recorder, item: _Numbered) -> None:
        newest = self._intake.newest
        if isinstance(newest, WireError):
            payload = item.frame.payload
            recorder.reject(
                item.frame.t_received_s, newest.reason, newest.detail, payload, item.number
            )
        elif newest is not None:
            recorder.sample(newest, item.number)

    def _idle(self, engine_s: float) -> None:
        """Let engine time follow the clock while nothing comes (a table's time does not)."""
        if self._intake.mode is not EngineTime.RECEIVE or self._intake.now == 0.0:
            return
        events = self._intake.advance(engine_s)
        is_due = bool(events) or engine_s - self._idle_since_s >= IDLE_MARK_S
        if self._recorder is not None and is_due:
            # before the events: whoever finds them in the file finds the time that made them
            self._idle_since_s = engine_s
            self._recorder.tick_end(engine_s, self._newest_number)
        self._publish(events)

    def _do_actions(self) -> None:
        """Feed what the operator did; before anything was received it is timed by the clock."""
        while self._actions:
            self._do(self._actions.popleft())

    def _let_crew_act(self) -> None:
        if self._crew is not None:
            for action in self._crew.due(self._intake.now):
                self._do(action)

    def _do(self, action: AnyAction) -> None:
        engine_s = self._intake.now or self._clock()
        if self._recorder is not None:
            self._recorder.action(engine_s, action, self._newest_number)
        self._publish(self._intake.action(engine_s, action))

    def _publish(self, events: list[AnyEvent]) -> None:
        if events:
            self._pace.note_news()
        for event in events:
            if self._recorder is not None:
                self._recorder.event(_encode(event), self._newest_number)
            self._events.append(event)
            if self._crew is not None:
                self._crew.note(event, self._intake.now)
            if self._on_event is not None:
                self._on_event(event)

    def _draw(self) -> None:
        now = self._clock()
        self._pace.note_behind(self._behind_s(now))
        if self._pace.left_s(now) > 0.0:
            return
        self._pace.note_made(now)
        if self._intake.now > 0.0:
            self._show()

    def _show(self) -> None:
        self._state.overflowed = self._overflowed
        # taken back where one comes late after all, which none dropped here does
        self._lost = max(self._state.sequence.total().lost - self._own_drops.explained, 0)
        self._rejected = sum(self._state.rejects.values())
        self._snapshot = self._state.snapshot()
        if self._tell_new is not None:
            self._tell_new()

    def _finish(self) -> None:
        self._do_actions()
        if self._recorder is not None:
            self._recorder.tick_end(self._intake.now, self._newest_number)
        if self._intake.now > 0.0:
            self._show()
