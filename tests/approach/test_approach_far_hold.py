"""Slowing to a hold far outside the knee: the line flown leads to rest, not to contact."""

from __future__ import annotations

import pytest
from approach_tools import Run, sample

from console.approach.engine_time import EngineTime

FASTEST_MPS = 0.55
STEP_S = 0.5
LEAST_END_MPS = 0.03
"""A third of the 0.09 m/s that the glide slope of these tests plans."""


@pytest.mark.parametrize("hold_m", [26.0, 40.0, 60.0])
@pytest.mark.parametrize("per_s", [0.002, 0.008])
def test_a_smooth_slowing_to_a_far_hold_gives_finite_times(hold_m: float, per_s: float) -> None:
    """No time is wild: the slowest end of an approach is a third of the plan's last rate."""
    run = Run(mode=EngineTime.RECEIVE)
    range_m, t, n, shown = 190.0, 0.0, 0, 0
    while range_m > hold_m + 0.5 and n < 1600:
        rate = min(FASTEST_MPS, per_s * (range_m - hold_m))
        noise = 0.001 * ((n * 7) % 11 - 5)
        run.receive(t, sample(t, range_m + noise, n, range_rate_mps=-rate, y_m=noise))
        to_contact = run.state.snapshot().to_contact
        if to_contact is not None and to_contact.best_s is not None:
            shown += 1
            slowest_s = (range_m + 0.1) / LEAST_END_MPS
            assert to_contact.at_present_rate_s is not None
            assert to_contact.best_s <= max(slowest_s, to_contact.at_present_rate_s)
        range_m -= rate * STEP_S
        t += STEP_S
        n += 1
    assert shown > 100
