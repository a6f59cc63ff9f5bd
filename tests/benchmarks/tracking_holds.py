"""Measure holds: false motion while standing, and how soon a release is seen and followed.

Run from the top of the checkout::

    python -m tests.benchmarks.tracking_holds --passes 100 --seed 9301

Nominal passes with a hold at 20 m. While the vehicle stands (from 15 s after it stopped) every
sample that is not called "not closing" is false. From the release on: time until "closing", RMS
error of the closing rate and of time to contact, coverage of its bounds, second by second.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field

import numpy as np

from console.core.records import RelativeSample
from console.simulation.population import Population, population
from console.simulation.simulate import simulate
from console.tracking.outlook import Motion
from console.tracking.tracker import Tracker
from tests.benchmarks.tracking_campaign import SETUP, load_limits

STOPPED_S = 15.0
WATCHED_S = 24.0


@dataclass
class Hold:
    """What was seen in and after one hold."""

    false: int = 0
    samples: int = 0
    rates: list[float] = field(default_factory=list)
    seen_s: float | None = None
    after: list[tuple[float, float, float | None, bool]] = field(default_factory=list)


def watch(member) -> Hold | None:
    """Watch one pass around its last hold."""
    limits = load_limits()
    simulated = simulate(member.scenario, limits, SETUP, member.seed)
    truth = simulated.truth
    if truth.contact is None or not truth.holds:
        return None
    hold, tracker, out = truth.holds[-1], Tracker(limits, SETUP), Hold()
    lead = member.scenario.sensors[0].name
    for message in simulated.messages:
        sample = message.record
        if not isinstance(sample, RelativeSample):
            continue
        tracker.update(sample)
        t = sample.t
        if t > hold.t_end + WATCHED_S:
            break
        if sample.source == lead:
            _note(out, t, hold, tracker, truth)
    return out


def _note(out: Hold, t: float, hold, tracker: Tracker, truth) -> None:
    if hold.t_start + STOPPED_S < t < hold.t_end:
        out.samples += 1
        out.false += tracker.motion(t) is not Motion.NOT_CLOSING
        out.rates.append(tracker.estimate(t).closing_rate_mps)
    if t <= hold.t_end:
        return
    if out.seen_s is None and tracker.motion(t) is Motion.CLOSING:
        out.seen_s = t - hold.t_end
    i = min(int(np.searchsorted(truth.t, t)), len(truth.t) - 1)
    error = tracker.estimate(t).closing_rate_mps + float(truth.range_rate_mps[i])
    shown, left = tracker.to_contact(t), truth.contact.t - t
    late, inside = None, True
    if shown.best_s is not None:
        late = shown.best_s - left
        inside = shown.low_s <= left and (shown.high_s is None or left <= shown.high_s)
    out.after.append((t - hold.t_end, error, late, inside))


def report(holds: list[Hold], passes: int, seed: int) -> None:
    """Print the figures."""
    samples = sum(one.samples for one in holds)
    false = sum(one.false for one in holds)
    seen = [one.seen_s for one in holds if one.seen_s is not None]
    noise = np.mean([np.std(one.rates) for one in holds])
    print(f"holds: {len(holds)} of {passes} passes, seed {seed}, {samples / 36000:.2f} h standing")
    print(f"  not 'not closing': {100 * false / samples:.4f} % of samples")
    print(f"  noise of the closing rate {1000 * noise:.2f} mm/s")
    print(f"  release seen after {np.median(seen):.1f} s, p95 {np.quantile(seen, 0.95):.1f} s")
    for k in range(0, int(WATCHED_S), 2):
        some = [row for one in holds for row in one.after if k <= row[0] < k + 1]
        rate = 1000 * np.sqrt(np.mean([row[1] ** 2 for row in some]))
        shown = [row for row in some if row[2] is not None]
        times = "not shown"
        if shown:
            rms = np.sqrt(np.mean([row[2] ** 2 for row in shown]))
            cover = 100 * np.mean([row[3] for row in shown])
            share = 100 * len(shown) / len(some)
            times = (
                f"time to contact {rms:5.1f} s rms, covered {cover:3.0f} %, shown {share:3.0f} %"
            )
        print(f"  {k:2d} s after release: rate {rate:5.1f} mm/s rms, {times}")


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--passes", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args()
    members = population(Population.NOMINAL, options.passes, options.seed)
    with ProcessPoolExecutor(options.workers) as pool:
        holds = [one for one in pool.map(watch, members, chunksize=2) if one is not None]
    report(holds, options.passes, options.seed)


if __name__ == "__main__":
    main()
