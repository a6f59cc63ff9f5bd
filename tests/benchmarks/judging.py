"""Cost of the two judges.

Run from the checkout with ``python tests/benchmarks/judging.py``. It judges the shipped final
approach file's first twelve limits and all of them over a made-up quiet pass of 10 Hz, and prints
the medians of several runs, microseconds a sample: quantities alone, judging alone, both, and
statuses for a snapshot. Then it judges passes of 2400 samples against ten limits as arrays, half
of them with a limit exceeded, and compares with copying the same arrays and with the judge of
single samples.
"""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

import numpy as np

from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.envelope.limits import LimitsFile
from console.envelope.quantity import Quantity
from console.envelope.reading import parse_limits
from console.judging.columns import PassColumns
from console.judging.gap import Gaps
from console.judging.judge import Judge
from console.judging.reading import Reading, Values, measured_values
from console.judging.whole_pass import PassJudge
from tests.fakes.changed import replace

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


PASSES = 1000
SAMPLES = 2400


def columns_of(limits: LimitsFile, seed: int) -> PassColumns:
    """Make a pass inside its limits; in every second one a quantity wanders out for a while."""
    noise = np.random.default_rng(seed)
    range_m = np.linspace(200.0, 0.01, SAMPLES)
    t = T0 + 0.1 * np.arange(SAMPLES)
    values = {}
    for limit in limits.limits:
        inner = np.interp(range_m, limit.curve.ranges_m, limit.curve.values)
        wander = 0.5 + 0.05 * noise.standard_normal(SAMPLES)
        values[limit.quantity] = inner * wander
    if seed % 2:
        limit = limits.limits[seed % len(limits.limits)]
        values[limit.quantity][1000:1300] *= 2.5
    restarts = np.zeros(SAMPLES, dtype=np.bool_)
    return PassColumns(t, range_m, range_m, values, values, restarts)


def readings_of(columns: PassColumns) -> list[Reading]:
    """Give a pass's samples one by one."""
    names = list(columns.measured)
    rows = zip(*(columns.measured[name].tolist() for name in names), strict=True)
    return [
        Reading(t, range_m, range_m, values, values)
        for t, range_m, row in zip(columns.t.tolist(), columns.range_m.tolist(), rows, strict=True)
        for values in [dict(zip(names, row, strict=True))]
    ]


def measure_whole(limits: LimitsFile) -> str:
    """Time the judge over arrays against a copy and against the judge of single samples."""
    passes = [columns_of(limits, seed) for seed in range(PASSES)]
    single = readings_of(passes[1])
    whole = PassJudge(limits)
    exceeded = sum(bool(whole.judge(columns)) for columns in passes)
    kept = [np.empty_like(passes[0].t) for _ in range(len(passes[0].measured) + 1)]

    def copies() -> None:
        for columns in passes:
            for into, array in zip(
                kept, (columns.range_m, *columns.measured.values()), strict=True
            ):
                np.copyto(into, array)

    def arrays() -> None:
        for columns in passes:
            whole.judge(columns)

    def one_by_one() -> None:
        judge = Judge(limits)
        for reading in single:
            judge.feed(reading)

    copied, judged = timed(copies, PASSES), timed(arrays, PASSES)
    streamed = timed(one_by_one, 1)
    return (
        f"{len(limits.limits)} limits over {SAMPLES} samples ({exceeded} of {PASSES} passes "
        f"exceeded): arrays {judged:.0f} us a pass, {judged / copied:.1f} times copying them "
        f"({copied:.0f} us), {streamed / judged:.0f} times faster than single samples"
    )


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
    seen: set[Quantity] = set()
    ten = [x for x in whole.limits if not (x.quantity in seen or seen.add(x.quantity))]
    sys.stdout.write(measure_whole(replace(whole, limits=tuple(ten))) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
