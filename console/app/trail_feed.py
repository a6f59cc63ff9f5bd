"""Keeps the plots' trail in step with what the state model judged."""

from __future__ import annotations

from console.approach.state import StateModel
from console.core.records import CaptureStatus, RelativeSample
from console.present.trail import Trail


class TrailFeed:
    """Appends each judged sample, and each capture status, once."""

    def __init__(self, state: StateModel) -> None:
        self.trail = Trail()
        self._state = state
        self._judged = 0

    def follow(self, newest: object) -> None:
        """Look at the state model after a record was fed."""
        if isinstance(newest, CaptureStatus):
            self.trail.append_capture(
                newest.t, newest.rel_rate_mps, newest.rel_rate_dps, newest.ring_extension,
                newest.hooks, newest.vestibule_kpa, newest.vestibule_degc,
            )  # fmt: skip
        elif isinstance(newest, RelativeSample) and self._state.judged != self._judged:
            self._judged = self._state.judged
            self.trail.append(
                newest.t, newest.range_m, -newest.range_rate_mps, newest.y_m, newest.z_m,
                newest.pitch_deg, newest.yaw_deg, newest.roll_deg, coasted=False,
            )  # fmt: skip
