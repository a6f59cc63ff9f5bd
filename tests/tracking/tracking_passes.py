"""Small made-up passes for the tracking tests: a straight approach seen by noisy sources."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.envelope.limits import (
    ContactLimit,
    Curve,
    DataRules,
    GlideSlope,
    HandsOff,
    LimitsFile,
)
from console.envelope.quantity import Quantity
from console.tracking.tracker import Tracker

T0 = 1_933_000_000.0
OPTICAL, RADIO = SourceId("optical"), SourceId("radio")

LIMITS = LimitsFile(
    title="Test", revision=1, author="test", reason="test",
    hands_off=HandsOff(1.8, 1.5, 4.0, 0.01),
    glide_slope=GlideSlope(Curve((0.0, 20.0, 200.0), (0.09, 0.09, 0.55))),
    marks_m=(10.0, 5.0), data=DataRules(), limits=(),
    contact_limits=(
        ContactLimit(Quantity.CLOSING_RATE, 0.05, 0.10),
        ContactLimit(Quantity.LATERAL_OFFSET, None, 0.10),
        ContactLimit(Quantity.LATERAL_RATE, None, 0.04),
        ContactLimit(Quantity.PITCH_YAW, None, 4.0),
        ContactLimit(Quantity.ROLL, None, 4.0),
        ContactLimit(Quantity.PITCH_YAW_RATE, None, 0.20),
        ContactLimit(Quantity.ROLL_RATE, None, 0.20),
    ),
    sha256="", text="",
)  # fmt: skip


@dataclass
class Passing:
    """A source's view of a vehicle that closes at a constant rate.

    ``alter`` may change any sample (a fault) or drop it (None).
    """

    source: SourceId = OPTICAL
    start_m: float = 15.0
    closing_mps: float = 0.09
    step_s: float = 0.1
    for_s: float = 60.0
    seed: int = 1
    noise: float = 1.0
    with_rates: bool = True
    clock_s: float = 0.0
    alter: Callable[[float, dict[str, float]], dict[str, float] | None] | None = None

    def samples(self) -> list[RelativeSample]:
        """Make the samples."""
        rng = np.random.default_rng(self.seed)
        out = []
        for i in range(round(self.for_s / self.step_s)):
            t = i * self.step_s
            draw = rng.normal(0.0, self.noise, 12).tolist()
            x = self.start_m - self.closing_mps * t
            values = {
                "range_m": x + draw[0] * (0.02 + 0.001 * abs(x)),
                "range_rate_mps": -self.closing_mps + draw[1] * 0.004,
                "y_m": 0.03 + draw[2] * 0.01,
                "z_m": -0.02 + draw[3] * 0.01,
                "roll_deg": 0.2 + draw[4] * 0.1,
                "pitch_deg": -0.1 + draw[5] * 0.1,
                "yaw_deg": 0.1 + draw[6] * 0.1,
            }
            if self.with_rates:
                values |= {
                    "y_rate_mps": draw[7] * 0.003, "z_rate_mps": draw[8] * 0.003,
                    "roll_rate_dps": draw[9] * 0.01, "pitch_rate_dps": draw[10] * 0.01,
                    "yaw_rate_dps": draw[11] * 0.01,
                }  # fmt: skip
            kept = self.alter(t, values) if self.alter else values
            if kept is not None:
                out.append(RelativeSample(self.source, i, T0 + t + self.clock_s, **kept))
        return out


def merged(*passings: Passing) -> list[RelativeSample]:
    """Give the samples of several sources in order of their true time."""
    pairs = [
        (sample.t - passing.clock_s, sample)
        for passing in passings
        for sample in passing.samples()
    ]
    return [sample for _, sample in sorted(pairs, key=lambda pair: pair[0])]


def feed(tracker: Tracker, samples: list[RelativeSample]) -> float:
    """Feed samples; give the time of the last."""
    for sample in samples:
        tracker.update(sample)
    return samples[-1].t if samples else math.nan
