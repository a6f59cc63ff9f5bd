"""What was predicted of contact on the way in, to stand beside what was measured."""

from __future__ import annotations

from dataclasses import dataclass

from console.approach.state import StateModel
from console.tracking.outlook import ContactPrediction, Countdown

AT_RANGES_M = (20.0, 10.0, 5.0, 2.0)
"""Where a prediction is kept: the first judged sample at or inside each."""


@dataclass(frozen=True, slots=True)
class PredictedAt:
    """A prediction, and where it was made.

    Attributes
    ----------
    at_m : float
        Which of the ranges.
    t : float
        When, UTC s.
    to_contact : Countdown
        Seconds from then.
    contact : ContactPrediction or None
        None where nothing could be said.
    """

    at_m: float
    t: float
    to_contact: Countdown
    contact: ContactPrediction | None


class PredictionBook:
    """Keeps the prediction of the last passing of each range."""

    def __init__(self) -> None:
        self._kept: dict[float, PredictedAt] = {}
        self._before_m: float | None = None

    def take(self, state: StateModel, t: float, range_m: float) -> None:
        """Look at a judged sample; ask for a snapshot where a range was passed inward."""
        before_m, self._before_m = self._before_m, range_m
        if before_m is None:
            return
        passed = [m for m in AT_RANGES_M if range_m <= m < before_m]
        if not passed:
            return
        snapshot = state.snapshot()
        for m in passed:
            self._kept[m] = PredictedAt(m, t, snapshot.to_contact, snapshot.at_contact)

    def predictions(self) -> tuple[PredictedAt, ...]:
        """Give what is kept, outermost first."""
        return tuple(self._kept[m] for m in AT_RANGES_M if m in self._kept)
