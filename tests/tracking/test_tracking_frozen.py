"""The frozen check: bit for bit, through gaps, patient with coarse sensors."""

from __future__ import annotations

from itertools import pairwise

import msgspec
import numpy as np
import pytest

from console.core.ids import SourceId
from console.core.records import RelativeSample
from console.tracking.frozen import FrozenCheck


def sample(i: int, range_m: float, y_m: float = 0.0) -> RelativeSample:
    """Make a sample, ten a second."""
    return RelativeSample(SourceId("optical"), i, 1e9 + 0.1 * i, range_m, -0.09, y_m, 0, 0, 0, 0)


def run(check: FrozenCheck, samples: list[RelativeSample], interval_s: float = 0.1) -> list[str]:
    """Feed samples; give the evidence after each."""
    return [check.take(before, now, interval_s) for before, now in pairwise(samples)]


def test_a_whole_sample_repeated_five_times_is_frozen():
    """Half a second at ten samples a second, not earlier."""
    told = run(FrozenCheck(), [sample(i, 12.345) for i in range(8)])
    assert [bool(one) for one in told] == [False] * 4 + [True] * 3
    assert told[4] == "all values identical for 6 samples"


def test_a_slow_source_needs_three_repeats():
    """Two samples a second: a second and a half."""
    told = run(FrozenCheck(), [sample(i, 12.345) for i in range(5)], 0.5)
    assert [bool(one) for one in told] == [False, False, True, True]


def test_range_alone_is_frozen_after_twelve_repeats():
    """Other values changing, range still: 1.2 s."""
    told = run(FrozenCheck(), [sample(i, 12.345, 0.001 * i) for i in range(15)])
    assert [bool(one) for one in told] == [False] * 11 + [True] * 3
    assert told[11] == "range identical for 13 samples"


def test_the_count_outlives_a_gap():
    """Samples compare with the last valid one, however long ago that was."""
    check = FrozenCheck()
    run(check, [sample(i, 12.345) for i in range(5)])
    late = sample(200, 12.345)
    assert check.take(sample(4, 12.345), late, 0.1)


def test_one_differing_value_ends_it():
    """The first range that moves clears the counts."""
    check = FrozenCheck()
    run(check, [sample(i, 12.345) for i in range(8)])
    assert check.take(sample(7, 12.345), sample(8, 12.346), 0.1) == ""
    assert (check.all_repeats, check.range_repeats) == (0, 0)


@pytest.mark.parametrize("step", [0.01, 0.05, 0.1])
def test_coarse_quantisation_is_no_fault(step):
    """A range in steps of up to 10 cm repeats often without being called frozen."""
    rng = np.random.default_rng(4)
    check = FrozenCheck()
    x = 40.0 - 0.009 * np.arange(4000) + rng.normal(0.0, 0.03, 4000)
    samples = [sample(i, float(round(v / step) * step), 0.001 * i) for i, v in enumerate(x)]
    warmed = run(check, samples)[400:]
    assert not any(warmed)


def test_every_measured_field_counts():
    """A change in any one measured value makes a sample no repeat."""
    still = sample(0, 12.0)
    for name in RelativeSample.__struct_fields__:
        if name in {"source", "seq", "t", "valid", "range_m"}:
            continue
        check = FrozenCheck()
        moved = msgspec.structs.replace(sample(1, 12.0), **{name: 0.5})
        check.take(still, moved, 0.1)
        assert (name, 0) == (name, check.all_repeats)
