"""What varies from run to run of a campaign, and one run's draw from it.

Every varied value has a stream of random numbers of its own, made from the campaign's seed, the
run's number and the value's name. So one run can be flown alone, anywhere, and a value that is
spread anew leaves the draws of all others as they were.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final
from zlib import crc32

import numpy as np

from console.core.ids import SourceId
from console.envelope.limits import HandsOff
from console.envelope.setup import LinearSigma, SourceNoise
from console.envelope.strict_value import Bounds
from console.simulation.faults import Fault
from console.simulation.scenario import Hold, RandomDropouts, Scenario, Sensor

REDRAWS: Final = 100
"""A normal value outside what is allowed is drawn again so often, then taken at the mean."""


@dataclass(frozen=True, slots=True)
class Varied:
    """A value that differs from run to run: even between two ends, or normal about a mean.

    Attributes
    ----------
    first, second : float
        Ends of the even spread, or mean and 1-sigma of the normal one.
    bounds : Bounds or None
        What a normal value must keep to; None: nothing.
    """

    first: float
    second: float
    is_normal: bool = False
    bounds: Bounds | None = None

    def draw(self, rng: np.random.Generator) -> float:
        """Draw one value."""
        if not self.is_normal:
            return float(rng.uniform(self.first, self.second))
        for _ in range(REDRAWS):
            value = float(rng.normal(self.first, self.second))
            if self.bounds is None or self.bounds.hold(value):
                return value
        return self.first


@dataclass(frozen=True, slots=True)
class VariedHold:
    """A planned stop that happens in a share of the runs."""

    range_m: float
    for_s: Varied
    odds: float = 1.0


@dataclass(frozen=True, slots=True)
class VariedFault:
    """A fault that happens in a share of the runs; size and range where it begins may vary."""

    fault: Fault
    odds: float
    size: Varied | None = None
    at_range_m: Varied | None = None


@dataclass(frozen=True, slots=True)
class SensorSpread:
    """How one source differs from run to run.

    Attributes
    ----------
    noise, bias : Varied or None
        Factors on its white noise, and on the 1-sigma of its fixed errors.
    delay_s : Varied or None
        From measurement to publication.
    dropouts : Varied or None
        How many random stretches without samples, rounded to a whole number.
    """

    noise: Varied | None = None
    bias: Varied | None = None
    delay_s: Varied | None = None
    dropouts: Varied | None = None


@dataclass(frozen=True, slots=True)
class Dispersion:
    """Everything that varies; what is absent is as in the scenario.

    Attributes
    ----------
    start, steering : mapping
        Of the start ``range_m``, ``y_m``, ``z_m``; fields of the scenario's steering, by name.
    mass, thrust : Varied or None
        Factors on the vehicle's mass and on its thrusters' force.
    link_delay_s, reaction_s : Varied or None
        What a called stop really takes; None: as the limits file says.
    holds : tuple of VariedHold or None
        In place of the scenario's.
    """

    title: str = "No spread"
    start: Mapping[str, Varied] = field(default_factory=dict)
    steering: Mapping[str, Varied] = field(default_factory=dict)
    mass: Varied | None = None
    thrust: Varied | None = None
    link_delay_s: Varied | None = None
    reaction_s: Varied | None = None
    holds: tuple[VariedHold, ...] | None = None
    sensors: Mapping[SourceId, SensorSpread] = field(default_factory=dict)
    faults: tuple[VariedFault, ...] = ()


@dataclass(frozen=True, slots=True)
class Drawn:
    """One run of a campaign, ready to be flown.

    Attributes
    ----------
    scenario : Scenario
        With the run's own start, steering, sources and faults.
    seed : int
        For ``simulate``.
    stopping : HandsOff
        What a called stop takes in this run: the limits file's values, varied.
    """

    scenario: Scenario
    seed: int
    stopping: HandsOff


class _Dice:
    """The streams of one run."""

    def __init__(self, seed: int, run: int) -> None:
        self._seed, self._run = seed, run

    def generator(self, name: str) -> np.random.Generator:
        key = (self._run, crc32(name.encode()))
        return np.random.default_rng(np.random.SeedSequence(self._seed, spawn_key=key))

    def draw(self, name: str, varied: Varied) -> float:
        return varied.draw(self.generator(name))

    def happens(self, name: str, odds: float) -> bool:
        return float(self.generator(f"odds of {name}").random()) < odds


def draw_run(
    dispersion: Dispersion, base: Scenario, hands_off: HandsOff, seed: int, run: int
) -> Drawn:
    """Draw one run.

    Parameters
    ----------
    dispersion : Dispersion
        What varies.
    base : Scenario
        What does not.
    hands_off : HandsOff
        The limits file's: its delays and braking, where nothing else is said.
    seed, run : int
        The campaign's seed and the run's number, from 0.
    """
    dice = _Dice(seed, run)
    own = np.random.SeedSequence(seed, spawn_key=(run,))
    steering: dict[str, Any] = {
        name: dice.draw(name, varied) for name, varied in dispersion.steering.items()
    }
    strength = _factor(dice, "thrust", dispersion.thrust) / _factor(dice, "mass", dispersion.mass)
    flown = replace(base.steering, **steering)
    start = dispersion.start
    scenario = replace(
        base,
        start_range_m=_or(dice, "range_m", start.get("range_m"), base.start_range_m),
        start_y_m=_or(dice, "y_m", start.get("y_m"), base.start_y_m),
        start_z_m=_or(dice, "z_m", start.get("z_m"), base.start_z_m),
        title=f"{base.title}, run {run}",
        steering=replace(
            flown,
            pulse_mps=flown.pulse_mps * strength,
            pulse_limit_mps=flown.pulse_limit_mps * strength,
        ),
        holds=_holds(dispersion, base, dice),
        sensors=tuple(_sensor(sensor, dispersion, dice) for sensor in base.sensors),
        faults=(*base.faults, *_faults(dispersion, dice)),
    )
    stopping = replace(
        hands_off,
        link_delay_s=_or(dice, "link_delay_s", dispersion.link_delay_s, hands_off.link_delay_s),
        reaction_s=_or(dice, "reaction_s", dispersion.reaction_s, hands_off.reaction_s),
        braking_mps2=hands_off.braking_mps2 * strength,
    )
    return Drawn(scenario, int(own.generate_state(1, np.uint64)[0] >> 1), stopping)


def _factor(dice: _Dice, name: str, varied: Varied | None) -> float:
    return _or(dice, name, varied, 1.0)


def _or(dice: _Dice, name: str, varied: Varied | None, default: float) -> float:
    return default if varied is None else dice.draw(name, varied)


def _holds(dispersion: Dispersion, base: Scenario, dice: _Dice) -> tuple[Hold, ...]:
    if dispersion.holds is None:
        return base.holds
    return tuple(
        Hold(hold.range_m, dice.draw(f"hold {number}", hold.for_s))
        for number, hold in enumerate(dispersion.holds)
        if dice.happens(f"hold {number}", hold.odds)
    )


def _sensor(base: Sensor, dispersion: Dispersion, dice: _Dice) -> Sensor:
    spread = dispersion.sensors.get(base.name)
    if spread is None:
        return base
    noise = _scaled(
        base.noise,
        _factor(dice, f"{base.name} noise", spread.noise),
        _factor(dice, f"{base.name} bias", spread.bias),
    )
    delay_s = _or(dice, f"{base.name} delay", spread.delay_s, base.delay_s)
    dropouts = base.dropouts
    if spread.dropouts is not None:
        count = round(dice.draw(f"{base.name} dropouts", spread.dropouts))
        dropouts = RandomDropouts(count, dropouts.shortest_s, dropouts.longest_s)
    return replace(base, noise=noise, delay_s=delay_s, dropouts=dropouts)


def _scaled(noise: SourceNoise, white: float, bias: float) -> SourceNoise:
    def times(sigma: LinearSigma) -> LinearSigma:
        return LinearSigma(sigma.at_zero * white, sigma.per_m * white)

    return SourceNoise(
        range_m=times(noise.range_m),
        lateral_m=times(noise.lateral_m),
        range_rate_mps=times(noise.range_rate_mps),
        lateral_rate_mps=times(noise.lateral_rate_mps),
        angle_deg=times(noise.angle_deg),
        angle_rate_dps=times(noise.angle_rate_dps),
        range_bias_m=noise.range_bias_m * bias,
        lateral_bias_m=noise.lateral_bias_m * bias,
        range_rate_bias_mps=noise.range_rate_bias_mps * bias,
        lateral_rate_bias_mps=noise.lateral_rate_bias_mps * bias,
    )


def _faults(dispersion: Dispersion, dice: _Dice) -> list[Fault]:
    faults = []
    for number, varied in enumerate(dispersion.faults):
        name = f"fault {number}"
        if not dice.happens(name, varied.odds):
            continue
        fault = varied.fault
        if varied.size is not None:
            fault = replace(fault, size=dice.draw(f"size of {name}", varied.size))
        if varied.at_range_m is not None:
            fault = replace(fault, at_range_m=dice.draw(f"range of {name}", varied.at_range_m))
        faults.append(fault)
    return faults
