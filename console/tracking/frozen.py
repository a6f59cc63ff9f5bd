"""The frozen check: values that stand still bit for bit.

A sensor's noise makes its last digits change. Samples are compared with the last *valid* one and
the counts outlive gaps, so that a gap followed by frozen values is no fresh start.
"""

from __future__ import annotations

import math
from typing import Final

from console.core.records import RelativeSample

ALL_REPEATS: Final = 5
ALL_REPEATS_SLOW: Final = 3
SLOW_SPAN_S: Final = 1.5
RANGE_REPEATS: Final = 12
CHANCE: Final = 1e-8
"""A run of repeats as unlikely as this is no accident."""
SHARE_START: Final = 0.15
SHARE_MEMORY: Final = 0.01
SHARE_AT_MOST: Final = 0.9


class FrozenCheck:
    """Counts running repeats of the whole sample and of range alone."""

    __slots__ = ("all_repeats", "range_repeats", "repeat_share")

    def __init__(self) -> None:
        self.all_repeats = 0
        self.range_repeats = 0
        self.repeat_share = SHARE_START
        """How often range repeats by chance (coarsely quantised sensors)."""

    def take(self, before: RelativeSample, now: RelativeSample, interval_s: float) -> str:
        """Compare with the last valid sample; give the evidence, empty where nothing is frozen.

        Notes
        -----
        The run of range repeats allowed is n = ceil(ln 1e-8 / ln p) + 1, at least 12, with p
        the share of repeats seen in healthy data, so that coarse quantisation does not alarm:
        p^n is the chance of so many independent repeats in a row (success runs: Feller, *An
        Introduction to Probability Theory*, volume 1, section XIII.7; from memory).
        """
        if now.range_m != before.range_m:
            self._note_run()
            self.range_repeats = self.all_repeats = 0
            return ""
        self.range_repeats += 1
        self.all_repeats = self.all_repeats + 1 if is_repeat(before, now) else 0
        needed = ALL_REPEATS
        if interval_s * ALL_REPEATS > SLOW_SPAN_S:
            needed = max(ALL_REPEATS_SLOW, math.ceil(SLOW_SPAN_S / interval_s))
        if self.all_repeats >= min(needed, ALL_REPEATS):
            return f"all values identical for {self.all_repeats + 1} samples"
        if self.range_repeats >= self.repeats_allowed:
            return f"range identical for {self.range_repeats + 1} samples"
        return ""

    def _note_run(self) -> None:
        """Learn the share of repeats from a run that has ended."""
        repeats = min(self.range_repeats, RANGE_REPEATS)
        share = repeats / (repeats + 1.0)
        weight = SHARE_MEMORY * (repeats + 1.0)
        self.repeat_share += weight * (share - self.repeat_share)

    @property
    def repeats_allowed(self) -> int:
        """Running repeats of range from which on it counts as frozen."""
        share = min(max(self.repeat_share, 0.01), SHARE_AT_MOST)
        return max(RANGE_REPEATS, math.ceil(math.log(CHANCE) / math.log(share)) + 1)


def is_repeat(before: RelativeSample, now: RelativeSample) -> bool:
    """Tell whether two samples agree bit for bit in every measured value."""
    return (
        now.range_m == before.range_m
        and now.range_rate_mps == before.range_rate_mps
        and now.y_m == before.y_m
        and now.z_m == before.z_m
        and now.roll_deg == before.roll_deg
        and now.pitch_deg == before.pitch_deg
        and now.yaw_deg == before.yaw_deg
        and now.y_rate_mps == before.y_rate_mps
        and now.z_rate_mps == before.z_rate_mps
        and now.roll_rate_dps == before.roll_rate_dps
        and now.pitch_rate_dps == before.pitch_rate_dps
        and now.yaw_rate_dps == before.yaw_rate_dps
    )
