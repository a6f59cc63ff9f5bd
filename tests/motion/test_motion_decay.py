"""The decay of a size against motions whose decay, period and noise are known."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from console.motion.decay import SizeDecay, fit_decay


def sizes(rng, decay_s, period_s, snr, *, rate_hz=10.0, decays=2.0, axes=3):
    """Give times and noisy sizes of a damped motion of some axes, upper envelope 1 at first."""
    t = np.arange(0.0, decays * decay_s, 1.0 / rate_hz)
    w = 2.0 * math.pi / period_s
    swing = rng.standard_normal((axes, 2))
    swing /= np.linalg.svd(swing)[1][0]
    motion = np.outer(np.cos(w * t), swing[:, 0]) + np.outer(np.sin(w * t), swing[:, 1])
    size = np.linalg.norm(np.exp(-t / decay_s)[:, None] * motion, axis=1)
    return t, np.abs(size + rng.standard_normal(t.size) / snr)


def many(count, seed, snr=20.0, **terms):
    """Give decay times and fits of many records."""
    rng = np.random.default_rng(seed)
    for _ in range(count):
        decay_s = float(rng.choice([8.0, 12.0, 20.0, 40.0]))
        axes = int(rng.choice([1, 3]))
        t, size = sizes(rng, decay_s, rng.uniform(4.0, 9.0), snr, axes=axes, **terms)
        yield decay_s, fit_decay(t, size)


def test_decay_time_at_signal_to_noise_20_over_two_decays():
    """Ten sizes a second: 95th percentile of the decay time's error at most 5 %."""
    errors = [abs(fit.decay_s().best_s / decay_s - 1) for decay_s, fit in many(160, 1)]
    assert np.quantile(errors, 0.95) <= 0.05


def test_bounds_cover_what_they_say():
    """95 % bounds of decay time and of the time to settle cover 90 to 99 % of 160 records."""
    decay_in, settle_in = [], []
    for decay_s, fit in many(160, 2):
        decay, settle = fit.decay_s(), fit.falls_to(0.02)
        decay_in.append(decay.low_s < decay_s < decay.high_s)
        settle_in.append(settle.low_s < decay_s * math.log(50.0) < settle.high_s)
    assert 0.90 <= np.mean(decay_in) <= 0.99
    assert 0.90 <= np.mean(settle_in) <= 0.99


def test_two_sizes_a_second_do_what_can_be_done():
    """At 2 Hz the bounds cover as well, and errors are what so few samples allow."""
    errors, covered = [], []
    for decay_s, fit in many(120, 3, rate_hz=2.0):
        errors.append(abs(fit.decay_s().best_s / decay_s - 1))
        settle = fit.falls_to(0.02)
        covered.append(settle.low_s < decay_s * math.log(50.0) < (settle.high_s or math.inf))
    assert np.quantile(errors, 0.95) <= 0.13
    assert np.mean(covered) >= 0.88


def test_period_noise_and_envelope_are_found():
    """Period within 2 %, noise and envelope within 15 %, of a strong record."""
    rng = np.random.default_rng(4)
    for _ in range(20):
        period_s = rng.uniform(4.0, 9.0)
        t, size = sizes(rng, 20.0, period_s, 50.0)
        fit = fit_decay(t, size)
        assert fit.period_s == pytest.approx(period_s, rel=0.02)
        assert fit.noise == pytest.approx(0.02, rel=0.2)
        assert fit.amplitude == pytest.approx(1.0, rel=0.05)
        assert fit.snr == pytest.approx(50.0, rel=0.25)
        assert fit.envelope(20.0) == pytest.approx(math.exp(-1.0), rel=0.08)
        assert fit.decays_seen == pytest.approx(2.0, rel=0.1)


def test_motion_that_does_not_die_has_no_decay_time():
    """A steady swing: a rate of about 0, open late bounds, nothing claimed to settle."""
    rng = np.random.default_rng(5)
    t = np.arange(0.0, 60.0, 0.5)
    swing = np.abs(np.cos(0.9 * t)) + 0.01 * rng.standard_normal(t.size)
    fit = fit_decay(t, np.abs(swing))
    assert abs(fit.rate_per_s) < 0.001
    assert fit.falls_to(0.02).high_s is None
    assert fit.decay_s().high_s is None


def test_growing_motion_never_falls():
    """A rate surely below 0: no best time, no bounds, no decays seen."""
    rng = np.random.default_rng(6)
    t = np.arange(0.0, 60.0, 0.5)
    fit = fit_decay(t, 0.1 * np.exp(t / 30.0) + 0.002 * rng.standard_normal(t.size))
    assert fit.rate_per_s == pytest.approx(-1.0 / 30.0, rel=0.05)
    crossing = fit.falls_to(0.02)
    assert (crossing.best_s, crossing.low_s, crossing.high_s) == (None, None, None)
    assert fit.decays_seen == 0.0


def test_crossing_against_drawn_envelopes():
    """Bounds hold the middle 95 % of crossings of envelopes drawn from the covariance."""
    fit = SizeDecay(0.05, 0.004, 1.0, 0.06, 1.2e-4, 4.0, 0.05, 40.0)
    rng = np.random.default_rng(7)
    cov = [[0.004**2, 1.2e-4], [1.2e-4, 0.06**2]]
    rate, log = rng.multivariate_normal([0.05, 0.0], cov, 200_000).T
    drawn = (log - math.log(0.02)) / rate
    crossing = fit.falls_to(0.02)
    assert crossing.best_s == pytest.approx(math.log(50.0) / 0.05)
    assert crossing.low_s == pytest.approx(np.quantile(drawn, 0.025), rel=0.01)
    assert crossing.high_s == pytest.approx(np.quantile(drawn, 0.975), rel=0.01)


def test_a_level_above_the_envelope_was_crossed_before_the_start():
    """Below the level from the first sample: a time before 0, both bounds too."""
    crossing = SizeDecay(0.05, 0.002, 0.01, 0.02, 0.0, None, 0.001, 40.0).falls_to(0.02)
    assert crossing.low_s < crossing.best_s < crossing.high_s < 0.0


@pytest.mark.parametrize(
    ("t", "size"),
    [
        (np.arange(5.0), np.arange(5.0)),
        (np.zeros(20), np.arange(20.0)),
        (np.arange(20.0), np.full(20, 0.3)),
        (np.arange(20.0), np.zeros(20)),
    ],
)
def test_nothing_to_fit(t, size):
    """Too few samples, no span, or one and the same size: None."""
    assert fit_decay(t, size) is None


@settings(deadline=None, max_examples=60)
@given(st.lists(st.floats(0.0, 10.0), min_size=12, max_size=40), st.floats(0.01, 5.0))
def test_any_record_gives_finite_figures_or_none(values, step_s):
    """Whatever the sizes: no error, no NaN."""
    fit = fit_decay(np.arange(len(values)) * step_s, values)
    if fit is not None:
        for figure in (fit.rate_per_s, fit.rate_sigma_per_s, fit.amplitude, fit.noise):
            assert math.isfinite(figure)
        assert fit.amplitude > 0.0
        fit.falls_to(0.5)


def test_signed_rates_count_by_their_magnitude():
    """A sender that gives signed rates: the same fit as of their sizes, all or some negative."""
    t, size = sizes(np.random.default_rng(8), 12.0, 5.0, 20.0)
    fit = fit_decay(t, size)
    assert fit_decay(t, -size) == fit
    assert fit_decay(t, np.where(t % 3.0 < 1.0, -size, size)) == fit
    tiny = fit_decay(np.arange(20.0), np.where(np.arange(20) % 2 == 0, 0.0, -1e-9))
    assert tiny is None or 0.0 < tiny.amplitude < 1e-8


@pytest.mark.parametrize("gap_s", [30.0, 3600.0, 1e7])
@pytest.mark.parametrize("growth_s", [3.0, 10.0, 30.0])
def test_a_fit_of_growing_motion_carried_over_a_gap(growth_s, gap_s):
    """The record goes on long after motion grew: figures or none, no overflow, no error."""
    t = np.arange(0.0, 6.0, 0.1)
    size = 0.01 * np.exp(t / growth_s) * np.abs(np.cos(1.5 * t)) + 1e-4
    before = fit_decay(t, size)
    later = np.concatenate([t, 6.0 + gap_s + 0.1 * np.arange(5)])
    fit = fit_decay(later, np.concatenate([size, np.full(5, 0.01)]), before)
    assert before.rate_per_s < 0.0
    assert fit is None or math.isfinite(fit.rate_per_s)


@settings(deadline=None, max_examples=40)
@given(
    st.lists(st.floats(-1e300, 1e300), min_size=12, max_size=30),
    st.lists(st.sampled_from([1e-6, 0.1, 0.5, 30.0, 3600.0, 1e8]), min_size=30, max_size=30),
)
def test_any_sizes_at_any_times_give_finite_figures_or_none(values, steps_s):
    """Floats of every size and sign, time that jumps, the fit before taken on: no error."""
    t, fit = np.cumsum(steps_s), None
    for count in range(12, len(values) + 1):
        fit = fit_decay(t[:count], values[:count], fit)
        assert fit is None or (math.isfinite(fit.noise) and 0.0 < fit.amplitude < math.inf)
