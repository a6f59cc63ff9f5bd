"""Values that no vehicle near a port can have: they are judged, and kept from the estimators.

A finite number is valid on the wire, however large. But one of 1e160 has no square, and one of
1e308 no difference from its neighbour: a filter that took it would never be finite again.
"""

from __future__ import annotations

from typing import Final

from console.core.records import RelativeSample

LARGEST: Final = 1e6
"""Of the sum of all magnitudes but range, in metres, degrees and seconds; range has its bound."""


def is_plausible(sample: RelativeSample) -> bool:
    """Tell whether every value of a sample can be one of an approach."""
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
    return total <= LARGEST
