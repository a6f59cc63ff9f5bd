"""Score the damping fit on simulated captures: decay time, its bounds, the time to settle.

Run from the top of the checkout::

    python -m tests.benchmarks.damping_campaign --captures 500 --seed 41

Each capture is a motion of one or three axes that share one decay and period, drawn anew, sent as
capture statuses with white noise on the size and given to the watch that the console runs. It is
asked once, when two decay times have been seen: the settling lies two more ahead. The first row
is at the rate at which the simulated mechanism sends while motion is damping. Beside what was
measured stands what no unbiased estimate can do better (``damping_bound``).
"""

from __future__ import annotations

import argparse
import math
import time
from dataclasses import dataclass

import numpy as np

from console.approach.capture_now import DampingChannel
from console.approach.damping_watch import DAMPED_MPS, DampingWatch
from console.core.ids import SourceId
from console.core.records import CaptureStatus
from console.simulation.mechanism import DAMPING_STEP_S
from tests.benchmarks.damping_bound import Motion, least_quantile

SHIPPED_HZ = 1.0 / DAMPING_STEP_S
DECAYS_S = (8.0, 20.0, 40.0)
PERIODS_S = (4.0, 9.0)
AMPLITUDE_MPS = 0.1
T0 = 1_932_100_000.0


@dataclass(frozen=True)
class Asked:
    """What was said of one capture, and what is true."""

    decay_s: float
    settles_s: float
    said: DampingChannel | None
    slowest_ms: float
    least_share: float
    """Cramer-Rao bound of the decay time's 1-sigma, a share of it."""
    least_known_share: float
    """The same for one who knows amplitude, period and phase beforehand."""

    @property
    def error(self) -> float:
        """Error of the decay time, a share of it; infinite where none was given."""
        best = None if self.said is None else self.said.decay_s.best
        return math.inf if best is None else abs(best / self.decay_s - 1.0)

    @property
    def covers(self) -> bool:
        """Whether the bounds of the time to settle hold the true one."""
        if self.said is None or self.said.t_settles.low is None:
            return False
        high = self.said.t_settles.high
        t = T0 + self.settles_s
        return self.said.t_settles.low <= t and (high is None or t <= high)


def drawn(rng: np.random.Generator) -> Motion:
    """Draw a motion whose envelope begins at ``AMPLITUDE_MPS``."""
    decay_s = float(rng.choice(DECAYS_S))
    w = 2.0 * math.pi / rng.uniform(*PERIODS_S)
    swing = rng.standard_normal((int(rng.choice([1, 3])), 2))
    return Motion(decay_s, w, swing * (AMPLITUDE_MPS / np.linalg.svd(swing)[1][0]))


def capture(rng: np.random.Generator, snr: float, rate_hz: float, decays: float = 2.0) -> Asked:
    """Simulate one capture and ask the watch at its end."""
    motion = drawn(rng)
    t = np.arange(0.0, decays * motion.decay_s, 1.0 / rate_hz)
    noise = AMPLITUDE_MPS / snr
    size = np.abs(motion.size(t) + rng.standard_normal(t.size) * noise)
    watch, slowest_ms = DampingWatch(), 0.0
    for n, (at_s, value) in enumerate(zip(t.tolist(), size.tolist(), strict=True)):
        status = CaptureStatus(
            SourceId("mechanism"), n, T0 + at_s, soft_capture=True, rel_rate_mps=value
        )
        start = time.thread_time()
        watch.take(status, is_captured=True, is_retracting=False)
        slowest_ms = max(slowest_ms, 1e3 * (time.thread_time() - start))
    now = watch.picture()
    return Asked(
        motion.decay_s,
        motion.decay_s * math.log(AMPLITUDE_MPS / DAMPED_MPS),
        None if now is None else now.channels[0],
        slowest_ms,
        motion.least_share(t, noise),
        motion.least_share(t, noise, knows_all_else=True),
    )


def campaign(
    count: int, seed: int, snr: float = 20.0, rate_hz: float = SHIPPED_HZ, decays: float = 2.0
) -> list[Asked]:
    """Simulate and ask many captures."""
    rng = np.random.default_rng(seed)
    return [capture(rng, snr, rate_hz, decays) for _ in range(count)]


def main() -> None:
    """Print errors and coverage for several signal-to-noise ratios and rates of the statuses."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--captures", type=int, default=500)
    parser.add_argument("--seed", type=int, default=41)
    chosen = parser.parse_args()
    print(" Hz   S/N  decays  p50    p95    bound  all else known  settle covered  refused   ms")
    for rate_hz, snr, decays in (
        (SHIPPED_HZ, 20.0, 2.0), (2.0, 20.0, 2.0), (2.0, 20.0, 3.0), (2.0, 50.0, 2.0),
        (2.0, 450.0, 2.0),
    ):  # fmt: skip
        asked = campaign(chosen.captures, chosen.seed, snr, rate_hz, decays)
        known = [a for a in asked if math.isfinite(a.error)]
        errors = [a.error for a in known]
        print(
            f"{rate_hz:3.0f} {snr:5.0f} {decays:7.0f}  {np.median(errors):6.2%}"
            f" {np.quantile(errors, 0.95):6.2%}"
            f" {least_quantile([a.least_share for a in asked]):7.2%}"
            f" {least_quantile([a.least_known_share for a in asked]):13.2%}"
            f"  {np.mean([a.covers for a in known]):13.1%}"
            f"  {len(asked) - len(known):7d}"
            f"  {np.quantile([a.slowest_ms for a in asked], 0.95):5.1f}",
            flush=True,
        )
        for decay_s in DECAYS_S:
            mine = [a for a in asked if a.decay_s == decay_s]
            print(
                f"      of {decay_s:3.0f} s: {np.quantile([a.error for a in mine], 0.95):6.2%},"
                f" bound {least_quantile([a.least_share for a in mine]):.2%}",
                flush=True,
            )


if __name__ == "__main__":
    main()
