"""The thread behind a replay: it reads the pass ahead, plays it, and does what is wanted.

A little of each in turn, so that nothing waits long. What it publishes is replaced whole, never
changed: whoever reads it needs no lock.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from pathlib import Path

from console.app.drained import CountedQueue
from console.app.input_file import load_residuals
from console.app.pass_rules import PassRules, watching_model
from console.app.replay_engine import ReplayEngine
from console.app.replay_inputs import inputs_of
from console.app.replay_mover import Mover
from console.app.replay_notes import NoteBook
from console.app.replay_overlay import OverlayReading
from console.app.replay_ticks import TickBook
from console.approach.event import AnyEvent
from console.approach.snapshot import Snapshot
from console.archive.recorded_pass import Pass
from console.archive.replay_clock import ReplayClock
from console.core.errors import InputError
from console.present.replay_port import Overlay, ReplayNow
from console.present.text import short_hash

READ_AT_ONCE = 40
"""Inputs read ahead between two looks at what is wanted: some 10 ms."""
PLAY_AT_ONCE = 60
SHOW_EVERY_S = 1.0 / 30.0
REST_S = 0.01
IDLE_S = 0.05
EVENTS_KEPT = 10_000
WANTS_KEPT = 1000
JOIN_TIMEOUT_S = 10.0


class ReplayWorker:
    """A pass being replayed, on a thread of its own.

    Parameters
    ----------
    one : Pass
        Its recording is closed at the end.
    rules : PassRules
        By which it is judged.
    clock : callable
        Seconds that only go forward.
    speed : float
        To begin with.

    Raises
    ------
    InputError
        There is nothing in it to replay.
    """

    def __init__(
        self,
        one: Pass,
        rules: PassRules,
        *,
        clock: Callable[[], float] = time.monotonic,
        speed: float = 1.0,
    ) -> None:
        self._one = one
        self._rules = rules
        self._clock = clock
        inputs = inputs_of(one)
        if inputs.t_first is None or inputs.t_last is None:
            raise InputError.of(one.name, "", "no sample and no message in it", "give another")
        self._t_last = inputs.t_last
        self._engine = ReplayEngine(watching_model(one, rules, load_residuals()), inputs)
        self._pace = ReplayClock(inputs.t_first, speed)
        self._ticks = TickBook(self._engine.scan)
        self._notes = NoteBook(one.path)
        self._mover = Mover(self._engine, self._pace, self._ticks, inputs.t_first)
        self._wants: CountedQueue[Callable[[], None]] = CountedQueue(WANTS_KEPT)
        self._seeks: deque[float] = deque(maxlen=1)
        self._events: CountedQueue[AnyEvent] = CountedQueue(EVENTS_KEPT)
        self._overlay: Overlay | None = None
        self._second: OverlayReading | None = None
        self._snapshot: Snapshot | None = None
        self._shown_s = 0.0
        self._wake = threading.Event()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._work, name="replay", daemon=True)
        self.failure: BaseException | None = None
        self._engine.scan.read(1)
        self._mover.go(inputs.t_first)
        self._read_notes()
        self._show()

    def start(self) -> None:
        """Begin to read ahead and to obey."""
        self._thread.start()

    def stop(self) -> None:
        """End; nothing can be asked for afterwards."""
        self._stop.set()
        self._wake.set()
        if self._thread.is_alive():
            self._thread.join(JOIN_TIMEOUT_S)
        elif not self._thread.ident:
            self._end()

    def _want(self, deed: Callable[[], None]) -> None:
        self._wants.append(deed)
        self._wake.set()

    def _begin_overlay(self, path: str) -> None:
        self._overlay = None
        self._end_overlay()
        if not path:
            self._mover.tell("no second pass is laid over")
            return
        try:
            self._second = OverlayReading(Path(path))
        except InputError as error:
            self._mover.tell(f"! {error}")
            return
        self._mover.tell(f"reading {self._second.name} to lay it over")

    def _read_overlay(self) -> bool:
        """Read on in a second pass that is to be laid over; tell whether it is there now."""
        if self._second is None or not self._second.read(READ_AT_ONCE):
            return False
        try:
            self._overlay = self._second.made()
            self._mover.tell(f"laid over: {self._second.name}")
        except InputError as error:
            self._mover.tell(f"! {error}")
        self._end_overlay()
        return True

    def _end_overlay(self) -> None:
        if self._second is not None:
            self._second.close()
            self._second = None

    # ------------------------------------------------------------------ the thread

    def _work(self) -> None:
        try:
            while not self._stop.is_set():
                wait_s = self.turn()
                if wait_s > 0.0 and self._wake.wait(wait_s):
                    self._wake.clear()
        except Exception as error:
            self.failure = error
        finally:
            self._end()

    def _end(self) -> None:
        self._engine.close()
        self._end_overlay()
        if self._one.recording is not None:
            self._one.recording.close()

    def turn(self) -> float:
        """Do what is wanted and due, a little at a time; give the seconds there is nothing to do.

        The thread calls it again and again; a test may do so in its place.
        """
        obeyed = self._obey()
        self._events.extend(self._mover.play_on(self._clock(), PLAY_AT_ONCE))
        scan = self._engine.scan
        if not scan.is_done:
            scan.read(READ_AT_ONCE)
            obeyed |= self._mover.go_on()
        obeyed |= self._read_overlay()
        self._ticks.renew()
        if obeyed or self._clock() - self._shown_s >= SHOW_EVERY_S:
            self._show()
        if not scan.is_done or self._mover.is_behind or self._second is not None:
            return 0.0
        return REST_S if self._pace.is_playing else IDLE_S

    def _obey(self) -> bool:
        obeyed = False
        while self._wants:
            self._wants.popleft()()
            obeyed = True
        while self._seeks:
            self._mover.go(self._seeks.popleft())
            obeyed = True
        return obeyed

    def _show(self) -> None:
        """Publish how it stands; a snapshot is made only where something moved."""
        self._shown_s = self._clock()
        engine, mover = self._engine, self._mover
        if mover.has_moved:
            mover.has_moved = False
            self._snapshot = engine.snapshot()
        snapshot, scan = self._snapshot, engine.scan
        total = engine.state.sequence.total()
        self._lost, self._rejected = total.lost, sum(engine.state.rejects.values())
        range_m = None
        if snapshot is not None and snapshot.contact_t is None and snapshot.estimate is not None:
            range_m = snapshot.estimate.range_m
        self._t_last = scan.reach_t if scan.is_done else max(self._t_last, scan.reach_t)
        self._now = ReplayNow(
            t_first=mover.t_first,
            t_last=self._t_last,
            t=min(mover.t, self._t_last),
            range_m=range_m,
            is_playing=self._pace.is_playing,
            speed=self._pace.speed,
            read_t=self._t_last if scan.is_done else scan.reach_t,
            wanted_t=mover.wanted_t,
            other_limits=other_limits_words(self._rules),
            told=mover.told,
            told_count=mover.told_count,
        )

    def _read_notes(self) -> None:
        try:
            self._notes.read()
        except InputError as error:
            self._mover.tell(f"! {error}")
        self._ticks.set_notes(self._notes.notes)


def other_limits_words(rules: PassRules) -> str:
    """Name the limits a pass was watched under where it is replayed under others."""
    own = rules.watched
    if own is None:
        return ""
    return f"watched under {own.title} r{own.revision} {short_hash(own.sha256)}"
