"""The vestibule's pressure: whether it is being filled or held, and the record while held."""

from __future__ import annotations

from dataclasses import dataclass

from console.approach.capture_now import VestibuleStage

EMPTY_KPA = 10.0
"""Below it the vestibule counts as not pressurised."""
BLOCK_S = 10.0
RISE_KPA = 0.1
"""A rise of the mean from block to block that only a filling makes."""
HELD_BLOCKS = 2
SAMPLES_KEPT = 1024
"""More readings are averaged in pairs: a day at one a second keeps 512 to 1024 means."""


class Filling:
    """Finds the vestibule's stage from means of pressure over ten seconds."""

    def __init__(self) -> None:
        self.stage = VestibuleStage.UNKNOWN
        self._start: float | None = None
        self._sum = 0.0
        self._count = 0
        self._before: float | None = None
        self._held = 0

    def take(self, t: float, kpa: float) -> None:
        """Take a reading; times rise."""
        if self._start is None or t - self._start >= BLOCK_S:
            if self._count:
                self._close(self._sum / self._count)
            self._start, self._sum, self._count = t, 0.0, 0
        self._sum += kpa
        self._count += 1
        if self.stage is VestibuleStage.UNKNOWN and kpa < EMPTY_KPA:
            self.stage = VestibuleStage.EMPTY

    def _close(self, mean: float) -> None:
        before, self._before = self._before, mean
        if mean < EMPTY_KPA:
            is_rising = before is not None and mean - before > RISE_KPA
            self.stage = VestibuleStage.FILLING if is_rising else VestibuleStage.EMPTY
            self._held = 0
        elif before is not None and mean - before > RISE_KPA:
            self.stage = VestibuleStage.FILLING
            self._held = 0
        else:
            self._held += 1
            if self._held >= HELD_BLOCKS:
                self.stage = VestibuleStage.CLOSED


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
