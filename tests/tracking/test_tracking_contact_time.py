"""Countdowns: never wild, bounds in crossing form, calibrated against simulated crossings."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from console.core.normal import Z_95
from console.envelope.limits import Curve, GlideSlope
from console.tracking.contact_time import (
    NOWHERE,
    RATE_SHARE,
    WANDER_MPS,
    WANDER_S,
    AlongNow,
    best_time_s,
    countdown,
    crossing_bounds,
    motion_of,
    settled,
    sigmas_apart,
    union,
)
from console.tracking.outlook import Countdown, Motion
from console.tracking.plan import ClosingPlan

PLAN = ClosingPlan.of(GlideSlope(Curve((0.0, 20.0, 200.0), (0.09, 0.09, 0.55))))


def state(p: float, v: float, **more: float) -> AlongNow:
    """Make a usual state."""
    usual = {
        "p": p, "v": v, "a": 1e-4, "b": 2e-6, "c": 1e-6, "lag_mps2": 0.0,
        "range_bias_m": 0.025, "rate_bias_mps": 0.001,
        "final_mps": 0.09, "final_sigma_mps": 0.015, "push": 0.0,
    }  # fmt: skip
    return AlongNow(**{**usual, **more})


@pytest.mark.parametrize(
    ("v", "c", "motion"),
    [
        (-0.05, 1e-6, Motion.CLOSING),
        (-0.009, 1e-6, Motion.NOT_CLOSING),
        (-0.05, 3e-4, Motion.NOT_CLOSING),
        (0.009, 1e-6, Motion.NOT_CLOSING),
        (0.05, 1e-6, Motion.OPENING),
    ],
)
def test_motion_needs_a_centimetre_a_second_and_three_sigma(v, c, motion):
    """Slow or uncertain motion is neither closing nor opening."""
    assert motion is motion_of(state(20.0, v, c=c))


@pytest.mark.parametrize("v", [0.0, -0.005, 0.08])
def test_no_countdown_without_closing(v):
    """In a hold and in a retreat there is no number at all."""
    assert countdown(state(20.0, v), PLAN, 0.0) is NOWHERE


def test_no_countdown_to_what_is_passed():
    """A range at or outside the present one has no countdown."""
    assert countdown(state(5.0, -0.09), PLAN, 5.0) is NOWHERE
    assert countdown(state(-0.1, -0.09), PLAN, 0.0) is NOWHERE


def test_constant_rate_is_named_outside_the_knee_only():
    """At 100 m on a slope of 0.004 to 0.1 m/s it is 402.36 s by law and 200 s at present rate."""
    now = state(100.0, -0.5, final_mps=0.1)
    law = countdown(now, ClosingPlan(0.0, 0.1, 0.1), 0.0)
    assert pytest.approx(law.best_s, rel=1e-8) == 402.359478
    assert pytest.approx(200.0) == law.at_present_rate_s
    assert countdown(state(10.0, -0.09), PLAN, 0.0).at_present_rate_s is None


def test_bounds_are_where_the_predicted_range_crosses():
    """At each bound the predicted range is 1.96 of its own sigma from the target."""
    now = state(10.0, -0.09, c_unseen=2.5e-7)
    assert now.c > now.c_unseen
    low, high = crossing_bounds(now, 1.8, 8.2 / 0.09)
    c = RATE_SHARE * (now.c - now.c_unseen) + now.c_unseen

    def spread(t: float) -> float:
        w = t / WANDER_S
        wander = 2 * (WANDER_S * WANDER_MPS) ** 2 * (w - 1 + math.exp(-w))
        return math.sqrt(
            now.a + now.range_bias_m**2 + 2 * t * now.b * math.sqrt(RATE_SHARE)
            + t * t * (c + now.rate_bias_mps**2) + wander
        )  # fmt: skip

    assert Z_95 * spread(low) == pytest.approx(8.2 - 0.09 * low, rel=1e-3)
    assert -Z_95 * spread(high) == pytest.approx(8.2 - 0.09 * high, rel=1e-3)


def test_bounds_hold_ninety_five_percent_of_simulated_crossings():
    """Ranges simulated with just these errors cross the target within the bounds in 95 %."""
    rng = np.random.default_rng(8)
    runs, step = 4000, 0.25
    now = state(8.0, -0.09, c=1.5e-6, c_unseen=1.5e-6, b=0.0)
    covariance = [
        [now.a + now.range_bias_m**2, now.b],
        [now.b, now.c + now.rate_bias_mps**2],
    ]
    start = rng.multivariate_normal([now.p, now.v], covariance, runs)
    x, v = start[:, 0].copy(), start[:, 1]
    wander = rng.normal(0.0, WANDER_MPS, runs)
    keep = math.exp(-step / WANDER_S)
    crossed = np.full(runs, np.nan)
    for i in range(800):
        x += (v + wander) * step
        wander = wander * keep + rng.normal(0.0, WANDER_MPS * math.sqrt(1 - keep**2), runs)
        crossed = np.where(np.isnan(crossed) & (x <= 0.0), (i + 1) * step, crossed)
    low, high = crossing_bounds(now, 0.0, 8.0 / 0.09)
    inside = np.mean((crossed >= low) & (crossed <= high))
    assert pytest.approx(0.95, abs=0.015) == inside


def test_a_hardly_known_rate_opens_the_late_bound():
    """With v over sigma of two the early bound is sound and the late one open, never wild."""
    low, high = crossing_bounds(state(10.0, -0.09, c=0.045**2, c_unseen=0.045**2), 0.0, 10 / 0.09)
    assert high is None
    assert 0.0 < low < 10 / 0.09
    # The chance of having crossed by the early bound is 2.5 %.
    sigma = math.sqrt(1e-4 + 0.025**2 + low**2 * (0.045**2 + 1e-6))
    assert pytest.approx(0.025, abs=0.002) == norm.cdf(-(10 - 0.09 * low) / sigma)


@given(
    st.floats(0.05, 200.0),
    st.floats(-1.0, -0.011),
    st.floats(1e-8, 1e-3),
    st.floats(0.0, 0.95),
    st.floats(0.0, 1.0),
    st.floats(0.0, 3e-3),
)
def test_a_countdown_is_ordered_and_bounded(p, v, c, share, push, lag):
    """Whatever the state, low <= best <= high, all finite, or there is none."""
    now = state(p, v, c=c, push=push, lag_mps2=lag)
    one = countdown(now, PLAN, share * p)
    if motion_of(now) is not Motion.CLOSING:
        assert one is NOWHERE
        return
    assert one.best_s is not None
    assert one.low_s is not None
    assert 0.0 <= one.low_s <= one.best_s <= (one.high_s or math.inf)
    assert math.isfinite(one.best_s)


@given(st.floats(0.5, 190.0), st.floats(-0.6, -0.02))
def test_nearer_ranges_come_later(p, v):
    """Contact comes after the hands-off point, that after a mark half-way."""
    now = state(p, v)
    half, hands_off, contact = (
        countdown(now, PLAN, target).best_s or 0.0 for target in (0.5 * p, 0.2 * p, 0.0)
    )
    assert 0.0 < half < hands_off < contact


def test_a_vehicle_pushed_off_a_hold_is_timed_by_the_final_rate():
    """A second after release the present rate says 500 s; what it settles to says 220 s."""
    started = state(20.0, -0.04, push=1.0, c=1e-4)
    assert countdown(started, PLAN, 0.0).best_s < 300.0
    assert countdown(state(20.0 - 5, -0.04), PLAN, 0.0).best_s == pytest.approx(15.0 / 0.04)


def test_a_rate_far_from_the_final_one_is_left_alone():
    """A vehicle that keeps another rate is not pulled toward the plan."""
    now = state(19.9, -0.05, final_sigma_mps=0.004)
    assert now.v == settled(now, PLAN).v


def test_union_covers_both_and_takes_the_earlier():
    """The union of disagreeing countdowns has the earliest best and the widest bounds."""
    both = union([Countdown(60.0, 50.0, 70.0), Countdown(40.0, 35.0, 48.0), NOWHERE])
    assert Countdown(40.0, 35.0, 70.0) == both
    assert union([Countdown(60.0, 50.0, None), Countdown(40.0, 35.0, 48.0)]).high_s is None
    assert union([NOWHERE]) is NOWHERE


def test_states_apart_are_measured_in_joint_sigmas():
    """A range difference counts by both sigmas, a rate difference by the time ahead too."""
    one, other = state(10.0, -0.09), state(10.4, -0.09)
    ahead = 10.0 / 0.09
    each = 1e-4 + 0.025**2 + 2 * ahead * 2e-6 + ahead**2 * 2e-6
    assert sigmas_apart(one, other) == pytest.approx(0.4 / math.sqrt(2 * each))
    faster = state(10.0, -0.11)
    assert sigmas_apart(one, faster) == pytest.approx(0.02 * ahead / math.sqrt(2 * each))
    assert sigmas_apart(state(10.0, 0.0), faster) == 0.0


def test_the_best_value_alone_is_the_countdowns():
    """What is asked without bounds is the same number, inside and outside the knee."""
    for now in (state(10.0, -0.09), state(60.0, -0.25), state(19.0, -0.095)):
        alone = best_time_s(now, PLAN, 1.8, settled(now, PLAN))
        assert countdown(now, PLAN, 1.8).best_s == alone
