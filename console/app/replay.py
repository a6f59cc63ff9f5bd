"""A replay in Watch: one thread reads the pass ahead, plays it and stands where it is told to.

The window hands over what it wants and reads what is published, as in a live watch; nothing here
is recorded but the trainer's notes, which are kept beside the frames and never among them.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from pathlib import Path

from console.app.input_file import load_residuals
from console.app.pass_rules import PassRules, rules_of, watching_model
from console.app.replay_engine import ReplayEngine
from console.app.replay_inputs import inputs_of
from console.app.replay_mover import Mover
from console.app.replay_notes import NoteBook
from console.app.replay_overlay import OverlayReading
from console.app.replay_ticks import TickBook
from console.approach.action import AnyAction
from console.approach.event import AnyEvent
from console.approach.snapshot import Snapshot
from console.archive.mapping import Mapping
from console.archive.passes import read_pass
from console.archive.recorded_pass import Pass
from console.archive.replay_clock import ReplayClock
from console.core.errors import InputError
from console.envelope.limits import LimitsFile
from console.present.port import WatchStatus
from console.present.replay_place import ALLOWED, RangePlace, TimePlace, place_of
from console.present.replay_port import Overlay, ReplayNow, Tick, Way
from console.present.text import short_hash
from console.present.trail import Trail

READ_AT_ONCE = 40
"""Inputs read ahead between two looks at what is wanted: some 10 ms."""
PLAY_AT_ONCE = 60
SHOW_EVERY_S = 1.0 / 30.0
REST_S = 0.01
IDLE_S = 0.05
EVENTS_KEPT = 10_000
WANTS_KEPT = 1000
JOIN_TIMEOUT_S = 10.0
REFUSED_DEED = (
    "! a replay: what is done here changes nothing of the pass; Shift+N and K keep notes beside it"
)


def pass_name(one: Pass) -> str:
    """Name a pass for the status line."""
    damage = one.header.get("damage", "")
    return f"{one.name} ({damage})" if damage else one.name


class ReplaySession:
    """A pass being replayed; the window's :class:`~console.present.replay_port.ReplayPort`.

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
        self._wants: deque[Callable[[], None]] = deque(maxlen=WANTS_KEPT)
        self._seek_to: float | None = None
        self._events: deque[AnyEvent] = deque(maxlen=EVENTS_KEPT)
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

    # ------------------------------------------------------------------ the window's port

    @property
    def trail(self) -> Trail:
        """The path up to where it stands."""
        return self._engine.trail

    @property
    def limits(self) -> LimitsFile:
        """The limits it is judged by."""
        return self._rules.limits

    def snapshot(self) -> Snapshot | None:
        """Give what is known where it stands."""
        return self._snapshot

    def take_events(self) -> list[AnyEvent]:
        """Give and forget the events played since the last call; a seek plays none."""
        events: list[AnyEvent] = []
        while self._events:
            events.append(self._events.popleft())
        return events

    def act(self, action: AnyAction) -> None:
        """Refuse: a replay is as it was recorded."""
        self._want(lambda: self._mover.tell(REFUSED_DEED))

    def status(self) -> WatchStatus:
        """Give the status line's facts."""
        now, limits = self._now, self._rules.limits
        speed = f" {now.speed:g}×" if now.is_playing and now.speed != 1.0 else ""
        return WatchStatus(
            mode=f"Replay{speed}",
            endpoint=pass_name(self._one),
            lost=self._lost,
            rejected=self._rejected,
            limits_title=limits.title,
            limits_revision=limits.revision,
            limits_sha256=limits.sha256,
            paused=not now.is_playing,
            notice=self._notice(),
            is_replay=True,
            other_limits=now.other_limits,
        )

    def _notice(self) -> str:
        if self.failure is not None:
            return f"the replay has stopped: {self.failure}"
        return ""

    def replay(self) -> ReplayNow:
        """Give how it stands."""
        return self._now

    def ticks(self) -> tuple[Tick, ...]:
        """Give the time line's marks."""
        return self._ticks.ticks

    def overlay(self) -> Overlay | None:
        """Give the second pass."""
        return self._overlay

    # ------------------------------------------------------------------ what is wanted

    def toggle(self) -> None:
        """Play, or stand still."""
        self._want(lambda: self._mover.toggle(self._clock()))

    def play(self) -> None:
        """Play on."""
        self._want(lambda: self._mover.play(self._clock()))

    def pause(self) -> None:
        """Stand still."""
        self._want(lambda: self._pace.pause(self._clock()))

    def change_speed(self, way: Way) -> None:
        """Take the next greater or smaller speed."""
        self._want(lambda: self._mover.change_speed(way, self._clock()))

    def seek(self, t: float) -> None:
        """Stand at a time; of several wanted in a row only the last counts."""
        self._seek_to = t
        self._wake.set()

    def skip(self, seconds: float) -> None:
        """Stand so many seconds further on."""
        self._want(lambda: self._mover.go(self._mover.t + seconds))

    def step(self, way: Way) -> None:
        """Stand at the next sample, or the one before."""
        self._want(lambda: self._mover.step(way, self._clock()))

    def go_to_event(self, way: Way) -> None:
        """Stand at the next mark of the time line, or the one before."""
        self._want(lambda: self._mover.go_to_tick(way))

    def go_to_least_margin(self, way: Way) -> None:
        """Stand at the next place where a limit's margin was least."""
        self._want(lambda: self._mover.go_to_least_margin(way))

    def go_to_end(self, way: Way) -> None:
        """Stand at the begin or at the end."""
        t = self._now.t_first if way is Way.BACK else self._now.t_last
        self._want(lambda: self._mover.go(t))

    def go_to_words(self, words: str) -> str:
        """Stand at a time or range as typed; give what is wrong with it."""
        place = place_of(words, self._now.t_first)
        if place is None:
            return f"{words or 'nothing'}: give {ALLOWED}"
        if isinstance(place, TimePlace) and not self._now.t_first <= place.t <= self._t_last:
            return f"{words} is not within the pass"
        self.go_to_place(place)
        return ""

    def go_to_place(self, place: TimePlace | RangePlace) -> None:
        """Stand at a time or range."""
        if isinstance(place, TimePlace):
            self._want(lambda: self._mover.go(place.t))
        else:
            self._want(lambda: self._mover.go_to_range(place.range_m))

    def note(self, initials: str, text: str) -> None:
        """Keep a note with the pass where it stands."""
        t = self._now.t

        def keep() -> None:
            try:
                self._notes.add(t, initials, text)
            except InputError as error:
                self._mover.tell(f"! {error}")
                return
            self._ticks.set_notes(self._notes.notes)
            self._mover.tell("note kept with the pass")

        self._want(keep)

    def lay_over(self, path: str) -> None:
        """Lay a second pass over the lanes, or take it away."""
        self._want(lambda: self._begin_overlay(path))

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

    def _want(self, deed: Callable[[], None]) -> None:
        self._wants.append(deed)
        self._wake.set()

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
        if (t := self._seek_to) is not None:
            self._seek_to = None
            self._mover.go(t)
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


def session_of(
    path: Path,
    *,
    limits: Path | None = None,
    setup: Path | None = None,
    mapping: Mapping | None = None,
    speed: float = 1.0,
) -> ReplaySession:
    """Open a pass for a replay, not yet started.

    Raises
    ------
    InputError
        The pass, or a file named with it, cannot be read.
    """
    one = read_pass(path, mapping)
    try:
        return ReplaySession(one, rules_of(one, limits, setup), speed=speed)
    except InputError:
        if one.recording is not None:
            one.recording.close()
        raise
