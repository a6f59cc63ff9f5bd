"""Cost of the streaming judge, microseconds a sample.

Run from the checkout with ``python tests/benchmarks/judging.py``. It judges the shipped final
approach file's first twelve limits and all of them over a made-up quiet pass of 10 Hz, and prints
the medians of several runs: quantities alone, judging alone, both, and statuses for a snapshot.
"""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from statistics import median

from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.envelope.limits import LimitsFile
from console.envelope.reading import parse_limits
from console.judging.gap import Gaps
from console.judging.judge import Judge
from console.judging.reading import Reading, Values, measured_values

PRESET = Path(__file__).parents[2] / "replay_data" / "limits" / "port_c_final_approach.toml"
T0 = 1_932_100_000.0
COUNT = 10_000
RUNS = 7


def quiet_pass() -> list[RelativeSample]:
    """Make two sources' samples of a quiet approach from 100 m."""
    random_ = random.Random(1)
    samples = []
    for n in range(COUNT):
        for source, every in (("optical", 1), ("radio", 5)):
            if n % every:
                continue
            samples.append(
                RelativeSample(
                    SourceId(source), n, T0 + n * 0.1, 100.0 - 0.0095 * n + random_.gauss(0, 0.02),
                    -0.095 + random_.gauss(0, 0.001), random_.gauss(0, 0.01),
                    random_.gauss(0, 0.01), random_.gauss(0, 0.1), random_.gauss(0, 0.1),
                    random_.gauss(0, 0.1), random_.gauss(0, 0.001), random_.gauss(0, 0.001),
                    random_.gauss(0, 0.01), random_.gauss(0, 0.01), random_.gauss(0, 0.01),
                )
            )  # fmt: skip
    return samples


def timed(work: Callable[[], None], count: int) -> float:
    """Give the median cost of one item, microseconds."""
    costs = []
    for _ in range(RUNS):
        start = time.thread_time()
        work()
        costs.append((time.thread_time() - start) / count * 1e6)
    return median(costs)


def measure(limits: LimitsFile) -> dict[str, float]:
    """Time each part over the quiet pass."""
    samples = quiet_pass()
    in_use = [s for s in samples if s.source == "optical"]
    readings: list[Reading] = []

    def quantities(keep: bool = False) -> list[Values]:
        gaps = Gaps(1.0)
        values = []
        for sample in samples:
            gaps.take(sample)
            if sample.source == "optical":
                values.append(measured_values(sample, None, gaps))
        if keep:
            readings.extend(
                Reading(s.t, s.range_m, s.range_m, v, v)
                for s, v in zip(in_use, values, strict=True)
            )
        return values

    quantities(keep=True)

    def judging() -> None:
        judge = Judge(limits)
        for reading in readings:
            judge.feed(reading)

    full = Judge(limits)
    for reading in readings[:200]:
        full.feed(reading)

    def statuses() -> None:
        for reading in readings[:1000]:
            full.statuses(reading)

    return {
        "quantities": timed(lambda: quantities() and None, len(in_use)),
        "judging": timed(judging, len(in_use)),
        "statuses": timed(statuses, 1000),
    }


def main() -> int:
    """Print the table."""
    whole = parse_limits(PRESET.read_bytes(), PRESET.name)
    for count in (12, len(whole.limits)):
        costs = measure(replace(whole, limits=whole.limits[:count]))
        both = costs["quantities"] + costs["judging"]
        sys.stdout.write(
            f"{count} limits: quantities {costs['quantities']:.1f} us, judging "
            f"{costs['judging']:.1f} us, both {both:.1f} us a sample; statuses "
            f"{costs['statuses']:.1f} us a snapshot\n"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
