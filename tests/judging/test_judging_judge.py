"""The streaming judge against a naive reading of the judging rules, and against known tables."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from judging_oracle import Moment, Rule, exceedances, limit_at

from console.core.ids import LimitId
from console.envelope.limits import (
    Allow,
    Basis,
    Curve,
    DataRules,
    GlideSlope,
    HandsOff,
    Level,
    Limit,
    LimitsFile,
)
from console.envelope.quantity import Quantity
from console.judging.judge import Judge, Side
from console.judging.reading import Reading

T0 = 1_932_100_000.0
LEVELS = {"caution": Level.CAUTION, "warning": Level.WARNING}


def limits_file(limits: list[Limit], stale_after_s: float = 1.0) -> LimitsFile:
    """Make a limits file round some limits."""
    return LimitsFile(
        title="t",
        revision=1,
        author="",
        reason="",
        hands_off=HandsOff(1.8, 1.5, 4.0, 0.01),
        glide_slope=GlideSlope(Curve((0.0, 200.0), (0.09, 0.5))),
        marks_m=(),
        data=DataRules(stale_after_s, 5.0 * stale_after_s),
        limits=tuple(limits),
        contact_limits=(),
        sha256="",
        text="",
    )


def limit_of(rule: Rule, basis: Basis = Basis.MEASURED) -> Limit:
    """Make the limit a rule speaks of."""
    ranges, values = zip(*rule.points, strict=True)
    return Limit(
        LimitId(rule.id),
        Quantity.ROLL,
        basis,
        LEVELS[rule.level],
        Allow(rule.allow),
        Curve(ranges, values),
        rule.deadband,
        rule.on_delay_s,
        rule.off_delay_s,
    )


def reading_of(moment: Moment) -> Reading:
    """Make the reading of a moment judged as estimated, so that value and range may be unknown."""
    return Reading(
        moment.t, moment.sample_range_m, moment.range_m, {}, {Quantity.ROLL: moment.value}
    )


def judge_pass(rules: list[Rule], moments: list[Moment], stale_after_s: float) -> list[dict]:
    """Run a pass through the streaming judge, sample by sample, and collect the records."""
    judge = Judge(limits_file([limit_of(rule, Basis.ESTIMATED) for rule in rules], stale_after_s))
    records, changes = [], 0
    for moment in moments:
        if moment.first_of_source:
            judge.restart_timers()
        if not moment.valid:
            continue
        for change in judge.feed(reading_of(moment)):
            changes += 1
            if change.raised:
                records.append(change.exceedance)
            else:
                assert moment.t == change.exceedance.cleared
    assert changes == sum(2 if record.cleared else 1 for record in records)
    return [
        {
            "id": r.id,
            "level": r.level.word,
            "onset": r.onset,
            "raised": r.raised,
            "cleared": r.cleared,
            "peak": r.peak,
            "peak_limit": r.peak_limit,
            "peak_t": r.peak_t,
        }
        for r in records
    ]


def assert_agree(rules: list[Rule], moments: list[Moment], stale_after_s: float) -> int:
    """Compare judge and oracle; give how many exceedances there were."""
    got = judge_pass(rules, moments, stale_after_s)
    for rule in rules:
        expected = exceedances(rule, moments, stale_after_s)
        assert expected == [record for record in got if record["id"] == rule.id]
    return len(got)


# ---------------------------------------------------------------------------------- whole passes

STEPS_S = (0.0, 0.1, 0.1, 0.1, 0.25, 0.5, 1.0, 1.0 + 1e-6, 1.0 + 2e-6, 1.0 - 1e-6, 1.5, 3.0)
DELAYS_S = (0.0, 0.1, 0.5, 1.0, 0.5 + 0.5e-6, 0.5 + 1.5e-6, 0.5 - 1e-6, 2.0)


def random_rule(random_: random.Random, name: str) -> Rule:
    """Make a limit whose values, delays and deadbands meet the samples' exactly now and then."""
    count = random_.choice([1, 2, 2, 3, 4])
    start = random_.choice([0.0, 0.0, 1.0, 5.0])
    ranges = [start]
    for _ in range(count - 1):
        ranges.append(ranges[-1] + random_.choice([1.0, 2.5, 10.0, random_.uniform(0.1, 9.0)]))
    values = [random_.choice([1.0, 1.0, 1.5, 2.0, random_.uniform(0.5, 2.0)]) for _ in ranges]
    return Rule(
        name,
        random_.choice(["caution", "warning"]),
        random_.choice(["below", "above"]),
        list(zip(ranges, values, strict=True)),
        random_.choice([0.0, 0.0, 0.25, 0.5, random_.uniform(0.0, 1.0)]),
        random_.choice(DELAYS_S),
        random_.choice(DELAYS_S),
    )


def random_moments(random_: random.Random, rules: list[Rule], count: int) -> list[Moment]:
    """Make a pass: near the limits, with gaps, unknown values, invalid samples, new sources."""
    t, range_m, moments = T0, random_.uniform(2.0, 15.0), []
    drift = random_.choice([-0.05, -0.3, 0.0])
    mood = 0.0
    for _ in range(count):
        t += random_.choice(STEPS_S)
        range_m += drift + random_.choice([0.0, 0.0, random_.uniform(-0.5, 0.5)])
        rule = random_.choice(rules)
        inside_m = random_.uniform(rule.points[0][0], rule.points[-1][0])
        on_point_m = random_.choice(rule.points)[0]
        at_m = random_.choice([inside_m] * 6 + [on_point_m, on_point_m, range_m, -1.0])
        if random_.random() < 0.15:
            mood = random_.choice([-1.0, -0.5, 0.0, 1.0, 1.0, 1.5])
        edge = limit_at(rule.points, at_m)
        value = random_.choice(
            [
                1.0 + mood + random_.uniform(-0.3, 0.3),
                1.0 + mood,
                edge,
                None if edge is None else edge - rule.deadband,
                None if edge is None else edge + rule.deadband,
                1.0 + mood,
            ]
        )
        if value is None and random_.random() < 0.7:
            value = 1.0 + mood
        if random_.random() < 0.03:
            value = random_.choice([None, float("nan"), float("inf"), -float("inf")])
        moments.append(
            Moment(
                t,
                sample_range_m=random_.choice([range_m, abs(range_m) + 0.1, abs(range_m) + 0.1]),
                range_m=None if random_.random() < 0.02 else at_m,
                value=value,
                valid=random_.random() > 0.05,
                first_of_source=random_.random() < 0.03,
            )
        )
    return moments


@settings(max_examples=1500, deadline=None)
@given(st.integers(0, 2**62))
def test_judge_agrees_with_a_naive_reading_on_random_passes(seed: int) -> None:
    """Every raise, clear, onset and peak is the one a search over the whole pass finds."""
    random_ = random.Random(seed)
    rules = [random_rule(random_, f"limit-{n}") for n in range(random_.choice([1, 2, 3]))]
    assert_agree(rules, random_moments(random_, rules, random_.randint(1, 90)), 1.0)


def test_random_passes_raise_and_clear_and_leave_standing() -> None:
    """The random passes are worth their name: all kinds of endings occur, often."""
    random_ = random.Random(20310411)
    total = cleared = standing = delayed = 0
    for _ in range(300):
        rules = [random_rule(random_, "a")]
        records = exceedances(rules[0], random_moments(random_, rules, 60), 1.0)
        total += len(records)
        cleared += sum(r["cleared"] is not None for r in records)
        standing += sum(r["cleared"] is None for r in records)
        delayed += sum(r["raised"] > r["onset"] for r in records)
    assert total > 300
    assert min(cleared, standing, delayed) > 60


small_rules = st.builds(
    Rule,
    id=st.just("a"),
    level=st.just("warning"),
    allow=st.sampled_from(["below", "above"]),
    points=st.sampled_from([[(0.0, 1.0), (10.0, 1.0)], [(0.0, 1.0), (4.0, 2.0), (10.0, 1.5)]]),
    deadband=st.sampled_from([0.0, 0.5]),
    on_delay_s=st.sampled_from(DELAYS_S),
    off_delay_s=st.sampled_from(DELAYS_S),
)
small_steps = st.tuples(
    st.sampled_from(STEPS_S),
    st.sampled_from([0.5, 1.0, 1.25, 1.5, 2.0, None]),
    st.sampled_from([0.5, 4.0, 9.0, 11.0, 0.0]),
    st.sampled_from([True, True, True, False]),
    st.sampled_from([False, False, False, True]),
)


@settings(max_examples=1500, deadline=None)
@given(small_rules, st.lists(small_steps, max_size=14))
def test_judge_agrees_with_a_naive_reading_on_small_passes(rule: Rule, steps: list) -> None:
    """The same on short passes made of exact values, which shrink to a readable case."""
    t, moments = T0, []
    for step_s, value, range_m, valid, changed in steps:
        t += step_s
        moments.append(Moment(t, range_m, range_m, value, valid, changed))
    assert_agree([rule], moments, 1.0)


# ---------------------------------------------------------------------------------- single rules


def simple(value_limit: float = 10.0, **change: object) -> Rule:
    """Give a plain upper limit from 0 to 100 m."""
    rule = Rule("a", "warning", "below", [(0.0, value_limit), (100.0, value_limit)], 0.0, 0.0, 0.0)
    for name, value in change.items():
        setattr(rule, name, value)
    return rule


def run(rule: Rule, values: list[float | None], step_s: float = 1.0) -> list[dict]:
    """Judge values one step apart at 50 m, with data good for two steps."""
    moments = [Moment(T0 + n * step_s, 50.0, 50.0, v) for n, v in enumerate(values)]
    assert_agree([rule], moments, 2.0 * step_s)
    return judge_pass([rule], moments, 2.0 * step_s)


def indices(records: list[dict], what: str) -> list[int]:
    """Give sample numbers of a time in the records."""
    return [round(r[what] - T0) for r in records if r[what] is not None]


CHATTER = [9.8, 10.1, 9.9, 10.2, 10.3, 9.7, 9.4, 10.1, 9.3, 9.2, 9.1]


@pytest.mark.parametrize(
    ("deadband", "on_count", "off_count", "on", "off"),
    [
        (0.0, 1, 1, [1, 3, 7], [2, 5, 8]),
        (0.5, 1, 1, [1, 7], [6, 8]),
        (0.0, 2, 1, [4], [5]),
        (0.5, 1, 2, [1], [9]),
        (0.5, 2, 2, [4], [9]),
    ],
)
def test_deadband_and_delays_tame_the_chatter_example(
    deadband: float, on_count: int, off_count: int, on: list[int], off: list[int]
) -> None:
    """A worked example, computed by hand: n successive samples a second apart are n - 1 s."""
    rule = simple(
        deadband=deadband, on_delay_s=float(on_count - 1), off_delay_s=float(off_count - 1)
    )
    records = run(rule, list(CHATTER))
    assert on == indices(records, "raised")
    assert off == indices(records, "cleared")


def test_a_value_on_its_limit_is_not_violating() -> None:
    """Only beyond the limit is outside; on limit less deadband is clearing."""
    assert run(simple(), [10.0, 10.0]) == []
    records = run(simple(deadband=0.5), [10.5, 9.75, 9.5])
    assert indices(records, "cleared") == [2]


def test_the_first_violating_sample_raises_without_delay() -> None:
    """With on_delay 0 onset and raised are the same sample, with off_delay 0 the first clears."""
    records = run(simple(), [11.0, 9.0])
    assert [0] == indices(records, "onset") == indices(records, "raised")
    assert indices(records, "cleared") == [1]


def test_peak_is_the_earliest_of_the_worst_and_keeps_the_limit_of_its_own_sample() -> None:
    """On a sloping limit the worst is what exceeds its own limit most, not the largest value."""
    rule = simple(points=[(0.0, 1.0), (10.0, 11.0)])
    moments = [
        Moment(T0, 9.0, 9.0, 11.0),  # limit 10, exceeded by 1
        Moment(T0 + 1, 2.0, 2.0, 5.0),  # limit 3, exceeded by 2
        Moment(T0 + 2, 4.0, 4.0, 7.0),  # limit 5, exceeded by 2 again
        Moment(T0 + 3, 8.0, 8.0, 10.0),  # limit 9, exceeded by 1
    ]
    (record,) = judge_pass([rule], moments, 5.0)
    assert (record["peak"], record["peak_limit"], record["peak_t"]) == (5.0, 3.0, T0 + 1)
    assert record["cleared"] is None


def test_an_upper_and_a_lower_limit_mirror_each_other() -> None:
    """Judging -x against -L from above gives what judging x against L from below gives."""
    below = run(simple(deadband=0.5, on_delay_s=1.0), list(CHATTER))
    mirrored = simple(
        allow="above", points=[(0.0, -10.0), (100.0, -10.0)], deadband=0.5, on_delay_s=1.0
    )
    above = run(mirrored, [-x for x in CHATTER])
    assert [(r["onset"], r["raised"], r["cleared"], r["peak"]) for r in below] == [
        (r["onset"], r["raised"], r["cleared"], -r["peak"]) for r in above
    ]


@pytest.mark.parametrize(("extra_s", "survives"), [(0.0, True), (0.5e-6, True), (2e-6, False)])
def test_a_step_restarts_timers_only_beyond_a_microsecond(extra_s: float, survives: bool) -> None:
    """A step of stale_after_s, give or take a microsecond, is still a step between samples."""
    rule = simple(on_delay_s=1.0)
    moments = [Moment(T0, 5.0, 5.0, 11.0), Moment(T0 + 1.0 + extra_s, 5.0, 5.0, 11.0)]
    assert survives == bool(judge_pass([rule], moments, 1.0))


@pytest.mark.parametrize(("short_s", "raises"), [(0.0, True), (0.5e-6, True), (2e-6, False)])
def test_a_delay_is_reached_when_a_microsecond_or_less_is_missing(
    short_s: float, raises: bool
) -> None:
    """Clocks written in microseconds do not decide whether 0.5 s have passed."""
    rule = simple(on_delay_s=0.5)
    moments = [Moment(T0, 5.0, 5.0, 11.0), Moment(T0 + 0.5 - short_s, 5.0, 5.0, 11.0)]
    assert raises == bool(judge_pass([rule], moments, 1.0))


def test_leaving_the_curve_clears_and_breaks_a_pending_raise() -> None:
    """A range the limit does not cover counts as clearing, never as violating."""
    rule = simple(points=[(0.0, 10.0), (4.0, 10.0)], on_delay_s=1.0, off_delay_s=1.0)
    inside, outside = 2.0, 5.0
    ranges = [inside, outside, inside, inside, outside, outside]
    moments = [Moment(T0 + n, r, r, 11.0) for n, r in enumerate(ranges)]
    (record,) = judge_pass([rule], moments, 2.0)
    assert (record["onset"], record["raised"], record["cleared"]) == (T0 + 2, T0 + 3, T0 + 5)


def test_nothing_is_judged_after_stop_and_what_stands_goes_on_standing() -> None:
    """Contact ends judging; the record stays open."""
    judge = Judge(limits_file([limit_of(simple(), Basis.ESTIMATED)]))
    (change,) = judge.feed(reading_of(Moment(T0, 5.0, 5.0, 11.0)))
    judge.stop()
    assert judge.feed(reading_of(Moment(T0 + 1, 5.0, 5.0, 0.0))) == []
    assert change.exceedance.cleared is None


def test_a_sample_older_than_the_newest_judged_is_not_judged() -> None:
    """Time never falls for the judge."""
    judge = Judge(limits_file([limit_of(simple(), Basis.ESTIMATED)]))
    judge.feed(reading_of(Moment(T0, 5.0, 5.0, 1.0)))
    assert judge.feed(reading_of(Moment(T0 - 0.1, 5.0, 5.0, 11.0))) == []
    assert judge.feed(reading_of(Moment(T0, 5.0, 5.0, 11.0)))


def test_measured_and_estimated_each_take_value_and_range_from_their_own_side() -> None:
    """A measured limit looks up its curve at the sample's range, an estimated one at the other."""
    rule = simple(points=[(0.0, 10.0), (4.0, 10.0)])
    reading = Reading(T0, 3.0, 5.0, {Quantity.ROLL: 11.0}, {Quantity.ROLL: 11.0})
    measured = Judge(limits_file([limit_of(rule, Basis.MEASURED)]))
    estimated = Judge(limits_file([limit_of(rule, Basis.ESTIMATED)]))
    assert len(measured.feed(reading)) == 1
    assert estimated.feed(reading) == []


def test_the_standing_record_follows_value_and_limit() -> None:
    """While it stands a record says the newest judged value and limit, in the curve and out."""
    rule = simple(points=[(0.0, 10.0), (4.0, 10.0)], off_delay_s=5.0)
    judge = Judge(limits_file([limit_of(rule, Basis.ESTIMATED)]))
    (change,) = judge.feed(reading_of(Moment(T0, 3.0, 3.0, 11.0)))
    record = change.exceedance
    assert (record.value, record.limit) == (11.0, 10.0)
    judge.feed(reading_of(Moment(T0 + 0.1, 3.0, 3.0, 12.0)))
    assert (record.value, record.limit, record.peak) == (12.0, 10.0, 12.0)
    judge.feed(reading_of(Moment(T0 + 0.2, 3.0, 3.0, 9.0)))
    assert (record.value, record.limit, record.peak) == (9.0, 10.0, 12.0)
    judge.feed(reading_of(Moment(T0 + 0.3, 5.0, 5.0, 9.5)))
    assert (record.value, record.limit) == (9.5, None)


def test_on_a_point_the_limit_is_that_point_wherever_the_vehicle_came_from() -> None:
    """The piece that starts there is used; the one that ends there would round otherwise."""
    low, high, r1 = 0.7, 0.1, 3.3
    assert low + (high - low) * (r1 - 0.0) / (r1 - 0.0) < high  # so that it can be told
    rule = simple(points=[(0.0, low), (r1, high), (9.0, 0.5)])
    for before_m in (2.0, 5.0):
        moments = [Moment(T0, before_m, before_m, 0.0), Moment(T0 + 0.1, r1, r1, high)]
        assert judge_pass([rule], moments, 1.0) == []


# ------------------------------------------------------------------------------------- statuses


@pytest.mark.parametrize(
    ("value", "range_m", "side", "margin"),
    [
        (9.0, 3.0, Side.INSIDE, 1.0),
        (10.0, 3.0, Side.INSIDE, 0.0),
        (12.0, 3.0, Side.BEYOND, -2.0),
        (12.0, 5.0, Side.NOT_APPLIED, None),
        (None, 3.0, Side.UNKNOWN, None),
        (float("nan"), 3.0, Side.UNKNOWN, None),
        (9.0, None, Side.UNKNOWN, None),
    ],
)
def test_status_never_takes_unknown_for_inside(
    value: float | None, range_m: float | None, side: Side, margin: float | None
) -> None:
    """Unknown and not covered are answers of their own."""
    rule = simple(points=[(0.0, 10.0), (4.0, 10.0)])
    judge = Judge(limits_file([limit_of(rule, Basis.ESTIMATED)]))
    (status,) = judge.statuses(reading_of(Moment(T0, 3.0, range_m, value)))
    assert (side, margin) == (status.side, status.margin)


def trend_status(
    rate: float,
    noise: float,
    seconds: float,
    allow: str = "below",
    *,
    deadband: float = 0.02,
    seed: int = 7,
    later_s: float = 0.0,
) -> float | None:
    """Judge a value that starts 1 inside its limit and moves at a rate; give the time left."""
    random_ = random.Random(seed)
    sign = 1.0 if allow == "below" else -1.0
    rule = simple(allow=allow, points=[(0.0, 0.0), (100.0, 0.0)], deadband=deadband)
    judge = Judge(limits_file([limit_of(rule, Basis.ESTIMATED)]))
    moment = Moment(T0, 50.0, 50.0, 0.0)
    for n in range(int(seconds * 10) + 1):
        value = sign * (-1.0 + rate * n / 10.0) + random_.gauss(0.0, noise)
        moment = Moment(T0 + n / 10.0, 50.0, 50.0, value)
        judge.feed(reading_of(moment))
    moment.t += later_s
    (status,) = judge.statuses(reading_of(moment))
    return status.violates_in_s


@pytest.mark.parametrize("allow", ["below", "above"])
def test_time_to_violate_is_that_of_a_steady_trend(allow: str) -> None:
    """A value 0.4 from its limit that moves 0.1 a second reaches it in 4 s."""
    assert pytest.approx(4.0, abs=0.05) == trend_status(0.1, 0.0, 6.0, allow)
    assert pytest.approx(4.0, abs=0.8) == trend_status(0.1, 0.02, 6.0, allow)


@pytest.mark.parametrize(
    ("rate", "noise", "seconds"),
    [(-0.1, 0.0, 6.0), (0.0, 0.02, 6.0), (0.01, 0.0, 6.0), (0.1, 0.0, 1.5)],
)
def test_no_time_to_violate_without_a_clear_trend(
    rate: float, noise: float, seconds: float
) -> None:
    """Moving away, noise alone, over a minute off, or too little seen: nothing is said."""
    assert trend_status(rate, noise, seconds) is None


def test_noise_alone_seldom_makes_a_trend() -> None:
    """Three standard errors of a slope through ten points: a few in a hundred at most."""
    told = [trend_status(0.0, 0.2, 6.0, deadband=0.0, seed=seed) for seed in range(200)]
    assert sum(left is not None for left in told) <= 6


def test_a_change_smaller_than_the_noise_allowed_for_is_no_trend() -> None:
    """Half the deadband over the window is what noise may do."""
    assert trend_status(0.05, 0.0, 6.0, deadband=0.4) is not None
    assert trend_status(0.05, 0.0, 6.0, deadband=0.6) is None


def test_a_trend_coasts_with_its_age_and_ends() -> None:
    """Two seconds later it has two seconds less; after the window it says nothing."""
    assert trend_status(0.1, 0.0, 6.0, later_s=2.0) == pytest.approx(2.0, abs=0.05)
    assert trend_status(0.1, 0.0, 6.0, later_s=6.0) is None


def test_a_gap_forgets_the_trend() -> None:
    """After a gap the old margins say nothing."""
    rule = simple(points=[(0.0, 0.0), (100.0, 0.0)])
    judge = Judge(limits_file([limit_of(rule, Basis.ESTIMATED)]))
    for n in range(60):
        judge.feed(reading_of(Moment(T0 + n / 10, 50.0, 50.0, -1.0 + 0.01 * n)))
    late = Moment(T0 + 9.0, 50.0, 50.0, -0.4)
    (before,) = judge.statuses(reading_of(Moment(T0 + 6.0, 50.0, 50.0, -0.4)))
    judge.feed(reading_of(late))
    (after,) = judge.statuses(reading_of(late))
    assert before.violates_in_s is not None
    assert after.violates_in_s is None


def test_asking_for_statuses_changes_no_event() -> None:
    """A snapshot at every sample and none at all give the same records."""
    random_ = random.Random(5)
    rules = [random_rule(random_, "a")]
    moments = [m for m in random_moments(random_, rules, 300) if m.valid]
    asked = Judge(limits_file([limit_of(rules[0], Basis.ESTIMATED)]))
    unasked = Judge(limits_file([limit_of(rules[0], Basis.ESTIMATED)]))
    for moment in moments:
        reading = reading_of(moment)
        asked.statuses(reading)
        assert unasked.feed(reading) == asked.feed(reading)
        asked.statuses(reading)
