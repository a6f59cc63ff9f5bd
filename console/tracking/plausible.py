"""Values that no vehicle near a port can have, brought to what an estimator can calculate with.

A finite number is valid on the wire, however large. But one of 1e160 has no square, and one of
1e308 no difference from its neighbour: a filter that took it would never be finite again. Brought
down to a million it is as far from any approach as before, and gates and data checks say so.
"""

from __future__ import annotations

import math
from typing import Final

import msgspec

from console.core.records import RelativeSample

LARGEST: Final = 1e6
"""In metres, degrees and seconds; range has the wire's own bound."""
VALUES: Final = (
    "range_rate_mps", "y_m", "z_m", "roll_deg", "pitch_deg", "yaw_deg",
    "y_rate_mps", "z_rate_mps", "roll_rate_dps", "pitch_rate_dps", "yaw_rate_dps",
)  # fmt: skip


def tamed(sample: RelativeSample) -> RelativeSample:
    """Give the sample, with every value of a million or more brought down to a million."""
    total = (
        abs(sample.range_rate_mps) + abs(sample.y_m) + abs(sample.z_m)
        + abs(sample.roll_deg) + abs(sample.pitch_deg) + abs(sample.yaw_deg)
    )  # fmt: skip
    for rate in (
        sample.y_rate_mps, sample.z_rate_mps,
        sample.roll_rate_dps, sample.pitch_rate_dps, sample.yaw_rate_dps,
    ):  # fmt: skip
        if rate is not None:
            total += abs(rate)
    if total <= LARGEST:
        return sample
    found = ((name, getattr(sample, name)) for name in VALUES)
    wild = {
        name: math.copysign(LARGEST, value)
        for name, value in found
        if value is not None and abs(value) > LARGEST
    }
    return msgspec.structs.replace(sample, **wild)
