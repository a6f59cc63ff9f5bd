"""Streaming and vectorised judging on thousands of random passes and on every shipped pass.

Run from the repository with ``python -m tests.benchmarks.judging_equality [PASSES]``; 2,000 take
some minutes. Prints how many passes and records were compared, and stops at the first difference.
"""

from __future__ import annotations

import sys
from concurrent.futures import ProcessPoolExecutor
from itertools import repeat
from pathlib import Path
from tempfile import TemporaryDirectory

sys.path.insert(0, str(Path(__file__).parents[1] / "bench"))

from rejudge_cases import as_tuples, compared, judged_as_arrays, streamed

from console.app.input_file import load_limits
from console.archive.shipped import shipped
from console.bench.pass_set import PASS_SUFFIXES

PASSES = 2000
CHUNK = 50


def shipped_passes() -> list[Path]:
    """Give every pass that comes with the program."""
    files = sorted(shipped("replay_data").rglob("*"))
    return [
        path for path in files if path.suffix in PASS_SUFFIXES and "coverage" not in path.parts
    ]


def compare_shipped() -> tuple[int, int]:
    """Compare every shipped pass under every shipped limits file; count passes and records."""
    limits_files = sorted(shipped("replay_data", "limits").glob("*.toml"))
    count, paths = 0, shipped_passes()
    for path in paths:
        for name in limits_files:
            limits = load_limits(name)
            expected = as_tuples(streamed(path, limits, None))
            found = as_tuples(judged_as_arrays(path, limits, None).of(0))
            assert expected == found, f"{path.name} under {name.name}"
            count += len(expected)
    return len(paths), count


def main() -> int:
    """Compare and print."""
    passes = int(sys.argv[1]) if len(sys.argv) > 1 else PASSES
    with TemporaryDirectory() as folder, ProcessPoolExecutor(2) as pool:
        counts = list(pool.map(compared, range(passes), repeat(Path(folder)), chunksize=CHUNK))
    print(f"{passes} random passes: {sum(counts)} records equal in every bit")
    shipped_count, records = compare_shipped()
    print(f"{shipped_count} shipped passes under each limits file: {records} records equal")
    return 0


if __name__ == "__main__":
    sys.exit(main())
