"""A replay in Watch: the window's port to it.

The window hands over what it wants and reads what is published, as in a live watch; nothing here
is recorded but the trainer's notes, which are kept beside the frames and never among them.
"""

from __future__ import annotations

from pathlib import Path

from console.app.drained import drained
from console.app.pass_rules import rules_of
from console.app.replay_worker import ReplayWorker
from console.approach.action import AnyAction
from console.approach.event import AnyEvent
from console.approach.snapshot import Snapshot
from console.archive.mapping import Mapping
from console.archive.passes import read_pass
from console.archive.recorded_pass import Pass
from console.core.errors import InputError
from console.envelope.limits import LimitsFile
from console.present.port import WatchStatus
from console.present.replay_place import ALLOWED, RangePlace, TimePlace, place_of
from console.present.replay_port import Overlay, ReplayNow, Tick, Way
from console.present.trail import Trail

REFUSED_DEED = (
    "! a replay: what is done here changes nothing of the pass; Shift+N and K keep notes beside it"
)


def pass_name(one: Pass) -> str:
    """Name a pass for the status line."""
    damage = one.header.get("damage", "")
    return f"{one.name} ({damage})" if damage else one.name


class ReplaySession(ReplayWorker):
    """The window's :class:`~console.present.replay_port.ReplayPort` to a pass being replayed."""

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
        return drained(self._events)

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
            events_dropped=self._events.dropped + self._engine.scan.dropped,
            deeds_dropped=self._wants.dropped,
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
        self._seeks.append(t)
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
