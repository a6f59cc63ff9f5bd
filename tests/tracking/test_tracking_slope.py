"""Rate against the slope of range: least squares, its sigma, steps, gaps."""

from __future__ import annotations

import numpy as np
import pytest

from console.tracking.slope import ChannelNoise, SlopeCheck

NOISE = ChannelNoise(0.03**2, 0.005**2, 0.001, 0.1)
QUIET = ChannelNoise(1e-8, 1e-10, 0.0, 0.1)


def coloured(rng: np.random.Generator, sigma: float, n: int, step: float) -> np.ndarray:
    """White noise of a sigma plus slow noise of half of it and 3 s."""
    slow = np.zeros(n)
    keep = np.exp(-step / 3.0)
    slow[0] = rng.normal(0.0, 0.5 * sigma)
    for i in range(1, n):
        slow[i] = keep * slow[i - 1] + rng.normal(0.0, 0.5 * sigma * np.sqrt(1 - keep**2))
    return slow + rng.normal(0.0, sigma, n)


def feed(check: SlopeCheck, t: np.ndarray, x: np.ndarray, v: np.ndarray) -> None:
    """Feed whole arrays."""
    for one in zip(t.tolist(), x.tolist(), v.tolist(), strict=True):
        check.take(*one, 0.1)


def test_slope_is_the_least_squares_slope():
    """A range that runs off its rate by 20 mm/s shows a slope of 20 mm/s."""
    t = np.arange(0.0, 40.0, 0.1)
    check = SlopeCheck()
    feed(check, t, 30.0 - 0.09 * t, np.full_like(t, -0.11))
    slope = check.slope(20.0, QUIET, -0.11)
    assert pytest.approx(0.020, abs=1e-6) == slope.value
    assert pytest.approx(20.0, abs=0.6) == slope.span_s


@pytest.mark.parametrize("window_s", [20.0, 60.0])
def test_sigma_of_the_slope_is_that_of_simulated_noise(window_s):
    """Over 150 simulated stretches the scatter of the slope is what its sigma says."""
    rng = np.random.default_rng(21)
    t = np.arange(0.0, window_s + 2.0, 0.1)
    scores = []
    for _ in range(150):
        check = SlopeCheck()
        x = 30.0 - 0.09 * t + coloured(rng, 0.03, len(t), 0.1)
        v = -0.09 + coloured(rng, 0.005, len(t), 0.1) + rng.normal(0.0, 0.001)
        feed(check, t, x, v)
        slope = check.slope(window_s, NOISE, -0.09)
        scores.append(slope.value / slope.sigma)
    assert pytest.approx(1.0, abs=0.25) == np.std(scores)


@pytest.mark.parametrize("count", [3, 4, 10])
def test_wild_rates_in_a_row_are_no_step_of_range(count):
    """A median of five lets three pass; what they integrate to says nothing of range."""
    t = np.arange(0.0, 40.0, 0.1)
    v = np.full_like(t, -0.09)
    v[100 : 100 + count] = -100.0
    check = SlopeCheck()
    steps = [
        abs(step.value)
        for one in zip(t.tolist(), (30.0 - 0.09 * t).tolist(), v.tolist(), strict=True)
        if check.take(*one, 0.1) and (step := check.step(QUIET)) is not None
    ]
    assert len(steps) > 20
    assert max(steps) < 1e-6


def test_a_rate_that_leaps_for_good_runs_off():
    """Of a rate wrong by 1 m/s from now on the slope tells, however it began."""
    t = np.arange(0.0, 40.0, 0.1)
    check = SlopeCheck()
    feed(check, t, 30.0 - 0.09 * t, np.where(t < 15.0, -0.09, -1.09))
    assert pytest.approx(1.0, abs=1e-6) == check.slope(20.0, QUIET, -1.09).value


def test_a_step_is_seen_within_two_seconds():
    """Half a metre on range alone is a step of half a metre."""
    rng = np.random.default_rng(2)
    t = np.arange(0.0, 30.0, 0.1)
    x = 30.0 - 0.09 * t + coloured(rng, 0.03, len(t), 0.1) + np.where(t >= 20.0, 0.5, 0.0)
    v = -0.09 + coloured(rng, 0.005, len(t), 0.1)
    check = SlopeCheck()
    found = None
    for one in zip(t.tolist(), x.tolist(), v.tolist(), strict=True):
        if check.take(*one, 0.1):
            step = check.step(NOISE)
            if step and abs(step.value) > 6 * step.sigma:
                found = one[0], step
                break
    assert found is not None
    assert 20.0 < found[0] < 22.1
    assert pytest.approx(0.5, abs=0.1) == found[1].value


def test_a_braking_vehicle_is_no_fault():
    """Whatever the vehicle really does shows in both channels and leaves e alone."""
    t = np.arange(0.0, 60.0, 0.1)
    v = np.where(t < 20.0, -0.3, np.where(t < 40.0, -0.3 + 0.015 * (t - 20.0), 0.0))
    x = 30.0 + np.concatenate([[0.0], np.cumsum(0.5 * (v[1:] + v[:-1]) * 0.1)])
    check = SlopeCheck()
    feed(check, t, x, v)
    assert abs(check.slope(35.0, NOISE, 0.0).value) < 1e-3
    assert abs(check.step(NOISE).value) < 1e-3


def test_an_outlier_in_either_channel_does_nothing():
    """Medians take single outliers out."""
    t = np.arange(0.0, 30.0, 0.1)
    x, v = 30.0 - 0.09 * t, np.full_like(t, -0.09)
    x[250] += 5.0
    v[270] -= 3.0
    check = SlopeCheck()
    feed(check, t, x, v)
    assert pytest.approx(0.0, abs=1e-9) == check.slope(20.0, QUIET, -0.09).value


def test_a_long_gap_begins_anew():
    """What happened inside a gap is not known, so nothing is compared across it."""
    t = np.concatenate([np.arange(0.0, 20.0, 0.1), np.arange(28.0, 30.0, 0.1)])
    check = SlopeCheck()
    feed(check, t, 30.0 - 0.09 * t, np.full_like(t, -0.09))
    assert check.slope(20.0, NOISE, -0.09) is None


def test_nothing_is_said_before_there_is_enough():
    """Ten seconds and eight blocks are needed for a slope, eleven blocks for a step."""
    t = np.arange(0.0, 5.0, 0.1)
    check = SlopeCheck()
    feed(check, t, 30.0 - 0.09 * t, np.full_like(t, -0.09))
    assert check.slope(20.0, NOISE, -0.09) is None
    assert check.step(NOISE) is None
