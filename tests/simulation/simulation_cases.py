"""What the simulation's tests share: limits, setups and short scenarios."""

from __future__ import annotations

import math
from functools import cache

from console.envelope.limits import Curve, DataRules, GlideSlope, HandsOff, LimitsFile
from console.envelope.setup import Setup
from console.simulation.scenario import (
    Capture,
    RandomDropouts,
    Scenario,
    Sensor,
    Steering,
)
from console.simulation.simulate import SimulatedPass, simulate
from console.simulation.truth import Truth
from tests.fakes.changed import replace

LIMITS = LimitsFile(
    title="Common practice",
    revision=1,
    author="tests",
    reason="hands-off at 1.7 m",
    hands_off=HandsOff(1.7, 1.5, 4.0, 0.01),
    glide_slope=GlideSlope(Curve((0.0, 20.0, 200.0), (0.09, 0.09, 0.55))),
    marks_m=(200.0, 100.0, 50.0, 20.0, 10.0, 5.0),
    data=DataRules(),
    limits=(),
    contact_limits=(),
    sha256="",
    text="",
)
SETUP = Setup()
SHORT = Scenario(start_range_m=6.0, holds=(), capture=Capture(vestibule_s=120.0))
"""From 6 m to contact and two minutes of vestibule: quick to simulate."""


def flown(scenario: Scenario, seed: int = 1, **setup: object) -> SimulatedPass:
    """Simulate with the shared limits."""
    return simulate(scenario, LIMITS, replace(SETUP, **setup), seed)


@cache
def nominal(seed: int, start_range_m: float | None = None) -> SimulatedPass:
    """Give a nominal pass, simulated once for all tests."""
    return simulate(Scenario(), LIMITS, SETUP, seed, start_range_m)


@cache
def nominal_truth(seed: int, start_range_m: float | None = None) -> Truth:
    """Give the truth of the same pass: without sources it is quick and no different."""
    return simulate(Scenario(sensors=()), LIMITS, SETUP, seed, start_range_m).truth


def quiet(sensor: Sensor) -> Sensor:
    """Give a source without noise, bias, outliers or jitter: only its rate and rounding."""
    still = replace(
        sensor.noise,
        **{
            name: replace(getattr(sensor.noise, name), at_zero=0.0, per_m=0.0)
            for name in (
                "range_m",
                "lateral_m",
                "range_rate_mps",
                "lateral_rate_mps",
                "angle_deg",
                "angle_rate_dps",
            )
        },
        range_bias_m=0.0,
        lateral_bias_m=0.0,
        range_rate_bias_mps=0.0,
        lateral_rate_bias_mps=0.0,
    )
    return replace(
        sensor, noise=still, scale=0.0, outlier_share=0.0, jitter_s=0.0, dropouts=RandomDropouts()
    )


ADRIFT = Steering(
    rate_deadband_mps=math.inf, lateral_deadband_mps=math.inf, attitude_deadband_deg=(80.0, 80.0)
)
"""No thruster ever fires."""
