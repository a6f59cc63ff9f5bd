"""Keeps the plots' trail in step with the state model."""

from __future__ import annotations

import math

from console.approach.capture_reading import readable
from console.approach.state import StateModel
from console.core.records import CaptureStatus, RelativeSample
from console.core.units import MICROSECOND_S
from console.present.trail import Trail

LEAST_STEP_S = 0.01
"""A row of the trail costs a sample a sixth more, and no plot shows a hundredth of a second."""


class TrailFeed:
    """Appends judged samples, of a fast source a hundred a second, and each capture status."""

    def __init__(self, state: StateModel) -> None:
        self.trail = Trail(stale_after_s=state.limits.data.stale_after_s)
        self._state = state
        self._judged = 0
        self._row_t = -math.inf

    def follow(self, newest: object) -> None:
        """Look at the state model after a record was fed."""
        if isinstance(newest, CaptureStatus):
            now = readable(newest)
            self.trail.append_capture(
                newest.t, now.rel_rate_mps, now.rel_rate_dps, now.ring_extension,
                now.hooks, now.vestibule_kpa, now.vestibule_degc,
            )  # fmt: skip
        elif isinstance(newest, RelativeSample) and self._state.judged != self._judged:
            self._judged = self._state.judged
            if not 0.0 <= newest.t - self._row_t < LEAST_STEP_S - MICROSECOND_S:
                self._row_t = newest.t
                self._append(newest)

    def _append(self, sample: RelativeSample) -> None:
        """Append the estimate at a judged sample: an outlier the filter refused draws no spike."""
        here = self._state.tracker.estimate(sample.t)
        if here is None:
            self.trail.append(
                sample.t, sample.range_m, -sample.range_rate_mps, sample.y_m, sample.z_m,
                sample.pitch_deg, sample.yaw_deg, sample.roll_deg, coasted=False,
            )  # fmt: skip
            return
        self.trail.append(
            sample.t, here.range_m, here.closing_rate_mps, here.y_m, here.z_m,
            here.pitch_deg, here.yaw_deg, here.roll_deg, coasted=False,
        )  # fmt: skip
