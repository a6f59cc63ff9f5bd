"""What a pass was, sample by sample: gathered in bounded memory while the engine judges it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from console.approach.event import AnyEvent, SourceChanged
from console.approach.snapshot import LimitNow
from console.approach.state import StateModel
from console.debrief.margin import LimitMargin, MarginBook
from console.debrief.prediction import PredictedAt, PredictionBook
from console.envelope.limits import LimitsFile
from console.tracking.outlook import Estimate
from console.tracking.source import DELAY_AT_MOST_S

Series: TypeAlias = NDArray[np.float64]

PATH = (
    "t", "range_m", "closing_rate_mps", "y_m", "z_m", "pitch_deg", "yaw_deg", "roll_deg",
    "clock_s",
)  # fmt: skip
CAPTURE = ("t", "rel_rate_mps", "rel_rate_dps", "ring_extension", "hooks", "vestibule_kpa")
ROWS_MOST = 20_000
EVENTS_MOST = 200_000


class Rows:
    """Rows of numbers in time order; when full every second one is dropped, and so on.

    Parameters
    ----------
    columns : sequence of str
        Their names, the time first.
    most : int
        Rows kept at most.
    """

    def __init__(self, columns: Sequence[str], most: int = ROWS_MOST) -> None:
        self._columns = tuple(columns)
        self._rows: list[tuple[float, ...]] = []
        self._most = most
        self._stride = 1
        self._seen = 0

    def add(self, row: tuple[float, ...]) -> None:
        """Take a row."""
        if self._seen % self._stride == 0:
            self._rows.append(row)
            if len(self._rows) >= self._most:
                self._rows = self._rows[::2]
                self._stride *= 2
        self._seen += 1

    def columns(self) -> dict[str, Series]:
        """Give the rows kept, column by column."""
        table = np.asarray(self._rows, np.float64).reshape(-1, len(self._columns))
        return {name: table[:, i] for i, name in enumerate(self._columns)}


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """The course of a pass, thinned where it is long.

    Attributes
    ----------
    path : dict of str to ndarray
        Columns of :data:`PATH` at judged samples, as estimated; ``t`` on the clock of the source
        that was in use, which stood ``clock_s`` behind engine time.
    capture : dict of str to ndarray
        Columns of :data:`CAPTURE` at capture statuses; NaN where nothing was said.
    t_first, t_last : float
        On the clock of the source in use, UTC s; NaN for a pass that holds nothing.
    """

    path: dict[str, Series]
    capture: dict[str, Series]
    t_first: float
    t_last: float

    def range_at(self, t: float) -> float | None:
        """Give the range at a time of the source in use, m.

        None before the first judged sample, after the last, between the last by one clock and the
        first by another, and at a time that came by two clocks.
        """
        times = self.path["t"]
        breaks = np.abs(np.diff(self.path["clock_s"])) > DELAY_AT_MOST_S
        bounds = (0, *(np.flatnonzero(breaks) + 1).tolist(), times.size)
        held = [
            (begin, end)
            for begin, end in pairwise(bounds)
            if begin < end and times[begin] <= t <= times[end - 1]
        ]
        if len(held) != 1:
            return None
        ((begin, end),) = held
        return float(np.interp(t, times[begin:end], self.path["range_m"][begin:end]))


class CourseFollower:
    """Looks on while a pass is judged, and keeps what a debrief tells.

    Parameters
    ----------
    limits : LimitsFile
        Judged against.

    Attributes
    ----------
    events : list of AnyEvent
        In order; those beyond a large number are counted in ``events_dropped``.
    """

    def __init__(self, limits: LimitsFile) -> None:
        self.events: list[AnyEvent] = []
        self.events_dropped = 0
        self._margins = MarginBook(limits)
        self._predictions = PredictionBook()
        self._path = Rows(PATH)
        self._capture = Rows(CAPTURE)
        self._capture_t = -math.inf
        self._first_t = math.nan
        self._last_t = math.nan

    def look(self, state: StateModel, events: list[AnyEvent], *, was_judged: bool) -> None:
        """Take in the state after one input."""
        room = EVENTS_MOST - len(self.events)
        self.events += events[:room]
        self.events_dropped += max(len(events) - room, 0)
        if state.board.current is not None or state.capture.merged is not None:
            self._last_t = state.now
            if math.isnan(self._first_t):
                self._first_t = state.now
        if any(isinstance(event, SourceChanged) for event in events):
            self._margins.change_source()
        if was_judged:
            self._look_at_sample(state)
        self._look_at_capture(state)

    def course(self) -> Course:
        """Give the course gathered so far."""
        path, capture = self._path.columns(), self._capture.columns()
        return Course(path, capture, self._first_t, self._last_t)

    def margins(self) -> tuple[LimitMargin, ...]:
        """Give the margin to every limit, the least first."""
        return self._margins.margins()

    def predictions(self) -> tuple[PredictedAt, ...]:
        """Give what was predicted of contact on the way in, outermost first."""
        return self._predictions.predictions()

    def _look_at_sample(self, state: StateModel) -> None:
        current = state.board.current
        if current is None:
            return
        sample = current.newest
        now: tuple[LimitNow, ...] = state.desk.limits_now(is_stale=False)
        self._margins.take(sample.t, sample.range_m, now)
        estimate = state.tracker.estimate(sample.t)
        if estimate is not None:
            self._path.add((*_path_row(sample.t, estimate), current.clock_offset_s))
            self._predictions.take(state, sample.t, estimate.range_m)

    def _look_at_capture(self, state: StateModel) -> None:
        status = state.capture.merged
        if status is None or status.t <= self._capture_t:
            return
        self._capture_t = status.t
        hooks = None if not status.hooks else sum(status.hooks) / len(status.hooks)
        told = (
            status.rel_rate_mps, status.rel_rate_dps, status.ring_extension, hooks,
            status.vestibule_kpa,
        )  # fmt: skip
        row = tuple(math.nan if value is None else value for value in told)
        self._capture.add((status.t, *row))


def _path_row(t: float, e: Estimate) -> tuple[float, ...]:
    return (t, e.range_m, e.closing_rate_mps, e.y_m, e.z_m, e.pitch_deg, e.yaw_deg, e.roll_deg)
