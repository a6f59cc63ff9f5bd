"""The judge over whole passes gives exactly what the judge of single samples gives."""

from __future__ import annotations

import random

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
from console.judging.stack import PassStack
from console.judging.whole_pass import LimitJudge, PassJudge
from tests.fakes.changed import replace


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


def random_passes(
    random_: random.Random, rules: list[Rule]
) -> list[tuple[list[Reading], list[int]]]:
    """Draw several passes, some of them empty."""
    return [
        as_readings(random_moments(random_, rules, random_.choice([0, 1, 40, 100])))
        for _ in range(random_.randint(1, 6))
    ]


@settings(max_examples=250, deadline=None)
@given(st.integers(0, 2**62))
def test_passes_judged_end_to_end_are_judged_each_by_itself(seed: int) -> None:
    """Nothing of a pass reaches into the next, whatever the two have in common."""
    random_ = random.Random(seed)
    rules = [random_rule(random_, f"limit-{n}") for n in range(2)]
    passes = random_passes(random_, rules)
    limits = limits_file([limit_of(rules[0], Basis.ESTIMATED), limit_of(rules[1], Basis.MEASURED)])
    stack = PassStack.of([PassColumns.of(*one) for one in passes])
    assert PassJudge(limits).judge_all(stack) == [one_by_one(limits, *one) for one in passes]


@settings(max_examples=250, deadline=None)
@given(st.integers(0, 2**62))
def test_the_least_margin_is_that_of_comparing_every_sample(seed: int) -> None:
    """Value and row of every pass, found by a plain loop; NaN where nothing was compared."""
    random_ = random.Random(seed)
    rule = random_rule(random_, "limit")
    passes = random_passes(random_, [rule])
    limit = limit_of(rule, Basis.ESTIMATED)
    sign = 1.0 if rule.allow == "below" else -1.0
    stack = PassStack.of([PassColumns.of(*one) for one in passes])
    margins, rows = LimitJudge(limit, 1.0).least_margins(stack)
    for number, (readings, _) in enumerate(passes):
        found = []
        for place, reading in enumerate(readings):
            value, at_m = reading.estimated[Quantity.ROLL], reading.range_est_m
            edge = None if at_m is None else limit.curve.at(at_m)
            known = value is not None and not np.isnan(value)
            if known and edge is not None and reading.range_m > 0.0:
                found.append((sign * edge - sign * value, place))
        if found:
            place = int(rows[number] - stack.starts[number])
            assert (margins[number], place) == min(found)
        else:
            assert np.isnan(margins[number])
            assert rows[number] == -1


def test_time_may_fall_where_a_source_with_another_clock_comes_into_use() -> None:
    """Both judges begin afresh there."""
    readings = [
        Reading(T0 + t, 5.0, 5.0, {}, {Quantity.ROLL: 11.0}) for t in (0.0, 0.5, -3.0, -2.5, -1.9)
    ]
    limits = limits_file([limit_of(simple(on_delay_s=1.0), Basis.ESTIMATED)])
    judge, records = Judge(limits), []
    for n, reading in enumerate(readings):
        if n == 2:
            judge.restart_timers()
            judge.newest_t = -np.inf
        records += [change.exceedance for change in judge.feed(reading) if change.raised]
    assert [(r.onset, r.raised) for r in records] == [(T0 - 3.0, T0 - 1.9)]
    assert PassJudge(limits).judge(PassColumns.of(readings, [2])) == records
