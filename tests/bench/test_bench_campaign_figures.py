"""A campaign's figures from a table made by hand, and the range outside which a stop helps."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from console.app.input_file import load_limits
from console.bench.campaign_figures import (
    Quantiles,
    contact_chances,
    exceedance_chances,
    hands_off_range,
    stop_at_hands_off,
    warned_chances,
    worst_runs,
)
from console.bench.campaign_report import Wanted, report_lines
from console.bench.stop_range import last_stop
from console.envelope.limits import HandsOff
from console.envelope.setup import Setup
from console.simulation.scenario import Capture, Scenario
from console.simulation.simulate import observe
from console.simulation.truth import STATE_COLUMNS, ContactTruth, Truth
from tests.bench.campaign_tools import small_order
from tests.fakes.changed import replace

LIMITS = load_limits(None)
N = 400


def table() -> dict[str, np.ndarray]:
    """Make 400 runs: every twentieth ends outside in lateral offset, half of those warned of."""
    run = np.arange(N)
    bad = run % 20 == 0
    warned = run % 40 == 0
    columns = {
        "run": run,
        "faults": np.where(run % 10 == 0, "bias", ""),
        "contact": run != 7,
        "within_limits": ~bad & (run != 7),
        "stop_range_m": run / N,
        "stop_call_s": np.full(N, 10.0),
        "hands_off_s": np.full(N, 20.0),
        "hands_off_closing_mps": np.full(N, 0.09),
        "first_warning_s": np.where(warned, np.where(run % 80 == 0, 30.0, 5.0), np.nan),
        "first_caution_s": np.full(N, np.nan),
    }
    for one in LIMITS.contact_limits:
        columns[f"outside:{one.quantity.value}"] = bad & (one.quantity == "lateral_offset")
    for limit in LIMITS.limits:
        columns[f"raised:{limit.id}"] = warned * (limit.id == "lateral-offset")
        columns[f"margin:{limit.id}"] = np.where(warned, -run / N, 1.0)
    return columns


def test_chances_are_counted_with_exact_bounds() -> None:
    """20 of the 399 that touched are outside; the bounds are scipy's."""
    chances = {one.name: one for one in contact_chances(LIMITS, table(), 0.95)}
    found = chances["any contact limit"]
    assert (found.k, found.n) == (20, 399)
    theirs = stats.binomtest(20, 399).proportion_ci(0.95, "exact")
    assert found.bounds == pytest.approx((theirs.low, theirs.high), abs=1e-9)
    assert chances["lateral_offset"].k == 20
    assert chances["roll"].k == 0
    raised = {one.name: one.k for one in exceedance_chances(LIMITS, table(), 0.95)}
    assert raised["lateral-offset"] == 10
    assert sum(raised.values()) == 10


def test_warned_in_time_means_before_the_last_stop_call() -> None:
    """Of 20 bad contacts 10 were warned of, 5 of them while a stop still helped."""
    of_bad, in_time, of_good = warned_chances(table(), 0.95)
    assert (of_bad.k, of_bad.n) == (10, 20)
    assert (in_time.k, in_time.n) == (5, 20)
    assert of_good.k == 0


def test_the_hands_off_range_is_a_tolerance_limit() -> None:
    """59 runs: the largest bounds 95 % at 95 %; 58: none does; 93: the second largest (Wilks)."""
    values = np.sort(np.random.default_rng(1).uniform(0.5, 1.5, 93))
    for n, expected in ((58, None), (59, -1), (92, -1), (93, -2)):
        some = values[:n]
        found = hands_off_range({"stop_range_m": some}, 0.95, 0.95)
        assert found.range_m == (None if expected is None else some[expected])
        assert found.runs_needed == 59


def test_the_range_covers_the_wanted_share_as_often_as_it_says() -> None:
    """Over 400 small campaigns the true quantile is bounded in at least 95 % of them."""
    rng = np.random.default_rng(2)
    held = [
        hands_off_range({"stop_range_m": rng.random(120)}, 0.9, 0.95).range_m >= 0.9
        for _ in range(400)
    ]
    assert np.mean(held) >= 0.95 - 3 * math.sqrt(0.95 * 0.05 / 400)


def test_a_stop_at_the_files_range_helps_where_the_last_call_lay_inside() -> None:
    """All 400 lie inside 1.8 m; with 0.5 m just over half do."""
    assert stop_at_hands_off(LIMITS, table(), 0.95).k == N
    near = replace(LIMITS, hands_off=replace(LIMITS.hands_off, range_m=0.5))
    assert stop_at_hands_off(near, table(), 0.95).k == 201


def test_the_worst_runs_come_first() -> None:
    """Outside and far beyond a warning first, then outside, and only runs worth a look."""
    worst = worst_runs(LIMITS, table(), 30)
    assert worst[0] == 360
    assert set(worst) == set(range(0, N, 20))


def test_quantiles_leave_out_what_never_came() -> None:
    """NaN counts for nothing; without any value nothing is said."""
    assert Quantiles.of("x", np.array([1.0, np.nan, 3.0])).middle == 2.0
    assert math.isnan(Quantiles.of("x", np.array([np.nan])).middle)


def test_the_report_tells_all_of_it_and_the_cautions() -> None:
    """Each part has its lines; the last says what this is not."""
    lines = list(
        report_lines(small_order(N), LIMITS, "hand made", table(), Wanted().with_chance(0.97))
    )
    text = "\n".join(lines)
    assert "20/399" in text
    assert "99.00%: 1.00 m, with 95% confidence" in text
    assert "99.90%: not from 400 runs; it takes 2995" in text
    assert " 97.00%: 0.98 m" in text
    assert "takes 299 runs without a case" in text
    assert "certified flight controllers decide" in lines[-1]


def straight(rate_mps: float) -> Truth:
    """Give a truth that closes from 10 m at a constant rate."""
    seconds = 10.0 / rate_mps
    t = np.arange(round(seconds * 10) + 1) / 10.0
    arrays = {name: np.zeros_like(t) for name in STATE_COLUMNS}
    arrays["range_m"] = 10.0 - rate_mps * t
    arrays["range_rate_mps"] = np.full_like(t, -rate_mps)
    contact = ContactTruth(seconds, rate_mps, *([0.0] * 10))
    return Truth(t=t, contact=contact, captured=True, holds=(), faults=(), **arrays)


@pytest.mark.parametrize("rate_mps", [0.05, 0.1, 0.2])
def test_the_last_stop_is_the_stopping_distance(rate_mps: float) -> None:
    """At a constant rate it is v (age + link + reaction) + v²/2a, to a tenth of a second's way."""
    found = last_stop(straight(rate_mps), HandsOff(1.8, 1.0, 3.0, 0.01), age_s=0.5)
    way = rate_mps * 4.5 + rate_mps**2 / 0.02
    assert found.range_m == pytest.approx(way, abs=0.1 * rate_mps + 1e-9)
    assert found.range_m >= way - 1e-9
    assert found.before_contact_s == pytest.approx(way / rate_mps, abs=0.1 + 1e-9)


def test_where_no_contact_came_every_call_helped() -> None:
    """A vehicle that never touches was never too late to stop."""
    truth = replace(straight(0.1), contact=None)
    assert last_stop(truth, HandsOff(1.8, 1.0, 3.0, 0.01), 0.0).range_m == 0.0


def test_weaker_brakes_move_the_last_stop_out() -> None:
    """On a simulated approach, as on paper."""
    scenario = Scenario(start_range_m=4.0, holds=(), capture=Capture(samples_s=0.0))
    truth = observe(scenario, LIMITS, Setup(), 5).truth
    ranges = [
        last_stop(truth, HandsOff(1.8, 1.5, 4.0, braking), 0.1).range_m
        for braking in (0.02, 0.01, 0.004)
    ]
    assert ranges == sorted(ranges)
    assert ranges[0] < ranges[2]
