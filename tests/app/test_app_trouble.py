"""A reduced set of the faults that ``tests.benchmarks.trouble`` plays, by the same code."""

from __future__ import annotations

import sys

import pytest

from tests.benchmarks.trouble import REDUCED, run

pytestmark = pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="reads memory, mounts and signals as Linux does"
)


@pytest.mark.parametrize("name", REDUCED)
def test_a_fault_is_survived_counted_shown_and_nothing_is_lost_unsaid(name: str) -> None:
    """End to end over a real socket, with a publisher in another process."""
    row = run(REDUCED[name])
    if row is None:
        pytest.skip("a disk of its own needs the right to mount")
    assert row.is_good, row
