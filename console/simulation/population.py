"""Many different approaches from one description: for campaigns, calibration and statistics.

Two populations: *nominal*, a vehicle that works, and *wide*, one spread so far that limits are
really broken.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import NamedTuple

import numpy as np

from console.simulation.scenario import (
    Capture,
    Hold,
    RandomDropouts,
    Scenario,
    Sensor,
    Steering,
)

THREE_DROPOUTS = RandomDropouts(count=3, shortest_s=1.0, longest_s=8.0)


class Population(StrEnum):
    """Which spread of approaches."""

    NOMINAL = "nominal"
    WIDE = "wide"


@dataclass(frozen=True, slots=True)
class Spread:
    """What varies from pass to pass; each pair is the least and the largest of an even spread.

    Attributes
    ----------
    final_rate_mps, slope_per_s : tuple of float
        Of the closing law |v| = final + slope * max(x - knee, 0).
    lateral_deadband_mps : tuple of float
        Lateral switching band.
    nav_offset_m, nav_rate_offset_mps : float
        1-sigma of the guidance's own navigation error.
    hold_share : float
        Share of passes that stop at ``hold_range_m``.
    hold_s : tuple of float
        How long.
    start_offset_m : float
        Half width of the lateral position at the start.
    dropouts : RandomDropouts
        Of every source.
    """

    final_rate_mps: tuple[float, float] = (0.08, 0.10)
    slope_per_s: tuple[float, float] = (0.003, 0.006)
    lateral_deadband_mps: tuple[float, float] = (0.003, 0.003)
    nav_offset_m: float = 0.015
    nav_rate_offset_mps: float = 0.001
    hold_share: float = 0.5
    hold_range_m: float = 20.0
    hold_s: tuple[float, float] = (60.0, 300.0)
    start_range_m: float = 200.0
    start_offset_m: float = 1.0
    dropouts: RandomDropouts = THREE_DROPOUTS


SPREADS: dict[Population, Spread] = {
    Population.NOMINAL: Spread(),
    Population.WIDE: Spread(
        final_rate_mps=(0.045, 0.115), lateral_deadband_mps=(0.002, 0.012), nav_offset_m=0.048
    ),
}

SHORT_CAPTURE = Capture(vestibule_s=0.0)
"""Ends the status at hard capture, for passes that are judged up to contact."""


class Member(NamedTuple):
    """One pass of a population: what to simulate and with which seed."""

    scenario: Scenario
    seed: int


def population(
    spread: Spread | Population, count: int, seed: int, base: Scenario | None = None
) -> tuple[Member, ...]:
    """Draw the passes of a population.

    Parameters
    ----------
    spread : Spread or Population
        What varies, or the name of a known spread.
    count : int
        How many passes.
    seed : int
        Of the draw; the first passes of a longer draw are those of a shorter one.
    base : Scenario or None
        What does not vary; None: the nominal scenario without what follows hard capture.

    Returns
    -------
    tuple of Member
        Pass the two parts of each to ``simulate``.
    """
    rule = SPREADS[spread] if isinstance(spread, Population) else spread
    start = base if base is not None else Scenario(capture=SHORT_CAPTURE)
    seeds = np.random.SeedSequence(seed).spawn(count)
    return tuple(_member(rule, start, number, child) for number, child in enumerate(seeds))


def _member(rule: Spread, base: Scenario, number: int, seed: np.random.SeedSequence) -> Member:
    rng = np.random.default_rng(seed)
    final, slope, band, hold_s = (
        float(rng.uniform(*pair))
        for pair in (
            rule.final_rate_mps,
            rule.slope_per_s,
            rule.lateral_deadband_mps,
            rule.hold_s,
        )
    )
    holds = (Hold(rule.hold_range_m, hold_s),) if rng.random() < rule.hold_share else ()
    y_m, z_m = rng.uniform(-rule.start_offset_m, rule.start_offset_m, 2).tolist()
    scenario = replace(
        base,
        title=f"{base.title}, pass {number + 1}",
        start_range_m=rule.start_range_m,
        start_y_m=y_m,
        start_z_m=z_m,
        holds=holds,
        steering=_steering(base.steering, rule, final, slope, band),
        sensors=tuple(_sensor(sensor, rule) for sensor in base.sensors),
    )
    return Member(scenario, int(rng.integers(2**62)))


def _steering(base: Steering, rule: Spread, final: float, slope: float, band: float) -> Steering:
    return replace(
        base,
        final_rate_mps=final,
        slope_per_s=slope,
        lateral_deadband_mps=band,
        nav_offset_m=rule.nav_offset_m,
        nav_rate_offset_mps=rule.nav_rate_offset_mps,
    )


def _sensor(base: Sensor, rule: Spread) -> Sensor:
    return replace(base, dropouts=rule.dropouts)
