"""Closed-form chances against distributions of scipy and against plain Monte Carlo."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from scipy.special import ive

from console.tracking.chance import (
    band_chance,
    disc_chance,
    length_chance,
    length_moments,
    scaled_bessel,
    size_chance,
    size_moments,
)

DRAWS = 1_000_000
RADIUS = 0.10


@pytest.mark.parametrize("sigma", [1e-4, 3e-4, 1e-3, 0.01, 0.03, 0.1])
@pytest.mark.parametrize("mean", [0.003, 0.05, 0.1, 0.2])
def test_equal_sigmas_give_the_rice_distribution(mean, sigma):
    """Within a circle the chance is the noncentral chi-square's, however sharp the errors."""
    expected = stats.ncx2.cdf((RADIUS / sigma) ** 2, 2, (mean / sigma) ** 2)
    found = disc_chance(0.6 * mean, 0.8 * mean, sigma, sigma, RADIUS)
    assert expected == pytest.approx(found, abs=2e-5)


@pytest.mark.parametrize(
    ("my", "mz", "sy", "sz"),
    [(0.02, 0.03, 0.02, 0.03), (0.0, 0.09, 0.004, 0.03), (0.08, -0.08, 0.05, 0.01)],
)
def test_unequal_sigmas_agree_with_a_million_draws(my, mz, sy, sz):
    """Within a circle unequal errors have the share of a million draws (4 of its sigmas)."""
    rng = np.random.default_rng(11)
    inside = np.hypot(rng.normal(my, sy, DRAWS), rng.normal(mz, sz, DRAWS)) <= RADIUS
    expected = inside.mean()
    tolerance = 4.0 * math.sqrt(expected * (1.0 - expected) / DRAWS)
    assert expected == pytest.approx(disc_chance(my, mz, sy, sz, RADIUS), abs=tolerance)


def test_band_and_size_agree_with_a_million_draws():
    """A two-sided band and a size have the share of a million draws."""
    rng = np.random.default_rng(12)
    rate = rng.normal(0.093, 0.006, DRAWS)
    expected = np.mean((rate >= 0.05) & (rate <= 0.10))
    assert expected == pytest.approx(band_chance(0.093, 0.006, 0.05, 0.10), abs=0.002)
    roll = np.abs(rng.normal(3.0, 1.2, DRAWS))
    assert np.mean(roll <= 4.0) == pytest.approx(size_chance(3.0, 1.2, None, 4.0), abs=0.002)
    expected = np.mean((roll >= 1.0) & (roll <= 4.0))
    assert expected == pytest.approx(size_chance(3.0, 1.2, 1.0, 4.0), abs=0.002)


def test_a_ring_is_the_difference_of_two_circles():
    """A length with a least value too takes the inner circle away."""
    whole = length_chance(0.02, 0.0, 0.03, 0.03, None, RADIUS)
    inner = length_chance(0.02, 0.0, 0.03, 0.03, None, 0.04)
    assert whole - inner == pytest.approx(length_chance(0.02, 0.0, 0.03, 0.03, 0.04, RADIUS))


@pytest.mark.parametrize("ratio", [0.05, 0.7, 2.0, 9.0])
def test_moments_of_a_length_are_the_rice_distributions(ratio):
    """Mean and sigma of a length are those scipy gives."""
    rice = stats.rice(ratio, scale=0.02)
    mean, sigma = length_moments(0.02 * ratio, 0.0, 0.02)
    assert rice.mean() == pytest.approx(mean, rel=1e-5)
    assert rice.std() == pytest.approx(sigma, rel=1e-3)


@pytest.mark.parametrize("ratio", [0.0, 0.5, 3.0])
def test_moments_of_a_size_are_the_folded_normals(ratio):
    """Mean and sigma of a size are those scipy gives."""
    folded = stats.foldnorm(ratio, scale=0.4)
    mean, sigma = size_moments(-0.4 * ratio, 0.4)
    assert folded.mean() == pytest.approx(mean, rel=1e-9)
    assert folded.std() == pytest.approx(sigma, rel=1e-9)


@pytest.mark.parametrize("x", [0.0, 0.3, 3.7, 3.8, 40.0])
def test_bessel_polynomials_hold_their_tolerance(x):
    """Scaled Bessel functions agree with scipy to 1e-6."""
    i0, i1 = scaled_bessel(x)
    assert ive(0, x) == pytest.approx(i0, rel=1e-6)
    assert ive(1, x) == pytest.approx(i1, rel=1e-6, abs=1e-9)


@given(st.floats(-0.5, 0.5), st.floats(-0.5, 0.5), st.floats(0.0, 0.3), st.floats(0.0, 0.3))
def test_a_chance_is_between_none_and_certain_and_grows_with_the_circle(my, mz, sy, sz):
    """Whatever the errors, none at all included, a chance stays in 0..1 and is monotone."""
    inner, outer = (disc_chance(my, mz, sy, sz, r) for r in (RADIUS, 2 * RADIUS))
    assert 0.0 <= inner <= 1.0
    assert inner <= outer + 1e-4
