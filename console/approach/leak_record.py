"""The vestibule's pressure: whether it is being filled or held, and the record while held."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass
from itertools import pairwise

from console.approach.capture_now import VestibuleStage

EMPTY_KPA = 10.0
"""Below it the vestibule counts as not pressurised."""
BLOCK_S = 10.0
BLOCKS_APART = 3
RISE_KPA = 0.05
"""A rise of the mean over half a minute that only a filling makes, a slow one's end included."""
RISE_SIGMA = 5.0
"""Where noise is large, the rise must exceed its own 1-sigma so many times."""
BLOCK_KEPT = 100
"""Readings of a block that are looked at; more come only from a runaway source."""
SAMPLES_KEPT = 1024
"""More readings are averaged in pairs: a day at one a second keeps 512 to 1024 means."""


class Filling:
    """Finds the vestibule's stage from means of pressure over ten seconds."""

    def __init__(self) -> None:
        self.stage = VestibuleStage.UNKNOWN
        self._start: float | None = None
        self._block: list[float] = []
        self._means: deque[tuple[float, float]] = deque(maxlen=BLOCKS_APART + 1)

    def take(self, t: float, kpa: float) -> None:
        """Take a reading; times rise."""
        if self._start is None or t - self._start >= BLOCK_S:
            if self._block:
                self._close()
            self._start, self._block = t, []
        if len(self._block) < BLOCK_KEPT:
            self._block.append(kpa)
        if self.stage is VestibuleStage.UNKNOWN and kpa < EMPTY_KPA:
            self.stage = VestibuleStage.EMPTY

    def _close(self) -> None:
        """Take a block's mean, and the 1-sigma of it, into account."""
        block = self._block
        mean = sum(block) / len(block)
        steps = [b - a for a, b in pairwise(block)]
        noise = math.sqrt(sum(s * s for s in steps) / (2 * len(steps))) if steps else 0.0
        self._means.append((mean, noise / math.sqrt(len(block))))
        if self._is_rising():
            self.stage = VestibuleStage.FILLING
        elif mean < EMPTY_KPA:
            self.stage = VestibuleStage.EMPTY
        elif len(self._means) > BLOCKS_APART:
            self.stage = VestibuleStage.CLOSED

    def _is_rising(self) -> bool:
        (first, first_sigma), (last, last_sigma) = self._means[0], self._means[-1]
        doubt = math.hypot(first_sigma, last_sigma)
        return last - first > max(RISE_KPA, RISE_SIGMA * doubt)


@dataclass(slots=True)
class _Bin:
    t: float
    kpa: float
    degc: float


class AveragedRecord:
    """Readings averaged so that their number stays bounded and none is thrown away."""

    def __init__(self) -> None:
        self._bins: list[_Bin] = []
        self._width = 1
        self._open: list[_Bin] = []
        self.taken = 0
        self.first_t: float | None = None
        self.last_t: float | None = None

    def take(self, t: float, kpa: float, degc: float) -> None:
        """Take a reading at a time later than all before."""
        if self.first_t is None:
            self.first_t = t
        self.last_t = t
        self.taken += 1
        self._open.append(_Bin(t, kpa, degc))
        if len(self._open) == self._width:
            self._bins.append(_mean(self._open))
            self._open = []
        if len(self._bins) >= SAMPLES_KEPT:
            self._bins = [_mean(self._bins[i : i + 2]) for i in range(0, len(self._bins) - 1, 2)]
            self._width *= 2

    @property
    def columns(self) -> tuple[list[float], list[float], list[float]]:
        """Times, pressures in kPa and temperatures in degC."""
        return (
            [b.t for b in self._bins],
            [b.kpa for b in self._bins],
            [b.degc for b in self._bins],
        )


def _mean(bins: list[_Bin]) -> _Bin:
    count = len(bins)
    return _Bin(
        sum(b.t for b in bins) / count,
        sum(b.kpa for b in bins) / count,
        sum(b.degc for b in bins) / count,
    )
