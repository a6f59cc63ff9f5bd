"""The past path for the plots: written by the engine's thread, read by the window's.

No lock: each side keeps to its own end (see `console.present.pyramid`). Nothing here judges or
estimates; it keeps what it is handed, in bounded memory, in a form that draws fast.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from console.core.units import MICROSECOND_S
from console.present.pyramid import BLOCKS, LEVELS, Pyramid

NAN = math.nan
CAPTURE_BLOCKS = 8
CAPTURE_LEVELS = 4
_LOOK_BACK = 1200


class Channel(IntEnum):
    """What a row of the approach trail holds, in order."""

    RANGE_M = 0
    CLOSING_MPS = 1
    Y_M = 2
    Z_M = 3
    PITCH_DEG = 4
    YAW_DEG = 5
    ROLL_DEG = 6
    COASTED = 7
    """1 where the row was carried forward, not measured."""
    GAP = 8
    """1 where data were missing before the row."""


DRAWN = (
    Channel.CLOSING_MPS,
    Channel.Y_M,
    Channel.Z_M,
    Channel.PITCH_DEG,
    Channel.YAW_DEG,
    Channel.ROLL_DEG,
)
"""Channels that are drawn against range."""


class CaptureChannel(IntEnum):
    """What a row of the capture trail holds, in order; NaN where a status did not say."""

    REL_RATE_MPS = 0
    REL_RATE_DPS = 1
    RING_EXTENSION = 2
    VESTIBULE_KPA = 3
    VESTIBULE_DEGC = 4


class Times:
    """Times of a pyramid's rows, in the same round of places."""

    def __init__(self, pyramid: Pyramid) -> None:
        self._pyramid = pyramid
        self._t: NDArray[np.float64] = np.empty(pyramid.capacity, np.float64)

    @classmethod
    def of_begin(cls, whole: Times, pyramid: Pyramid) -> Times:
        """Give the times of a pyramid's begin, shared with the whole's."""
        times = cls.__new__(cls)
        times._pyramid, times._t = pyramid, whole._t  # noqa: SLF001 - its own class
        return times

    def put(self, t: float) -> None:
        """Set the time of the row that is appended next."""
        self._t[self._pyramid.count % self._t.shape[0]] = t

    def at(self, row: int) -> float:
        """Give the time of a row that is still held."""
        return float(self._t[row % self._t.shape[0]])

    def of(self, rows: NDArray[np.int64]) -> NDArray[np.float64]:
        """Give the times of rows that are still held."""
        taken: NDArray[np.float64] = self._t.take(rows % self._t.shape[0])
        return taken

    def first_since(self, t: float) -> int:
        """Give the first held row not older than ``t``, times taken as ascending."""
        low, high = self._pyramid.first, self._pyramid.count
        while low < high:
            middle = (low + high) // 2
            if self.at(middle) < t:
                low = middle + 1
            else:
                high = middle
        return low


class Trail:
    """The path so far and what capture statuses said, for one watch.

    Parameters
    ----------
    stale_after_s : float
        A longer step between rows is a gap: the trail is not drawn across it.
    levels, blocks : int
        Size of the memory, see `Pyramid`. By default 4.2 million rows stand; older ones go.

    Attributes
    ----------
    generation : int
        Raised by `clear`, so that a reader knows that its picture is of another history.
    """

    def __init__(
        self, stale_after_s: float = 1.0, levels: int = LEVELS, blocks: int = BLOCKS
    ) -> None:
        self._gap_s = stale_after_s + MICROSECOND_S
        self.path = Pyramid(len(Channel), levels, blocks)
        self.times = Times(self.path)
        self.capture = Pyramid(
            len(CaptureChannel), min(levels, CAPTURE_LEVELS), min(blocks, CAPTURE_BLOCKS)
        )
        self.capture_times = Times(self.capture)
        self.hooks: tuple[float, ...] | None = None
        self.generation = 0
        self._newest_t = -math.inf

    @property
    def count(self) -> int:
        """Number of rows of the path ever appended."""
        return self.path.count

    @property
    def capture_count(self) -> int:
        """Number of capture rows ever appended."""
        return self.capture.count

    def append(
        self,
        t: float,
        range_m: float,
        closing_mps: float,
        y_m: float,
        z_m: float,
        pitch_deg: float,
        yaw_deg: float,
        roll_deg: float,
        coasted: bool = False,
    ) -> None:
        """Add where the vehicle was at one judged sample; only the engine's thread calls this.

        Parameters
        ----------
        t : float
            UTC seconds.
        coasted : bool
            The row was carried forward: the trail is not drawn there.
        """
        step = t - self._newest_t
        gap = 1.0 if not 0.0 <= step <= self._gap_s else 0.0
        self._newest_t = t
        self.times.put(t)
        self.path.append(
            (
                range_m, closing_mps, y_m, z_m, pitch_deg, yaw_deg, roll_deg,
                1.0 if coasted else 0.0, gap,
            )
        )  # fmt: skip

    def append_capture(
        self,
        t: float,
        rel_rate_mps: float | None = None,
        rel_rate_dps: float | None = None,
        ring_extension: float | None = None,
        hooks: Sequence[float] | None = None,
        vestibule_kpa: float | None = None,
        vestibule_degc: float | None = None,
    ) -> None:
        """Add one capture status; only the engine's thread calls this. None: it did not say."""
        if hooks is not None:
            self.hooks = tuple(hooks)
        self.capture_times.put(t)
        told = (rel_rate_mps, rel_rate_dps, ring_extension, vestibule_kpa, vestibule_degc)
        self.capture.append(tuple(NAN if value is None else value for value in told))

    def newest_measured(self) -> tuple[float, ...] | None:
        """Give the newest row that was not coasted, None where there is none near the end."""
        count = self.path.count
        rows = self.path.rows(count - _LOOK_BACK, count)
        measured = np.flatnonzero(rows[:, Channel.COASTED] == 0.0)
        if measured.size == 0:
            return None
        return tuple(float(value) for value in rows[measured[-1]])

    def clear(self) -> None:
        """Begin anew, as after a seek; only the engine's thread calls this."""
        self.generation += 1
        self.path.clear()
        self.capture.clear()
        self.hooks = None
        self._newest_t = -math.inf
