"""What free drift and a simulated pass cost: ``python -m tests.benchmarks.motion_cost``.

Bounds: a look ahead over 270 times at most 40 microseconds, a whole pass from 200 m at most 2 s.
Prints medians; exits 1 where a bound is broken.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable

import numpy as np

from console.envelope.limits import Curve, DataRules, GlideSlope, HandsOff, LimitsFile
from console.envelope.setup import Setup
from console.motion.drift import FreeDrift
from console.motion.orbit import mean_motion_of_altitude
from console.simulation.population import Population, population
from console.simulation.scenario import Scenario
from console.simulation.simulate import simulate

DRIFT_BOUND_US = 40.0
PASS_BOUND_S = 2.0
LIMITS = LimitsFile(
    "", 1, "", "", HandsOff(1.7, 1.5, 4.0, 0.01),
    GlideSlope(Curve((0.0, 20.0, 200.0), (0.09, 0.09, 0.55))), (), DataRules(), (), (), "", "",
)  # fmt: skip


def median_s(work: Callable[[], object], times: int) -> float:
    """Give the median time of some work."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def main() -> int:
    """Measure, print, and tell by the exit status."""
    state = np.array([20.0, 0.1, 0.1, -0.09, 0.001, 0.001])
    n = mean_motion_of_altitude(420.0)
    short = FreeDrift("V+", n, times_s=np.linspace(0.0, 2700.0, 270))
    full = FreeDrift("V+", n)
    short_us = 1e6 * median_s(lambda: short.ahead(state), 3000)
    full_us = 1e6 * median_s(lambda: full.ahead(state), 3000)
    seeds = iter(range(100))
    pass_s = median_s(lambda: simulate(Scenario(), LIMITS, Setup(), next(seeds)), 10)
    members = iter(population(Population.NOMINAL, 20, 1))

    def one() -> object:
        scenario, seed = next(members)
        return simulate(scenario, LIMITS, Setup(), seed)

    member_s = median_s(one, 20)
    sys.stdout.write(
        f"free drift, 270 times: {short_us:.1f} us (bound {DRIFT_BOUND_US:g})\n"
        f"free drift, {full.times_s.size} times over two orbits: {full_us:.1f} us\n"
        f"nominal pass from 200 m to the leak check: {pass_s:.3f} s (bound {PASS_BOUND_S:g})\n"
        f"pass of the nominal population: {member_s:.3f} s, 500 in {500 * member_s:.0f} s\n"
    )
    return int(short_us > DRIFT_BOUND_US or pass_s > PASS_BOUND_S)


if __name__ == "__main__":
    raise SystemExit(main())
