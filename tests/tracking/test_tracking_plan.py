"""The closing law, and what is learned of it in flight."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from console.envelope.limits import Curve, GlideSlope
from console.motion.glide_slope import to_contact_s
from console.tracking.final_rate import PRIOR_RATE_MPS, FinalRate
from console.tracking.plan import ClosingPlan

FLAT = ClosingPlan.of(GlideSlope(Curve((0.0, 20.0, 200.0), (0.09, 0.09, 0.55))))
SLOPED = ClosingPlan.of(GlideSlope(Curve((0.0, 20.0, 200.0), (0.05, 0.10, 0.55))))


def test_knee_and_final_rate_come_from_the_innermost_segment():
    """The knee is its outer end; its slope outside is that of the next segment."""
    assert (FLAT.knee_m, FLAT.knee_rate_mps, FLAT.final_rate_mps) == (20.0, 0.09, 0.09)
    assert pytest.approx(0.46 / 180.0) == FLAT.outer_slope_per_s
    assert (SLOPED.knee_rate_mps, SLOPED.final_rate_mps) == (0.10, 0.05)


@pytest.mark.parametrize(
    ("distance", "start", "end", "seconds"),
    [  # glide-slope transfer times computed from the published law
        (447.2135955, 1.0, 0.3, 769.190010),
        (100.0, 0.5, 0.1, 402.359478),
        (250.0, 0.5, 0.07, 1143.088870),
        (19.0, 0.15, 0.07, 181.008262),
    ],
)
def test_time_along_the_law_is_the_glide_slopes(distance, start, end, seconds):
    """Outside the knee the time equals the glide slope's transfer time."""
    plan = ClosingPlan(0.0, end, end)
    assert seconds == pytest.approx(plan.time_s(distance, start, 0.0, end), rel=1e-8)


@given(st.floats(0.5, 200.0), st.floats(0.02, 1.0))
def test_a_flat_end_gives_the_knee_line_law(range_m, speed):
    """On the usual flat innermost segment the time is the knee line's, inside and outside."""
    expected = to_contact_s(range_m, speed, 20.0, 0.09)
    if 20.0 < range_m <= 20.5:
        expected = range_m / speed
    found = FLAT.time_s(range_m, speed, 0.0, 0.09)
    assert expected == pytest.approx(found, rel=1e-5)


@given(st.floats(0.5, 150.0), st.floats(0.0, 0.95), st.floats(0.03, 0.5))
def test_time_is_the_integral_of_the_laws_rate(range_m, share, speed):
    """On a sloped end too the time is the integral of dx over the rate the law has there."""
    target = share * range_m
    bends = [m for m in (20.0,) if target < m < range_m]
    integral, _ = quad(
        lambda x: 1.0 / SLOPED.rate_at(x, range_m, speed, 0.10),
        target, range_m, points=bends or None, limit=200,
    )  # fmt: skip
    assert integral == pytest.approx(SLOPED.time_s(range_m, speed, target, 0.10), rel=2e-2)


def test_a_plan_that_ends_at_rest_still_arrives():
    """A glide slope of zero at contact gives a finite time."""
    plan = ClosingPlan.of(GlideSlope(Curve((0.0, 20.0), (0.0, 0.10))))
    assert 0.0 < plan.time_s(10.0, 0.05, 0.0, plan.knee_rate_mps) < 3600.0


def test_deceleration_is_the_laws_own():
    """The expected deceleration is slope times speed, none inside the knee or when slow."""
    assert pytest.approx(FLAT.deceleration(70.0, 0.34)) == 0.005 * 0.34
    assert FLAT.deceleration(15.0, 0.2) == 0.0
    assert FLAT.deceleration(70.0, 0.05) == 0.0


def fly(learned: FinalRate, final: float, slope: float, to_m: float, noise: float = 0.005):
    """Fly a straight law from 200 m inward at 10 samples a second."""
    rng = np.random.default_rng(3)
    x = 200.0
    while x > to_m:
        speed = final + slope * (x - 20.0)
        learned.take(x, speed + rng.normal(0.0, noise), noise**2, 16.0, 0.1)
        x -= speed * 0.1


def test_the_final_rate_is_learned_long_before_the_knee():
    """From 200 m to 50 m on a straight law, an unplanned final rate is known to some mm/s."""
    learned = FinalRate(FLAT)
    fly(learned, 0.06, 0.0045, 50.0)
    assert pytest.approx(0.06, abs=0.004) == learned.mean_mps
    assert learned.sigma_mps < 0.005


def test_the_line_is_the_weighted_least_squares_line():
    """With memory longer than the flight the result is numpy's weighted fit with the prior."""
    learned = FinalRate(FLAT)
    x = np.linspace(60.0, 59.0, 11)
    speed = 0.08 + 0.004 * (x - 20.0)
    variance = 1e-4
    for xi, si in zip(x, speed, strict=True):
        learned.take(float(xi), float(si), variance / 16.0, 16.0, 0.1)
    u = x - 20.0
    ages = np.exp(-(x - x[-1]) / 120.0)
    design = np.vstack([np.column_stack([np.ones_like(u), u]), np.eye(2)])
    weight = np.concatenate([ages / variance, [PRIOR_RATE_MPS**-2, 0.003**-2]])
    value = np.concatenate([speed, [0.09, 0.46 / 180.0]])
    root = np.sqrt(weight)
    expected, *_ = np.linalg.lstsq(design * root[:, None], value * root, rcond=None)
    assert expected == pytest.approx([learned.mean_mps, learned.slope_per_s], rel=1e-9)


def test_what_was_learned_outlasts_a_hold_and_an_outlier():
    """Braking, standing and an outlier do not spoil the line."""
    learned = FinalRate(FLAT)
    fly(learned, 0.07, 0.004, 40.0)
    known = learned.mean_mps
    for speed in (0.10, 0.05, 0.0, 0.0, -0.01, 3.0):
        learned.take(39.0, speed, 0.005**2, 16.0, 0.1)
    assert known == learned.mean_mps


def test_another_law_is_learned_anew():
    """A vehicle that goes on at quite another rate is believed after a while."""
    learned = FinalRate(FLAT)
    fly(learned, 0.09, 0.004, 100.0)
    x = 100.0
    for _ in range(600):
        speed = 0.09 + 0.010 * (x - 20.0)
        learned.take(x, speed, 0.005**2, 16.0, 0.1)
        x -= speed * 0.1
    assert pytest.approx(0.010, abs=0.002) == learned.slope_per_s


def test_far_off_pieces_of_the_plan_do_not_count():
    """Beyond the straight piece next to the knee nothing is learned."""
    plan = ClosingPlan.of(GlideSlope(Curve((0.0, 20.0, 60.0, 200.0), (0.09, 0.09, 0.2, 0.9))))
    learned = FinalRate(plan)
    learned.take(150.0, 0.5, 1e-7, 16.0, 0.1)
    assert (learned.mean_mps, learned.sigma_mps) == (0.09, PRIOR_RATE_MPS)
    assert math.isclose(plan.straight_to_m, 60.0)
