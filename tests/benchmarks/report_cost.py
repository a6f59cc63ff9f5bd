"""What a report costs on a long pass: ``python -m tests.benchmarks.report_cost [HOLD_S]``.

Flies the nominal scenario (seed 1) with holds of HOLD_S seconds at 200 m and at 20 m (by default
6600 each: about four hours of two sources, 10 Hz and 2 Hz), writes it as Parquet, and prints CPU
seconds and the greatest memory so far of: judging alone, judging with all that a report tells, the
HTML, the PDF.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

from console.app.input_file import load_limits, load_scenario, load_setup
from console.app.report import write_report
from console.app.score import ScoreOrder, score_one
from console.archive.parquet_pass import write_parquet_pass
from console.core.records import CaptureStatus, RelativeSample
from console.simulation.scenario import Hold
from console.simulation.simulate import simulate


def fly(path: Path, hold_s: float) -> float:
    """Write the long pass; give its length, s."""
    holds = (Hold(200.0, hold_s), Hold(20.0, hold_s))
    scenario = replace(load_scenario("nominal"), holds=holds, longest_s=3.0 * hold_s + 3600.0)
    flown = simulate(scenario, load_limits(None), load_setup(None), 1)
    records = [m.record for m in flown.messages]
    kept = [r for r in records if isinstance(r, RelativeSample | CaptureStatus)]
    write_parquet_pass(path, kept)
    return flown.messages[-1].t_publish_s - flown.messages[0].t_publish_s


def timed(name: str, work: Callable[[], object]) -> object:
    """Do a piece of work and print its cost."""
    began = time.process_time()
    found = work()
    memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    print(f"{name:<22} {time.process_time() - began:6.1f} s CPU   {memory_mb:5.0f} MB at most")
    return found


def main() -> None:
    """Fly, judge, write, print."""
    hold_s = float(sys.argv[1]) if len(sys.argv) > 1 else 6600.0
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "long.parquet"
        length_s = fly(path, hold_s)
        print(f"{length_s / 3600.0:.1f} h")
        timed("judging", lambda: score_one(path, ScoreOrder()))
        timed("judging for a report", lambda: score_one(path, ScoreOrder(wants_report=True)))
        debrief = score_one(path, ScoreOrder(wants_report=True)).debrief
        assert debrief is not None
        for ending in ("html", "pdf"):
            target = Path(place) / f"long.{ending}"
            timed(ending.upper(), partial(write_report, [debrief], target, 0.0))
            print(f"{target.name:<22} {target.stat().st_size / 1e6:6.1f} MB")


if __name__ == "__main__":
    main()
