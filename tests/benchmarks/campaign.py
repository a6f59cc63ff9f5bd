"""Time, memory and agreement of campaigns.

Run from the top of the checkout::

    python -m tests.benchmarks.campaign --runs 10000 --jobs 2 --out DIR

Flies approaches from 200 m with the shipped spread and prints wall time, processor time of each
worker, and the resident memory of every process as the campaign goes on. With ``--compare N`` the
first N runs are flown again one by one, by the engine itself, and compared value by value.
"""

from __future__ import annotations

import argparse
import math
import os
import resource
import threading
import time
from pathlib import Path

from console.app.campaign import CampaignCall, run_campaign
from console.bench.campaign_lanes import LaneFlight
from console.bench.campaign_order import CampaignOrder, prepare
from console.bench.campaign_run import fly_run
from tests.bench.campaign_tools import same

EVERY_S = 30.0


def resident_mb(pid: int) -> float:
    """Give a process's resident memory, MB; 0 where it is gone."""
    try:
        words = Path(f"/proc/{pid}/statm").read_text().split()
    except OSError:
        return 0.0
    return int(words[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


def children() -> list[int]:
    """Give this process's children."""
    path = Path(f"/proc/{os.getpid()}/task/{os.getpid()}/children")
    return [int(word) for word in path.read_text().split()]


def watch_memory(done: threading.Event) -> None:
    """Print the memory of all processes now and then."""
    begun = time.monotonic()
    while not done.wait(EVERY_S):
        sizes = ", ".join(f"{resident_mb(pid):.0f}" for pid in [os.getpid(), *children()])
        print(f"  {time.monotonic() - begun:6.0f} s: {sizes} MB", flush=True)


def compare(out: Path, runs: int) -> None:
    """Fly runs in lanes and one by one, and count the values that differ."""
    prepared = prepare(CampaignOrder.of_bytes((out / "order.json").read_bytes()))
    rows = LaneFlight(prepared).fly(range(runs))
    differing: dict[str, float] = {}
    for run, row in enumerate(rows):
        by_engine = fly_run(prepared, run)
        for name in same(row, by_engine):
            value = by_engine[name]
            gap = abs(row[name] - value) if isinstance(value, float) else math.inf
            differing[name] = max(differing.get(name, 0.0), gap)
    print(f"{runs} runs, lanes against the engine: {differing or 'no value differs'}")


def main() -> None:
    """Run the campaign and print what it took."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=10_000)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--seed", type=int, default=2031)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--compare", type=int, default=0)
    options = parser.parse_args()
    done = threading.Event()
    watcher = threading.Thread(target=watch_memory, args=(done,), daemon=True)
    watcher.start()
    begun = time.monotonic()
    call = CampaignCall(options.runs, seed=options.seed, jobs=options.jobs, out=options.out)
    run_campaign(call, print)
    done.set()
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    print(
        f"{time.monotonic() - begun:.0f} s; workers' processor time "
        f"{used.ru_utime + used.ru_stime:.0f} s, largest worker {used.ru_maxrss / 1000:.0f} MB, "
        f"this process {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000:.0f} MB"
    )
    if options.compare:
        compare(options.out, options.compare)


if __name__ == "__main__":
    main()
