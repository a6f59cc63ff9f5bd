"""The table of all goals of speed, measured short: every row is there and says something."""

from __future__ import annotations

import math
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.benchmarks.goals import GROUPS
from tests.benchmarks.table import HEAD, Row, markdown

GOALS = (
    "typed decode", "receive, record", "feed, median", "feed and snapshot",
    "publish to painted, 99 %, 500/s", "recording with FULL, 500/s",
    "publish to painted, 99 %, 20/s, ms", "publish to painted, 99 %, 500/s, ms",
    "CPU of one core", "next frame, all plots", "commit of 1,000 samples", "bytes a sample",
    "in bulk", "judging whole passes", "times faster", "two processes", "of the shell",
    "of watch", "first sample shown", "--help",
)  # fmt: skip


@pytest.mark.skipif(shutil.which("Xvfb") is None, reason="no virtual screen on this machine")
def test_one_command_gives_every_row() -> None:
    """``python -m tests.benchmarks --quick`` ends well and gives every goal a figure."""
    root = Path(__file__).parents[2]
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks", "--quick"],
        cwd=root, env=os.environ | {"PYTHONPATH": str(root)}, capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    lines = [line for line in done.stdout.splitlines() if line.startswith("| ")][1:]
    assert len(lines) == len(GOALS)
    for goal, line in zip(GOALS, lines, strict=True):
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        assert goal in cells[0]
        assert len(cells) == len(HEAD)
        assert float(cells[3]) > 0.0
        assert math.isfinite(float(cells[3]))
    assert "cores" in done.stdout.splitlines()[-1]
    assert set(GROUPS) == {line.split(":")[0] for line in done.stderr.splitlines() if ": " in line}


def test_a_goal_is_met_or_missed() -> None:
    """A bound is a bound from either side, and the table says which was missed."""
    least = Row("rate", "5/s", "10/s", 0.5, 0.5, at_most=False)
    most = Row("time", "5 ms", "1 ms", 5.0, 4.0)
    assert least.is_met
    assert not most.is_met
    table = markdown([least, most]).splitlines()
    assert table[2].endswith("yes    |")
    assert "**no**" in table[3]
    assert len({len(line) for line in table}) == 1
