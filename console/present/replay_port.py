"""What the window is handed of a replay beside what it is handed of a watch."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Protocol

from console.present.port import WatchPort
from console.present.trail import Trail


class Way(Enum):
    """In which direction."""

    BACK = -1
    ON = 1


class TickKind(Enum):
    """What a mark on the time line stands for."""

    CAUTION = "caution"
    WARNING = "warning"
    MARK = "range mark"
    PHASE = "phase"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Tick:
    """A mark on the time line."""

    t: float
    """Time of the pass, UTC seconds."""
    kind: TickKind
    words: str


@dataclass(frozen=True, slots=True)
class ReplayNow:
    """How a replay stands.

    Attributes
    ----------
    t_first, t_last : float
        Begin and end of the pass, UTC seconds.
    t : float
        Where it stands.
    range_m : float or None
        Estimated there; None where nothing is known, and after contact.
    speed : float
        Pass seconds a second, infinite for as fast as it goes.
    read_t : float
        Up to where the pass was read: a seek to before it is immediate.
    wanted_t : float or None
        Where a seek waits to get to, while the pass is read up to there.
    other_limits : str
        Names the limits the pass was watched under where it is replayed under others.
    told : str
        What was last done or refused; a refusal begins with ``!``.
    told_count : int
        Raised with each thing told, so that the same words may be told again.
    """

    t_first: float
    t_last: float
    t: float
    range_m: float | None
    is_playing: bool
    speed: float
    read_t: float
    wanted_t: float | None = None
    other_limits: str = ""
    told: str = ""
    told_count: int = 0

    @property
    def is_read(self) -> bool:
        """Whether the whole pass was read."""
        return self.read_t >= self.t_last


@dataclass(frozen=True, slots=True)
class Overlay:
    """A second pass laid over the lanes: its name and its path, as measured."""

    name: str
    trail: Trail


class ReplayPort(WatchPort, Protocol):
    """A replay as the window sees it; every call returns at once.

    What the operator would do in a live watch changes nothing here: ``act`` is refused.
    """

    def replay(self) -> ReplayNow:
        """Give how it stands."""
        ...

    def ticks(self) -> tuple[Tick, ...]:
        """Give the time line's marks in order; the same object until there are others."""
        ...

    def overlay(self) -> Overlay | None:
        """Give the second pass, None where none is laid over."""
        ...

    def toggle(self) -> None:
        """Play, or stand still."""
        ...

    def change_speed(self, way: Way) -> None:
        """Take the next greater or smaller speed."""
        ...

    def seek(self, t: float) -> None:
        """Stand at a time of the pass, UTC seconds."""
        ...

    def skip(self, seconds: float) -> None:
        """Stand so many seconds further on; negative for back."""
        ...

    def step(self, way: Way) -> None:
        """Stand at the next sample, or the one before."""
        ...

    def go_to_event(self, way: Way) -> None:
        """Stand at the next event, or the one before."""
        ...

    def go_to_least_margin(self, way: Way) -> None:
        """Stand where a limit's margin was least over the pass: the next such place."""
        ...

    def go_to_end(self, way: Way) -> None:
        """Stand at the begin or at the end."""
        ...

    def go_to_words(self, words: str) -> str:
        """Stand at a time or range as typed; give what is wrong with it, empty if nothing is."""
        ...

    def note(self, initials: str, text: str) -> None:
        """Keep a trainer's note with the pass, at the time it stands at."""
        ...

    def lay_over(self, path: str) -> None:
        """Lay a second pass over the lanes; an empty name takes it away."""
        ...
