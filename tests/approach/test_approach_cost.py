"""How much the state model does for a message, counted in calls, not in time.

A machine under load makes a time mean nothing, but the number of functions called, Python's and
compiled ones, is the same everywhere for one version of Python. The bounds are a tenth above what
3.11 counts; newer versions call less. Times are measured by ``tests.benchmarks.state_model``.
"""

from __future__ import annotations

import statistics
import sys
from collections.abc import Callable
from types import FrameType

import pytest

from console.approach.intake import Intake
from tests.benchmarks.state_model import frames_of, intake

CALLS_FEED = 750
CALLS_SNAPSHOT = 820
FIRST, LAST = 900, 1000
"""Messages that are counted: all that is shown stands by then."""


def calls_of(act: Callable[[], object]) -> int:
    """Count the functions called."""
    count = 0

    def note(frame: FrameType, event: str, arg: object) -> None:
        nonlocal count
        count += event in ("call", "c_call")

    sys.setprofile(note)
    try:
        act()
    finally:
        sys.setprofile(None)
    return count


@pytest.fixture(scope="module")
def counted() -> tuple[list[int], list[int]]:
    """Feed an approach from 25 m as a live watch does; count feeding, then a snapshot."""
    frames = frames_of("nominal", 25.0)
    taken: Intake = intake()
    for frame in frames[:FIRST]:
        taken.frame(frame)
    feeds, snapshots = [], []
    for frame in frames[FIRST:LAST]:
        feeds.append(calls_of(lambda frame=frame: taken.frame(frame)))
        snapshots.append(calls_of(taken.state.snapshot))
    return feeds, snapshots


def test_feeding_calls_few_functions(counted: tuple[list[int], list[int]]) -> None:
    """The median over a hundred messages, ticks included where they fall."""
    assert statistics.median(counted[0]) <= CALLS_FEED


def test_a_snapshot_calls_few_functions(counted: tuple[list[int], list[int]]) -> None:
    """The same of a snapshot after each message."""
    assert statistics.median(counted[1]) <= CALLS_SNAPSHOT
