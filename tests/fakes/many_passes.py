"""Sets of passes made cheaply by numpy: a last 300 s at 10 Hz, some with a known fault.

They look like approaches of the shipped final approach limits - closing rate about 9 cm/s, lateral
offset that is taken out on the way in - and go beyond a limit now and then. What a fault is and
when it began is known, so nuisance, misses and delays can be counted.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from console.bench.labels import Label, Mark
from console.bench.pass_set import PassSet
from console.bench.ready_pass import DataAlarm, ReadyPass
from console.envelope.limits import LimitsFile
from console.envelope.quantity import MEASURED_ONLY, Quantity
from console.judging.columns import PassColumns

T0 = 1_932_100_000.0
STEP_S = 0.1
SAMPLES = 3000
USUAL = {
    Quantity.LATERAL_RATE: 0.006, Quantity.PITCH_YAW: 0.5, Quantity.ROLL: 0.4,
    Quantity.PITCH_YAW_RATE: 0.05, Quantity.ROLL_RATE: 0.04, Quantity.SOURCE_GAP: 0.03,
    Quantity.RANGE_RATE_GAP: 0.004,
}  # fmt: skip

Series = NDArray[np.float64]


@dataclass(frozen=True)
class Made:
    """A pass with what is true of it: when its fault began, None without one."""

    ready: ReadyPass
    fault_t: float | None


def many_passes(count: int, seed: int = 1, samples: int = SAMPLES) -> list[Made]:
    """Make passes; about one in ten has a fault."""
    return [_made(number, seed, samples) for number in range(count)]


def many_set(count: int, limits: LimitsFile, seed: int = 1, samples: int = SAMPLES) -> PassSet:
    """Make a set of passes."""
    return PassSet.of([made.ready for made in many_passes(count, seed, samples)], limits)


def _made(number: int, seed: int, samples: int) -> Made:
    noise = np.random.default_rng([seed, number])
    t = T0 + 86_400.0 * number + STEP_S * np.arange(samples)
    rate = 0.088 + 0.003 * noise.standard_normal() + _wander(noise, samples, 0.0025)
    fault_t = None
    if noise.random() < 0.1:
        begin = int(samples * noise.uniform(0.35, 0.8))
        fault_t = float(t[begin])
        ramp = noise.uniform(0.0002, 0.001) * STEP_S * np.arange(samples - begin)
        rate[begin:] += np.minimum(ramp, noise.uniform(0.015, 0.05))
    elif noise.random() < 0.15:
        middle, wide = samples * noise.uniform(0.3, 0.9), samples * noise.uniform(0.01, 0.04)
        bump = (np.arange(samples) - middle) / wide
        rate += noise.uniform(0.01, 0.04) * np.exp(-0.5 * bump * bump)
    travelled = np.cumsum(rate) * STEP_S
    range_m = travelled[-1] * noise.uniform(1.0, 1.01) - travelled + 0.02
    offset = 0.02 + 0.25 * noise.random() * range_m / range_m[0]
    offset = np.abs(offset + _wander(noise, samples, 0.01))
    values = {
        Quantity.CLOSING_RATE: rate,
        Quantity.LATERAL_OFFSET: offset,
        Quantity.CORRIDOR_ANGLE: np.degrees(np.arctan2(offset, range_m)),
    }
    for quantity, usual in USUAL.items():
        values[quantity] = np.abs(_wander(noise, samples, usual))
    measured = {q: v + 0.02 * v * noise.standard_normal(samples) for q, v in values.items()}
    estimated = {q: v for q, v in values.items() if q not in MEASURED_ONLY}
    restarts = np.zeros(samples, dtype=np.bool_)
    columns = PassColumns(t, range_m, range_m, measured, estimated, restarts)
    name = f"2031-{1 + number // 28 % 12:02d}-{1 + number % 28:02d} kittiwake {number + 1:04d}.csv"
    alarms = (DataAlarm("data:stale", "caution", float(t[100])),) if number % 9 == 0 else ()
    ready = ReadyPass(Path("passes") / name, name, columns, "optical", float(t[-1]) + 0.2, alarms)
    return Made(ready, fault_t)


def _wander(noise: np.random.Generator, samples: int, sigma: float) -> Series:
    """Give a slow random course with a standard deviation."""
    coarse = noise.standard_normal(samples // 50 + 4)
    places = np.linspace(0.0, len(coarse) - 1.0, samples)
    slow = np.interp(places, np.arange(len(coarse)), coarse)
    return sigma * (slow + 0.3 * noise.standard_normal(samples))


def labels_of(made: list[Made]) -> list[Label | None]:
    """Mark each pass by what is true of it; one in eleven is left unmarked."""
    labels: list[Label | None] = []
    for number, one in enumerate(made):
        if number % 11 == 10:
            labels.append(None)
        elif one.fault_t is None:
            labels.append(Label(Mark.GOOD, "simulation", "no fault"))
        else:
            labels.append(Label(Mark.KNOWN_FAULT, "simulation", "closing", one.fault_t))
    return labels
