"""Score the leak check on simulated vestibules: verdicts, and the time said to be needed.

Run from the top of the checkout (about ten minutes)::

    python -m tests.benchmarks.leak_campaign --checks 1000 --seed 43

Each check is a vestibule held at about one atmosphere that leaks at a known rate while its gas
drifts by 1 K: steadily, settling from a fill, or with the orbit. Pressure noise is drawn from 1 to
20 Pa, temperature noise is 0.02 K, and half of the temperature sensors lag by 300 s, as the setup
says. Readings come once a second to the watch that the console runs, which looks once a minute,
until it decides or three hours are over. Every verdict counts, whenever it came.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from console.approach.capture_now import LeakNow, LeakState
from console.approach.leak_watch import LeakWatch
from console.core.ids import SourceId
from console.core.records import CaptureStatus
from console.envelope.setup import Vestibule

LIMIT_PA_PER_H = 20.0
LAG_S = 300.0
LONGEST_S = 3.0 * 3600.0
NOISE_PA = (1.0, 20.0)
NOISE_K = 0.02
DRIFT_K = 1.0
ORBIT_S = 5560.0
WALL_K = 293.15
T0 = 1_932_100_000.0

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Check:
    """One check: what came out when, and what was said at each minute."""

    state: LeakState
    lasted_s: float
    said: list[tuple[float, LeakNow]]

    def half_way(self) -> LeakNow | None:
        """Give what was said half way to the verdict."""
        at_s = 0.5 * self.lasted_s
        before = [now for since_s, now in self.said if since_s <= at_s]
        return before[-1] if before else None

    def needed_ratio(self) -> float | None:
        """Give the time said to be needed half way, over the time it took; None without one."""
        now = self.half_way()
        if now is None or now.minutes_needed is None:
            return None
        return now.minutes_needed * 60.0 / (0.5 * self.lasted_s)


def drift(rng: np.random.Generator, since_s: Array) -> Array:
    """Draw a gas temperature that moves by 1 K, relative to the wall."""
    kind = rng.integers(3)
    sign = rng.choice([-1.0, 1.0])
    if kind == 0:
        return np.asarray(sign * DRIFT_K * since_s / LONGEST_S)
    if kind == 1:
        return np.asarray(sign * DRIFT_K * np.exp(-since_s / rng.uniform(300.0, 1800.0)))
    swing = np.sin(2.0 * math.pi * (since_s / ORBIT_S + rng.uniform()))
    return np.asarray(0.5 * DRIFT_K * swing)


def lagged(values: Array, lag_s: float) -> Array:
    """Give what a sensor with a first-order lag shows, settled at first, read once a second."""
    if lag_s <= 0.0:
        return values
    keep = math.exp(-1.0 / lag_s)
    shown, out = float(values[0]), []
    for value in values.tolist():
        shown = keep * shown + (1.0 - keep) * value
        out.append(shown)
    return np.asarray(out)


def readings(
    rng: np.random.Generator, leak_pa_per_h: float, lag_s: float
) -> Iterator[CaptureStatus]:
    """Draw a check's readings, one a second."""
    since = np.arange(LONGEST_S)
    gas = WALL_K + drift(rng, since)
    noise_pa = math.exp(rng.uniform(math.log(NOISE_PA[0]), math.log(NOISE_PA[1])))
    pa = (101_325.0 - leak_pa_per_h * since / 3600.0) * gas / WALL_K
    pa = pa + noise_pa * rng.standard_normal(since.size)
    degc = lagged(gas, lag_s) - 273.15 + NOISE_K * rng.standard_normal(since.size)
    for n, (pressure, temperature) in enumerate(zip(pa.tolist(), degc.tolist(), strict=True)):
        yield CaptureStatus(
            SourceId("mechanism"), n, T0 + n,
            vestibule_kpa=pressure / 1000.0, vestibule_degc=temperature,
        )  # fmt: skip


def check(rng: np.random.Generator, leak_pa_per_h: float) -> Check:
    """Simulate one check until its verdict, or until it is given up."""
    lag_s = LAG_S if rng.random() < 0.5 else 0.0
    watch = LeakWatch(Vestibule(1.0, LIMIT_PA_PER_H, lag_s))
    said: list[tuple[float, LeakNow]] = []
    first_t: float | None = None
    for n, status in enumerate(readings(rng, leak_pa_per_h, lag_s)):
        watch.take(status)
        if watch.passes or watch.fails:
            state = LeakState.PASSES if watch.passes else LeakState.FAILS
            return Check(state, status.t - (first_t or status.t), said)
        if n % 60 == 59:
            now = watch.picture()
            assert now is not None
            first_t = now.t_first
            if first_t is not None:
                said.append((status.t - first_t, now))
    return Check(LeakState.UNDECIDED, LONGEST_S, said)


def campaign(count: int, seed: int, share: float) -> list[Check]:
    """Simulate many checks of a leak that is a share of the limit."""
    rng = np.random.default_rng(seed)
    return [check(rng, share * LIMIT_PA_PER_H) for _ in range(count)]


def share_of(checks: list[Check], state: LeakState) -> float:
    """Give the share of checks that ended so."""
    return sum(one.state is state for one in checks) / len(checks)


def near(checks: list[Check], factor: float = 1.5) -> float:
    """Give the share of decided checks whose needed time was right within a factor half way."""
    ratios = [one.needed_ratio() for one in checks if one.state is not LeakState.UNDECIDED]
    good = [r is not None and 1.0 / factor <= r <= factor for r in ratios]
    return float(np.mean(good))


def straddles(checks: list[Check]) -> float:
    """Give the share of looks that straddle the limit and say that it may never be decided."""
    said = [
        now.may_never
        for one in checks
        for _, now in one.said
        if now.state is LeakState.UNDECIDED
        and now.loss_pa_per_h.low is not None
        and now.loss_pa_per_h.high is not None
        and now.loss_pa_per_h.low <= LIMIT_PA_PER_H <= now.loss_pa_per_h.high
    ]
    return float(np.mean(said)) if said else math.nan


def main() -> None:
    """Print verdicts and needed times for leaks of half, once and twice the limit."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--checks", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=43)
    chosen = parser.parse_args()
    print("leak/limit  passes   fails  undecided  median min  needed within 1.5  straddling told")
    for number, share in enumerate((0.5, 1.0, 2.0)):
        checks = campaign(chosen.checks, chosen.seed + number, share)
        decided = [one.lasted_s / 60.0 for one in checks if one.state is not LeakState.UNDECIDED]
        print(
            f"{share:10.1f} {share_of(checks, LeakState.PASSES):7.1%}"
            f" {share_of(checks, LeakState.FAILS):7.1%}"
            f" {share_of(checks, LeakState.UNDECIDED):10.1%}"
            f" {np.median(decided) if decided else math.nan:11.0f} {near(checks):18.1%}"
            f" {straddles(checks):16.1%}",
            flush=True,
        )


if __name__ == "__main__":
    main()
