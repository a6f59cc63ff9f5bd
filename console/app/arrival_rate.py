"""How many messages a second come, at a cost and memory that do not grow with their number."""

from __future__ import annotations

from collections import deque

WINDOW_S = 2.0
STEP_S = 0.1


class ArrivalRate:
    """Counts arrivals in steps of a tenth of a second; one thread notes, any may ask."""

    def __init__(self) -> None:
        self._steps: deque[list[float]] = deque(maxlen=round(WINDOW_S / STEP_S) + 1)
        """Begin of each step and how many came in it."""

    def note(self, t: float) -> None:
        """Count one that came at ``t``, s."""
        steps = self._steps
        if steps and 0.0 <= t - steps[-1][0] < STEP_S:
            steps[-1][1] += 1.0
        else:
            steps.append([t, 1.0])

    def per_s(self, now: float) -> float:
        """Give the arrivals a second over the last two seconds."""
        return sum(count for t, count in list(self._steps) if now - t <= WINDOW_S) / WINDOW_S
