"""Cost of judging many passes at once: run with ``python -m tests.benchmarks.rejudging``.

First, in one run: the judge over passes end to end, nothing known beforehand, against
``np.copyto`` of the same arrays into memory that is there, and against the judge of single
samples over the same samples. Then 1,000 passes of 5 minutes at 10 Hz against twelve limits,
judged whole, and judged again and again while one point of one curve is dragged.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

import numpy as np

from tests.fakes.changed import replace

sys.path.insert(0, str(Path(__file__).parents[1]))

from benchmarks.judging import PRESET, SAMPLES, columns_of, readings_of
from fakes.many_passes import many_set

from console.bench.rejudge import Rejudge
from console.envelope.limits import Curve, Limit, LimitsFile
from console.envelope.quantity import Quantity
from console.envelope.reading import parse_limits
from console.judging.columns import PassColumns
from console.judging.judge import Judge
from console.judging.stack import PassStack
from console.judging.whole_pass import PassJudge

PASSES, TOGETHER, RUNS = 400, 50, 7
DRAGS = 60


def stack_of(passes: list[PassColumns]) -> PassStack:
    """Put passes end to end with every value in place and nothing else worked out."""
    joined = PassStack.of(passes)
    measured = {q: v for q in Quantity if (v := joined.measured.get(q)) is not None}
    estimated = {q: v for q in Quantity if (v := joined.estimated.get(q)) is not None}
    return PassStack(
        joined.t, joined.range_m, joined.range_est_m, measured, estimated, joined.restarts,
        joined.starts.tolist(),
    )  # fmt: skip


def fresh(stack: PassStack) -> PassStack:
    """Give a stack of the same arrays that knows nothing yet."""
    return PassStack(
        stack.t, stack.range_m, stack.range_est_m, stack.measured, stack.estimated,
        stack.restarts, stack.starts.tolist(),
    )  # fmt: skip


def best_s(works: list[Callable[[], object]]) -> list[float]:
    """Give each work's least processor time of several runs taken in turn."""
    best = [float("inf")] * len(works)
    for _ in range(RUNS):
        for place, work in enumerate(works):
            begin = time.process_time()
            work()
            best[place] = min(best[place], time.process_time() - begin)
    return best


def pass_times(limits: LimitsFile, count: int = PASSES) -> tuple[float, float, float]:
    """Give the processor time of copying a pass, of judging it as arrays, sample by sample; s."""
    passes = [columns_of(limits, seed) for seed in range(count)]
    stacks = [stack_of(passes[at : at + TOGETHER]) for at in range(0, count, TOGETHER)]
    arrays = [
        [s.range_m, *(s.measured.get(limit.quantity) for limit in limits.limits)] for s in stacks
    ]
    kept = [np.empty_like(stacks[0].t) for _ in arrays[0]]
    single, judge = readings_of(passes[1]), PassJudge(limits)

    def copies() -> None:
        for mine in arrays:
            for into, array in zip(kept, mine, strict=True):
                np.copyto(into, array)

    def whole() -> None:
        for stack in stacks:
            judge.judge_all(fresh(stack))

    def one_by_one() -> None:
        streaming = Judge(limits)
        for reading in single:
            streaming.feed(reading)

    copied, judged, streamed = best_s([copies, whole, one_by_one])
    return copied / count, judged / count, streamed


def throughput(limits: LimitsFile) -> str:
    """Compare with copying and with single samples."""
    copied, judged, streamed = pass_times(limits)
    return (
        f"{len(limits.limits)} limits, {PASSES} passes of {SAMPLES} samples: judging "
        f"{judged * 1e6:.0f} us a pass, {judged / copied:.1f} times np.copyto "
        f"({copied * 1e6:.0f} us), {streamed / judged:.0f} times faster than "
        f"single samples ({streamed * 1e6:.0f} us)"
    )


def ten_limits() -> LimitsFile:
    """Give the shipped limits, of each quantity the first."""
    preset = parse_limits(PRESET.read_bytes(), PRESET.name)
    seen: set[Quantity] = set()
    ten = [x for x in preset.limits if not (x.quantity in seen or seen.add(x.quantity))]
    return replace(preset, limits=tuple(ten))


def dragged(limit: Limit, by: float) -> Limit:
    """Move the second point of a curve."""
    values = list(limit.curve.values)
    values[1] += by
    return replace(limit, curve=Curve(limit.curve.ranges_m, tuple(values)))


def dragging(limits: LimitsFile, count: int) -> str:
    """Judge a set whole, then again while a curve is dragged through the traces."""
    passes = many_set(count, limits)
    begin = time.perf_counter()
    rejudge = Rejudge(passes)
    rejudge.judge(limits)
    whole_s = time.perf_counter() - begin
    times, costs, raised = [], [], []
    for step in range(DRAGS):
        moved = dragged(limits.limits[0], -0.03 * step / DRAGS)
        draft = replace(limits, limits=(moved, *limits.limits[1:]))
        begin, spent = time.perf_counter(), time.process_time()
        run = rejudge.judge(draft).runs[0]
        run.margins  # noqa: B018 - worked out when first asked for
        times.append(time.perf_counter() - begin)
        costs.append(time.process_time() - spent)
        raised.append(len(run.records))
    return (
        f"{count} passes of {len(passes.passes[0].columns.t)} samples, {len(limits.limits)} "
        f"limits: judged whole in {whole_s:.2f} s; while dragging (0 to {max(raised)} passes "
        f"beyond it), with least margins, median {median(times) * 1e3:.0f} ms, worst "
        f"{max(times) * 1e3:.0f} ms; of the processor {median(costs) * 1e3:.0f} and "
        f"{max(costs) * 1e3:.0f} ms"
    )


def main() -> int:
    """Print the figures."""
    preset = parse_limits(PRESET.read_bytes(), PRESET.name)
    print(throughput(ten_limits()))
    twelve = replace(preset, limits=preset.limits[:12])
    for count in (300, 1000):
        print(dragging(twelve, count))
    return 0


if __name__ == "__main__":
    sys.exit(main())
