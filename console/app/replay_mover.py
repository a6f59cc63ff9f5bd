"""Moves a replay about: plays it by the clock, stands it where it was told to, says what was done.

A place that was not read yet is kept as wanted until the reading has come to it.
"""

from __future__ import annotations

import math

from console.app.replay_engine import ReplayEngine
from console.app.replay_scan import LeastMargin
from console.app.replay_ticks import TickBook
from console.approach.event import AnyEvent
from console.approach.words import DECIMALS, LABEL
from console.archive.replay_clock import ReplayClock
from console.core.units import MICROSECOND_S
from console.envelope.quantity import UNIT
from console.present import text
from console.present.replay_port import Way
from console.present.trail import Channel

BEHIND_S = 0.5
"""Played so much too late, wall seconds, the clock waits for the engine."""
ROWS_AT_ONCE = 65_536


class Mover:
    """Where a replay stands, and how it gets elsewhere.

    Attributes
    ----------
    t : float
        Where it stands, UTC seconds.
    wanted_t : float or None
        Where it waits to get to; infinite for a range that was not found so far.
    told : str
        What was last done, or refused.
    has_moved : bool
        Set by every move, for who shows it to take back.
    is_behind : bool
        What is due is not all played yet.
    """

    def __init__(
        self, engine: ReplayEngine, pace: ReplayClock, ticks: TickBook, t_first: float
    ) -> None:
        self._engine = engine
        self._pace = pace
        self._ticks = ticks
        self.t_first = t_first
        self.t = t_first
        self.wanted_t: float | None = None
        self._wanted_range: tuple[float, int] | None = None
        self._wall_s = 0.0
        self.told = ""
        self.told_count = 0
        self.has_moved = True
        self.is_behind = False

    def tell(self, words: str) -> None:
        """Say what was done."""
        self.told = words
        self.told_count += 1

    # -- playing ---------------------------------------------------------------------------

    def play(self, wall_s: float) -> None:
        """Play on from where it stands; from the begin where it stands at the end."""
        if self._engine.is_at_end:
            self.go(self.t_first)
        self._pace.jump(self.t, wall_s)
        self._pace.play(wall_s)

    def toggle(self, wall_s: float) -> None:
        """Play, or stand still."""
        if self._pace.is_playing:
            self._pace.pause(wall_s)
        else:
            self.play(wall_s)

    def change_speed(self, way: Way, wall_s: float) -> None:
        """Take the next greater or smaller speed."""
        if way is Way.ON:
            self._pace.faster(wall_s)
        else:
            self._pace.slower(wall_s)
        self.tell(f"speed {self._pace.speed:g}×")

    def play_on(self, wall_s: float, most: int) -> list[AnyEvent]:
        """Play what is due, so many inputs at most; give what was found."""
        self._wall_s = wall_s
        self.is_behind = False
        if not self._pace.is_playing or self.wanted_t is not None:
            return []
        engine, due = self._engine, self._pace.now(wall_s)
        events, reached = engine.play_to(due, most)
        self.has_moved = True
        if engine.is_at_end:
            self._stand(engine.now, wall_s)
            self._pace.pause(wall_s)
            self.tell("the pass ends here")
        elif engine.count >= engine.scan.count:
            self._stand(engine.now, wall_s)  # as far as it was read
        elif reached:
            self.t = engine.now if math.isinf(due) else due
        else:
            self.is_behind = True
            self.t = engine.now
            if due - engine.now > BEHIND_S * self._pace.speed:
                self._stand(engine.now, wall_s)
        return events

    def _stand(self, t: float, wall_s: float) -> None:
        self.t = t
        self._pace.jump(t, wall_s)

    # -- standing elsewhere ----------------------------------------------------------------

    def go(self, t: float) -> None:
        """Stand at a time; wait for the reading where it has not come there yet."""
        scan = self._engine.scan
        self._wanted_range = None
        t = max(t, self.t_first)
        if not scan.is_done and t > scan.reach_t:
            self.wanted_t = t
            return
        self.wanted_t = None
        t = min(t, scan.reach_t)
        self._engine.seek_time(t)
        self._arrive(t)

    def go_on(self) -> bool:
        """Look after a read whether what is wanted was reached; tell whether it was."""
        if self._wanted_range is not None:
            range_m, row = self._wanted_range
            self.go_to_range(range_m, row)
            return self._wanted_range is None
        if self.wanted_t is None:
            return False
        scan = self._engine.scan
        if scan.is_done or self.wanted_t <= scan.reach_t:
            self.go(self.wanted_t)
            return True
        return False

    def _arrive(self, t: float) -> None:
        self.has_moved = True
        self._stand(t, self._wall_s)

    def _stand_after(self, count: int) -> None:
        self._engine.seek_count(count)
        self._arrive(self._engine.now)

    def step(self, way: Way, wall_s: float) -> None:
        """Stand still at the next sample, or the one before."""
        self._pace.pause(wall_s)
        self._cancel()
        engine, scan = self._engine, self._engine.scan
        ahead = way is Way.ON
        count = scan.sample_after(engine.count) if ahead else scan.sample_before(engine.count)
        if count is None:
            self.tell("! no sample is later" if ahead else "! no sample is earlier")
        else:
            self._stand_after(count)

    def go_to_tick(self, way: Way) -> None:
        """Stand at the next mark of the time line, or the one before."""
        self._cancel()
        tick = self._ticks.next(self.t, way)
        if tick is None:
            none = "no later event" if way is Way.ON else "no earlier event"
            so_far = "" if self._engine.scan.is_done else " in what was read so far"
            self.tell(f"! {none}{so_far}")
            return
        self.go(tick.t)
        self.tell(tick.words)

    def go_to_least_margin(self, way: Way) -> None:
        """Stand at the next limit's least margin over the pass; after the last comes the first."""
        self._cancel()
        places = sorted(self._engine.scan.least.values(), key=lambda least: least.t)
        if not places:
            self.tell("! no limit was judged")
            return
        later = [p for p in places if p.t > self.t + MICROSECOND_S]
        earlier = [p for p in places if p.t < self.t - MICROSECOND_S]
        chosen = (later or places)[0] if way is Way.ON else (earlier or places)[-1]
        self.go(chosen.t)
        same = [p for p in places if abs(p.t - chosen.t) <= MICROSECOND_S]
        so_far = "" if self._engine.scan.is_done else " (so far)"
        self.tell("; ".join(_margin_words(place) for place in same) + so_far)

    def go_to_range(self, range_m: float, from_row: int | None = None) -> None:
        """Stand where a range is next reached from outside, or first, where it is not again."""
        scan, trail = self._engine.scan, self._engine.scan.trail
        row = self._first_inside(
            range_m, self._engine.trail.count if from_row is None else from_row
        )
        if row is None and scan.is_done:
            row = self._first_inside(range_m, 0)
        if row is not None:
            self._cancel()
            self._stand_after(scan.count_of_row(row))
        elif scan.is_done:
            self._cancel()
            self.tell(f"! the pass never comes in to {range_m:g} m")
        else:
            self._wanted_range = (range_m, max(trail.count - 1, 0))
            self.wanted_t = math.inf

    def _first_inside(self, range_m: float, from_row: int) -> int | None:
        """Give the first row inside a range that follows one outside it."""
        path = self._engine.scan.trail.path
        start = max(from_row - 1, path.first)
        while start < path.count - 1:
            ranges = path.rows(start, start + ROWS_AT_ONCE)[:, Channel.RANGE_M]
            inside = ranges <= range_m
            found = (inside[1:] & ~inside[:-1]).nonzero()[0]
            if found.size:
                return start + 1 + int(found[0])
            start += ROWS_AT_ONCE - 1
        return None

    def _cancel(self) -> None:
        self.wanted_t = self._wanted_range = None


def _margin_words(place: LeastMargin) -> str:
    limit = place.limit
    margin = text.number(limit.margin, DECIMALS[limit.quantity])
    return (
        f"{limit.id}: least margin {margin} {UNIT[limit.quantity]} "
        f"({LABEL[limit.quantity]}) at {text.range_m(place.range_m)} m"
    )
