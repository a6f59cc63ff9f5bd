"""The judge over whole passes gives exactly what the judge of single samples gives."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from judging_oracle import Moment, Rule
from test_judging_judge import T0, limit_of, limits_file, random_moments, random_rule, simple

from console.core.errors import UsageError
from console.envelope.limits import Basis, LimitsFile
from console.envelope.quantity import Quantity
from console.judging.columns import PassColumns
from console.judging.exceedance import Exceedance
from console.judging.judge import Judge
from console.judging.reading import Reading
from console.judging.whole_pass import PassJudge


def one_by_one(
    limits: LimitsFile, readings: list[Reading], restarts: list[int]
) -> list[Exceedance]:
    """Judge sample by sample; give the records in order of onset, then id."""
    judge, records = Judge(limits), []
    for n, reading in enumerate(readings):
        if n in restarts:
            judge.restart_timers()
        records += [change.exceedance for change in judge.feed(reading) if change.raised]
    return sorted(records, key=lambda record: (record.onset, record.id))


def as_readings(moments: list[Moment]) -> tuple[list[Reading], list[int]]:
    """Give the valid moments as readings that differ on the two sides, and the source changes."""
    readings: list[Reading] = []
    restarts: list[int] = []
    changed = False
    for m in moments:
        changed = changed or m.first_of_source
        if m.valid:
            if changed:
                restarts.append(len(readings))
            changed = False
            other = None if m.value is None else -m.value
            readings.append(
                Reading(
                    m.t,
                    m.sample_range_m,
                    m.range_m,
                    {Quantity.ROLL: other, Quantity.PITCH_YAW: m.value},
                    {Quantity.ROLL: m.value},
                )
            )
    return readings, restarts


@settings(max_examples=1000, deadline=None)
@given(st.integers(0, 2**62))
def test_both_judges_make_the_same_records_to_the_last_bit(seed: int) -> None:
    """Random limits and passes: every field of every record is equal, not nearly."""
    random_ = random.Random(seed)
    rules = [random_rule(random_, f"limit-{n}") for n in range(3)]
    readings, restarts = as_readings(random_moments(random_, rules, random_.randint(0, 150)))
    limits = limits_file(
        [
            limit_of(rules[0], Basis.ESTIMATED),
            limit_of(rules[1], Basis.MEASURED),
            replace(limit_of(rules[2], Basis.MEASURED), quantity=Quantity.PITCH_YAW),
        ]
    )
    expected = one_by_one(limits, readings, restarts)
    assert PassJudge(limits).judge(PassColumns.of(readings, restarts)) == expected


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**62))
def test_both_judges_agree_on_long_smooth_passes(seed: int) -> None:
    """Thousands of samples down a curve, with noise that just touches the limit."""
    random_ = random.Random(seed)
    rule = Rule(
        "a", "warning", random_.choice(["below", "above"]),
        [(0.0, 0.1), (2.0, 0.1), (20.0, 0.16), (200.0, 0.6)],
        0.004, random_.choice([0.0, 0.5]), random_.choice([0.0, 2.0]),
    )  # fmt: skip
    noise = np.random.default_rng(seed)
    ranges_m = np.linspace(210.0, -1.0, 2000)
    inside = -0.015 if rule.allow == "below" else 0.015
    values = np.interp(ranges_m, *zip(*rule.points, strict=True))
    values += inside + np.cumsum(noise.normal(0.0, 0.002, 2000)) * 0.2
    readings = [
        Reading(T0 + 0.1 * n, float(r), float(r), {}, {Quantity.ROLL: float(x)})
        for n, (r, x) in enumerate(zip(ranges_m, values, strict=True))
    ]
    limits = limits_file([limit_of(rule, Basis.ESTIMATED)])
    assert PassJudge(limits).judge(PassColumns.of(readings)) == one_by_one(limits, readings, [])


@pytest.mark.parametrize("allow", ["below", "above"])
def test_a_dip_of_the_curve_inside_a_block_of_samples_is_not_missed(allow: str) -> None:
    """A value that keeps the limit at both ends of a stretch may break it in between."""
    sign = 1.0 if allow == "below" else -1.0
    rule = simple(allow=allow, points=[(0.0, sign), (5.0, 0.2 * sign), (10.0, sign)])
    readings = [
        Reading(T0 + 0.1 * n, 10.0 - 0.3 * n, 10.0 - 0.3 * n, {}, {Quantity.ROLL: 0.5 * sign})
        for n in range(32)
    ]
    limits = limits_file([limit_of(rule, Basis.ESTIMATED)])
    (record,) = PassJudge(limits).judge(PassColumns.of(readings))
    assert [record] == one_by_one(limits, readings, [])


def test_on_a_point_of_the_curve_both_use_the_piece_that_starts_there() -> None:
    """The other piece would round otherwise."""
    low, high, r1 = 0.7, 0.1, 3.3
    assert low + (high - low) * (r1 - 0.0) / (r1 - 0.0) < high  # so that it can be told
    rule = simple(points=[(0.0, low), (r1, high), (9.0, 0.5)])
    columns = PassColumns.of([Reading(T0, r1, r1, {}, {Quantity.ROLL: high})])
    assert PassJudge(limits_file([limit_of(rule, Basis.ESTIMATED)])).judge(columns) == []


def test_a_quantity_nobody_measured_is_unknown_throughout() -> None:
    """It is not judged, and nothing is raised."""
    columns = PassColumns.of([Reading(T0, 5.0, None, {Quantity.ROLL: 99.0}, {})])
    bare = replace(columns, measured={}, estimated={})
    limits = limits_file([limit_of(simple(), Basis.MEASURED), limit_of(simple(), Basis.ESTIMATED)])
    assert len(PassJudge(limits).judge(columns)) == 1
    assert PassJudge(limits).judge(bare) == []
    assert PassJudge(limits).judge(PassColumns.of([])) == []


def test_samples_out_of_order_are_a_defect_of_the_caller() -> None:
    """Sorting is not the judge's business."""
    readings = [Reading(T0, 5.0, 5.0, {}, {}), Reading(T0 - 1.0, 5.0, 5.0, {}, {})]
    with pytest.raises(UsageError, match="order of time"):
        PassColumns.of(readings)
