"""The real clock: the only place the project asks what time it is."""

from __future__ import annotations

import time


class SystemClock:
    """UTC seconds that never step back within a run.

    The wall clock is read once; from then on the monotonic clock carries it forward, so that a
    correction of the wall clock in the middle of a pass moves no event.

    Parameters
    ----------
    begin_s : float, optional
        Stand at this UTC time until :meth:`start`, instead of going from the present one: a
        simulated approach is watched on its scenario's own clock, which starts with its first
        message, so that its data is exactly as fresh as it would be.
    """

    def __init__(self, begin_s: float | None = None) -> None:
        self._begin_s = time.time() if begin_s is None else begin_s
        self._mono_s: float | None = time.monotonic() if begin_s is None else None

    def start(self) -> None:
        """Let a standing clock go; one that goes already goes on."""
        if self._mono_s is None:
            self._mono_s = time.monotonic()

    def __call__(self) -> float:
        """Give UTC now, s since 1970."""
        mono_s = self._mono_s
        return self._begin_s if mono_s is None else self._begin_s + (time.monotonic() - mono_s)
