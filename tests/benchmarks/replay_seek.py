"""Standing anywhere in a four-hour pass: how long a seek takes, reading it, memory.

Run it: ``python -m tests.benchmarks.replay_seek [HOURS] [SEEKS]`` from the top folder. It makes a
recording of HOURS (by default 4) with two sources of 10 Hz each, by laying simulated approaches,
holds and retreats end to end, reads it as a replay does, and seeks to SEEKS (200) random places,
each time as far as a finished snapshot, then takes random steps back by one sample. Seed 1.

Goals: median under 100 ms, worst under 300 ms.
"""

from __future__ import annotations

import gc
import os
import resource
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import msgspec
import numpy as np

from console.app.around import around_of, demo_coverage
from console.app.input_file import (
    demo_setup,
    load_limits,
    load_procedure,
    load_residuals,
    load_setup,
)
from console.app.pass_rules import rules_of, watching_model
from console.app.replay_engine import ReplayEngine
from console.app.replay_inputs import inputs_of
from console.approach.engine_time import EngineTime
from console.archive.passes import read_pass
from console.archive.recording.meta import RecordingMeta
from console.archive.recording.recorder import Recorder
from console.core.ids import SourceId
from console.core.records import Frame, Heartbeat, RelativeSample
from console.wire.encode import encode

T0 = 1_933_000_000.0
RATE_HZ = 10.0
SOURCES = ("optical", "radio")
GOAL_MEDIAN_MS, GOAL_WORST_MS = 100.0, 300.0
SEED = 1


def profile(hours: float) -> tuple[np.ndarray, np.ndarray]:
    """Give range and range rate every 0.1 s: in to 20 m, a hold, back to 200 m, and in again.

    The last stretch goes in to 0.6 m, so that marks, hands-off and limits all come.
    """
    count = int(hours * 3600.0 * RATE_HZ)
    ranges, rates = np.empty(count), np.empty(count)
    range_m, rate = 200.0, -0.5
    for n in range(count):
        left_s = (count - n) / RATE_HZ
        if left_s < 700.0:
            target = -min(0.09 + max(range_m - 20.0, 0.0) * 0.46 / 180.0, 0.55)
            rate += np.clip(target - rate, -0.002, 0.002) if range_m > 0.6 else -rate
        elif range_m <= 20.0 or (rate >= 0.0 and range_m < 200.0 and rate > 0.0):
            rate = min(rate + 0.002, 0.2)
        else:
            target = -min(0.05 + max(range_m - 20.0, 0.0) * 0.5 / 180.0, 0.55)
            rate += float(np.clip(target - rate, -0.002, 0.002))
        range_m += rate / RATE_HZ
        ranges[n], rates[n] = range_m, rate
    return ranges, rates


def make(path: Path, hours: float) -> int:
    """Write the recording; give its messages."""
    limits, setup, procedure = load_limits(None), load_setup(demo_setup()), load_procedure(None)
    around = around_of(setup, demo_setup(), demo_coverage())
    meta = RecordingMeta(
        started_s=T0, engine_time=EngineTime.RECEIVE, limits_text=limits.text,
        limits_sha256=limits.sha256, setup_text=setup.text, procedure_text=procedure.text,
        more=around.kept(),
    )  # fmt: skip
    rng = np.random.default_rng(SEED)
    ranges, rates = profile(hours)
    count = len(ranges)
    noise = rng.normal(0.0, 1.0, (len(SOURCES), count, 7))
    recorder = Recorder(path, meta, synchronous="OFF")
    sent = 0
    for n in range(count):
        for s, name in enumerate(SOURCES):
            t = T0 + n / RATE_HZ + 0.03 * s
            w = noise[s, n]
            sample = RelativeSample(
                SourceId(name), n, t, float(ranges[n] + 0.003 * w[0]),
                float(rates[n] + 0.002 * w[1]), float(0.05 + 0.002 * w[2]),
                float(-0.03 + 0.002 * w[3]), float(0.2 + 0.02 * w[4]), float(0.1 + 0.02 * w[5]),
                float(-0.2 + 0.02 * w[6]),
            )  # fmt: skip
            recorder.frame(Frame(t + 0.06, *encode(sample)))
            sent += 1
            if n % int(RATE_HZ) == 5:
                beat = Heartbeat(SourceId(name), t, n)
                recorder.frame(Frame(t + 0.061, *encode(beat)))
                sent += 1
        if n % 2000 == 0:
            recorder.flush()
    recorder.tick_end(T0 + count / RATE_HZ + 0.2)
    recorder.close(60.0)
    return sent


def rss_mb() -> float:
    """Give this process's resident memory now, MB."""
    with Path("/proc/self/statm").open() as file:
        return int(file.read().split()[1]) * resource.getpagesize() / 1e6


def timed_ms(seeks: list[float]) -> str:
    """Word a list of times."""
    ordered = sorted(seeks)
    return (
        f"median {statistics.median(ordered):6.1f}  95 % {ordered[int(0.95 * len(ordered))]:6.1f}"
        f"  worst {ordered[-1]:6.1f} ms"
    )


def timed(moves: list[Callable[[], None]], engine: ReplayEngine) -> list[tuple[float, float]]:
    """Give each move's time as far as a finished snapshot, wall and processor, ms."""
    found = []
    for move in moves:
        begin, begin_cpu = time.perf_counter(), time.process_time()
        move()
        engine.snapshot()
        took, took_cpu = time.perf_counter() - begin, time.process_time() - begin_cpu
        found.append((1e3 * took, 1e3 * took_cpu))
    return found


def show(what: str, times: list[tuple[float, float]]) -> None:
    """Print times, wall and processor."""
    print(f"{what:<20} {timed_ms([wall for wall, _ in times])}")
    print(f"{'  of the processor':<20} {timed_ms([cpu for _, cpu in times])}")


def measure(path: Path, seeks: int) -> None:
    """Read, seek, step back; print the figures."""
    one = read_pass(path)
    inputs = inputs_of(one)
    state = watching_model(one, rules_of(one, None, None), load_residuals())
    before = rss_mb()
    begin, begin_cpu = time.perf_counter(), time.process_time()
    engine = ReplayEngine(state, inputs)
    engine.scan.read(10**9)
    took, took_cpu = time.perf_counter() - begin, time.process_time() - begin_cpu
    scan = engine.scan
    gc.collect()
    print(
        f"read {scan.count} inputs in {took:.1f} s, {took_cpu:.1f} s of the processor "
        f"({1e6 * took_cpu / scan.count:.0f} us each); "
        f"{len(scan.events)} events, {len(scan.book)} checkpoints of "
        f"{scan.book.size / len(scan.book) / 1024:.1f} kB, {scan.book.size / 1e6:.1f} MB in all; "
        f"process {before:.0f} -> {rss_mb():.0f} MB"
    )
    rng = np.random.default_rng(SEED)
    places = rng.uniform(scan.time_at(1), scan.reach_t, seeks)
    times = timed([partial(engine.seek_time, float(t)) for t in places], engine)
    show(f"{seeks} random seeks", times)
    wall = [one for one, _ in times]
    is_met = statistics.median(wall) < GOAL_MEDIAN_MS and max(wall) < GOAL_WORST_MS
    goals = f"median {GOAL_MEDIAN_MS:.0f}, worst {GOAL_WORST_MS:.0f} ms"
    print(f"  goals: {goals}: {'met' if is_met else 'NOT MET'}; load {os.getloadavg()[0]:.1f}")
    steps = []
    for count in rng.integers(1000, scan.count, seeks // 2):
        engine.seek_count(int(count))
        steps += timed([partial(engine.seek_count, scan.sample_before(engine.count))], engine)
    show(f"{seeks // 2} steps back", steps)
    log = [msgspec.json.encode(found.event) for found in scan.events]
    print(f"event log {sum(map(len, log))} bytes")
    engine.close()
    if one.recording is not None:
        one.recording.close()


def main(hours: float, seeks: int) -> None:
    """Make, read, seek."""
    with tempfile.TemporaryDirectory(prefix="leadmark-seek-") as folder:
        path = Path(folder) / "long.leadmark"
        sent = make(path, hours)
        print(
            f"{hours:g} h, 2 sources of 10 Hz: {sent} messages, {path.stat().st_size / 1e6:.0f} MB"
        )
        measure(path, seeks)


if __name__ == "__main__":
    words = sys.argv[1:]
    main(float(words[0]) if words else 4.0, int(words[1]) if len(words) > 1 else 200)
