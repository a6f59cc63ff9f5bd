"""Damping against textbook answers and against records whose damping is known."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from console.core.normal import Z_95
from console.motion.damping import (
    damping_ratio,
    decrement_of_ratio,
    fit_signed,
    fit_size,
    logarithmic_decrement,
    natural_frequency_rad_per_s,
    settling_s,
)


def test_decrement_of_100_cycles():
    """20 cm to 2 cm in 100 cycles: 0.02303; to 13 %: 0.020402."""
    assert logarithmic_decrement(20.0, 2.0, 100) == pytest.approx(0.02303, abs=5e-6)
    assert logarithmic_decrement(1.0, 0.13, 100) == pytest.approx(0.020402, abs=5e-7)


def test_mass_spring_and_damper_from_a_peak_ratio():
    """6 kg, 5400 N/m, peaks 3 to 2: 0.405465, ratio 0.0643978, damper 23.1832 N s/m."""
    decrement = logarithmic_decrement(3.0, 2.0)
    ratio = damping_ratio(decrement)
    assert decrement == pytest.approx(0.405465, abs=5e-7)
    assert ratio == pytest.approx(0.0643978, abs=5e-8)
    assert decrement / (2 * math.pi) == pytest.approx(0.0645318, abs=5e-8)
    assert 2 * ratio * math.sqrt(5400.0 * 6.0) == pytest.approx(23.1832, abs=5e-5)
    assert math.exp(2 * decrement) == pytest.approx(2.25)


def test_decrement_of_a_known_damper():
    """C 40 of a critical 420: 0.60113."""
    assert decrement_of_ratio(40 / 420) == pytest.approx(0.60113, abs=5e-6)


def test_settling_of_the_envelope():
    """Ratio 0.1 at 0.2 Hz: 31.131 s to 2 %, 31.831 with the rounded 4; 3 named constants."""
    frequency = 2 * math.pi * 0.2
    assert settling_s(0.02, 0.1, frequency) == pytest.approx(31.131, abs=5e-4)
    assert 4 / (0.1 * frequency) == pytest.approx(31.831, abs=5e-4)
    for share, constant in ((0.05, 2.9957), (0.02, 3.9120), (0.01, 4.6052)):
        assert settling_s(share, 1.0, 1.0) == pytest.approx(constant, abs=5e-5)


def test_natural_frequency_from_the_damped_period():
    """w_n = w_d / sqrt(1 - zeta^2), from a period of 5 s."""
    frequency = natural_frequency_rad_per_s(5.0, 0.6)
    assert frequency == pytest.approx(2 * math.pi / 5.0 / 0.8)


@given(st.floats(1e-4, 0.99))
def test_ratio_and_decrement_undo_each_other(ratio):
    """A ratio's decrement has that ratio."""
    assert damping_ratio(decrement_of_ratio(ratio)) == pytest.approx(ratio)


@pytest.mark.parametrize(
    ("first", "later", "cycles"), [(0.0, 1.0, 1), (1.0, -1.0, 1), (1.0, 0.5, 0)]
)
def test_decrement_refuses_what_has_no_logarithm(first, later, cycles):
    """Peaks must be above 0 and a cycle apart."""
    with pytest.raises(ValueError, match="two peaks above 0"):
        logarithmic_decrement(first, later, cycles)


def record(rng, tau, period, snr, window, step=0.1, offset=0.2):
    """Give times and a noisy damped oscillation of amplitude 1 about an offset."""
    t = np.arange(0.0, window, step)
    phase = rng.uniform(0.0, 2 * math.pi)
    y = np.exp(-t / tau) * np.cos(2 * math.pi * t / period + phase)
    return t, y + offset + rng.standard_normal(t.size) / snr


def test_signed_fit_at_signal_to_noise_20_over_two_decays():
    """Time constant within 5 % in 95 of 100 records, offset and period found."""
    rng = np.random.default_rng(11)
    errors, covered = [], []
    for _ in range(100):
        tau, period = rng.choice([8.0, 20.0, 40.0]), rng.uniform(4.0, 9.0)
        t, y = record(rng, tau, period, 20.0, 2 * tau)
        fit = fit_signed(t, y)
        assert fit is not None
        errors.append(abs(fit.decay_s / tau - 1))
        covered.append(abs(fit.decay_s - tau) < Z_95 * fit.decay_sigma_s)
        assert fit.period_s == pytest.approx(period, rel=0.03)
        assert fit.offset == pytest.approx(0.2, abs=0.03)
    assert np.quantile(errors, 0.95) <= 0.05
    assert np.mean(covered) > 0.88


def test_size_fit_of_three_axes_of_motion():
    """The length of a motion of three axes gives its own decay and period, unevenly sampled."""
    rng = np.random.default_rng(12)
    errors = []
    for _ in range(40):
        tau, w = 12.0, 2 * math.pi / 4.0
        t = np.sort(np.concatenate([np.arange(0, 50, 0.5), rng.uniform(0, 50, 15)]))
        k = rng.standard_normal((3, 2)) * 0.05
        motion = np.outer(np.cos(w * t), k[:, 0]) + np.outer(np.sin(w * t), k[:, 1])
        size = np.linalg.norm(np.exp(-t / tau)[:, None] * motion, axis=1)
        fit = fit_size(t, np.abs(size + 5e-4 * rng.standard_normal(t.size)))
        assert fit is not None
        errors.append(abs(fit.decay_s / tau - 1))
        largest = np.linalg.svd(k)[1][0]
        assert fit.amplitude == pytest.approx(largest, rel=0.05)
        if fit.period_s is not None:
            assert fit.period_s == pytest.approx(4.0, rel=0.02)
    assert np.quantile(errors, 0.95) <= 0.05


def test_a_plain_decay_has_no_period():
    """Without an oscillation the fit is a plain exponential."""
    rng = np.random.default_rng(13)
    t = np.arange(0.0, 60.0, 0.5)
    fit = fit_signed(t, np.exp(-t / 15.0) + 0.3 + 0.01 * rng.standard_normal(t.size))
    assert fit is not None
    assert fit.period_s is None
    assert fit.decay_s == pytest.approx(15.0, rel=0.1)
    assert fit.amplitude == pytest.approx(1.0, rel=0.05)
    size = fit_size(t, np.abs(0.09 * np.exp(-t / 15.0) + 2e-4 * rng.standard_normal(t.size)))
    assert size is not None
    assert size.decay_s == pytest.approx(15.0, rel=0.1)


def test_settling_time_of_a_fit():
    """Tau ln(A/level) from the first sample; 0 where the envelope is below already."""
    rng = np.random.default_rng(14)
    t, y = record(rng, 12.0, 5.0, 50.0, 36.0)
    fit = fit_signed(t, y)
    assert fit is not None
    assert fit.settles_s(0.01) == pytest.approx(12.0 * math.log(100.0), rel=0.05)
    assert fit.envelope(fit.settles_s(0.01)) == pytest.approx(0.01)
    assert fit.settles_s(5.0) == 0.0
    assert fit.settles_s(0.0) == math.inf


@pytest.mark.parametrize("fit", [fit_signed, fit_size])
def test_nothing_is_said_of_too_little(fit):
    """Too few samples, a constant, pure noise, or less than one decay: None."""
    rng = np.random.default_rng(15)
    t = np.arange(0.0, 30.0, 0.5)
    assert fit(t[:5], np.exp(-t[:5])) is None
    assert fit(t, np.full(t.size, 0.25)) is None
    assert fit(t, 1.0 + 0.3 * rng.standard_normal(t.size)) is None
    slow = np.exp(-t / 200.0) * (1.5 + np.cos(t))
    assert fit(t, slow + 0.001 * rng.standard_normal(t.size)) is None
