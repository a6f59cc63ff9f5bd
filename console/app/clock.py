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
        Start at this UTC time instead of the present one: a simulated approach is watched on
        its scenario's own clock, so that its data is exactly as fresh as it is.
    """

    def __init__(self, begin_s: float | None = None) -> None:
        self._begin_s = time.time() if begin_s is None else begin_s
        self._mono_s = time.monotonic()

    def __call__(self) -> float:
        """Give UTC now, s since 1970."""
        return self._begin_s + (time.monotonic() - self._mono_s)
