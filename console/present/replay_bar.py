"""The replay's bar in words and shares: how it plays, where it stands, what lies on its line."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from console.core.utc import format_clock
from console.present import text
from console.present.replay_port import ReplayNow, Tick, TickKind


@dataclass(frozen=True, slots=True)
class LineMark:
    """A mark on the time line at a share of its length."""

    share: float
    kind: TickKind


@dataclass(frozen=True, slots=True)
class ReplayBarView:
    """What the bar shows.

    Attributes
    ----------
    state, speed, clock, elapsed, range_m : str
    is_playing : bool
    share, read_share : float
        Where it stands and how far the pass was read, of the whole line, 0 to 1.
    waits : str
        Said while a place is waited for, or the pass is still read.
    """

    state: str
    speed: str
    clock: str
    elapsed: str
    range_m: str
    is_playing: bool
    share: float
    read_share: float
    waits: str

    @property
    def spoken(self) -> str:
        """All of it as one sentence."""
        parts = (self.state, self.speed, f"at {self.clock} UTC", self.elapsed, self.range_m)
        return ", ".join(part for part in (*parts, self.waits) if part)


def replay_bar(now: ReplayNow) -> ReplayBarView:
    """Give the bar of a replay."""
    past = text.duration(now.t - now.t_first)
    return ReplayBarView(
        state="playing" if now.is_playing else "paused",
        speed=_speed(now.speed),
        clock=format_clock(now.t, 1),
        elapsed=f"{past} of {text.duration(now.t_last - now.t_first)}",
        range_m="" if now.range_m is None else f"{text.range_m(now.range_m)} m",
        is_playing=now.is_playing,
        share=share_of(now, now.t),
        read_share=share_of(now, now.read_t),
        waits=_waits(now),
    )


def share_of(now: ReplayNow, t: float) -> float:
    """Give where a time lies on the line, 0 to 1."""
    length_s = now.t_last - now.t_first
    return 0.0 if length_s <= 0.0 else min(max((t - now.t_first) / length_s, 0.0), 1.0)


def time_at(now: ReplayNow, share: float) -> float:
    """Give the time at a share of the line, UTC seconds."""
    return now.t_first + min(max(share, 0.0), 1.0) * (now.t_last - now.t_first)


def line_marks(now: ReplayNow, ticks: Sequence[Tick]) -> tuple[LineMark, ...]:
    """Give the marks of the time line, in order."""
    return tuple(LineMark(share_of(now, tick.t), tick.kind) for tick in ticks)


def _speed(speed: float) -> str:
    return "as fast as it goes" if math.isinf(speed) else f"{speed:g}×"


def _waits(now: ReplayNow) -> str:
    if now.is_read:
        return ""
    read = f"{100.0 * share_of(now, now.read_t):.0f} % read"
    return read if now.wanted_t is None else f"going there: {read}"
