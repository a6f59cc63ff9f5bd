"""The table of published values in tests/README.md holds, line by line."""

from __future__ import annotations

import pytest
from benchmarks.outside_checks import Check, all_checks


@pytest.mark.parametrize("line", all_checks(), ids=lambda line: line.what)
def test_our_value_is_the_published_one(line: Check) -> None:
    """Ours lies within the stated tolerance of what the source prints."""
    assert line.published == pytest.approx(line.ours, abs=line.tolerance)
