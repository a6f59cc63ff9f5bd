"""Leak checks against published examples and against records whose leak is known."""

import math

import numpy as np
import pytest

from console.core.normal import Z_95_ONE_SIDED
from console.core.units import GAS_CONSTANT_J_PER_MOL_K, KG_PER_LBM, S_PER_DAY
from console.motion.leak import (
    gas_mass_kg,
    loss_kg_per_day,
    loss_pa_m3_per_s,
    mass_loss_kg_per_s,
    throughput_pa_m3_per_s,
    watch_time_s,
)
from console.motion.leak_fit import LeakFit, LeakVerdict, fit_leak


def test_the_leak_check_of_40_cfr_1065_644():
    """0.002 m^3, 25.3 to 50.6 kPa in 70 s at 293.15 K: 2.965705e-4 mol/s in."""
    gained = -mass_loss_kg_per_s(0.002, (25_300.0, 293.15), (50_600.0, 293.15), 70.0, 8.314472)
    assert gained == pytest.approx(2.965705e-4, rel=1e-6)
    other = -mass_loss_kg_per_s(
        0.002, (25_300.0, 293.15), (50_600.0, 293.15), 70.0, GAS_CONSTANT_J_PER_MOL_K
    )
    assert other == pytest.approx(2.965705e-4, rel=2e-6)


def test_a_cubic_metre_of_air_over_half_an_hour():
    """101,325 Pa 293.15 K to 101,025 Pa 292.65 K: 8.41064e-7 kg/s, 0.0707757 Pa m^3/s."""
    first, last = (101_325.0, 293.15), (101_025.0, 292.65)
    loss = mass_loss_kg_per_s(1.0, first, last, 1800.0)
    assert loss == pytest.approx(8.41064e-7, rel=1e-5)
    assert loss * S_PER_DAY == pytest.approx(0.0726679, rel=1e-5)
    throughput = throughput_pa_m3_per_s(1.0, first, last, 1800.0)
    assert throughput == pytest.approx(0.0707757, rel=1e-5)
    per_h = (101_325.0 - 101_025.0 * 293.15 / 292.65) * 2.0
    assert loss_pa_m3_per_s(1.0, per_h) == pytest.approx(0.0707757, rel=1e-5)
    assert loss_kg_per_day(1.0, per_h, 293.15) == pytest.approx(0.0726679, rel=1e-5)
    raw = (101_325.0 - 101_025.0) / 1800.0
    assert raw == pytest.approx(0.166667, rel=1e-5)
    assert raw / throughput == pytest.approx(2.35, abs=0.01)


def test_the_same_leak_as_reference_cubic_centimetres():
    """The package-test form at 298 K and 1 atm gives 0.710058 ref-cm3/s for the same record."""
    first, last = (101_325.0, 293.15), (101_025.0, 292.65)
    throughput = throughput_pa_m3_per_s(1.0, first, last, 1800.0)
    assert throughput * 298.0 / 293.15 / 101_325.0 * 1e6 == pytest.approx(0.710058, rel=2e-6)


def test_a_gas_line_against_its_rule_of_thumb():
    """9 D^2 (P1/T1 - P2/T2) for 10.136 in, 204.9 to 204.4 psia, 52 degF: 0.902975 MMcf/yr/mile.

    The rule rounds its constant up to 9; the mass form on a mile of pipe, in standard cubic feet
    (14.7 psia, 60 degF) and for an hour's fall over a year, comes within 1 % of it.
    """
    rule = 9.0 * 10.136**2 * (204.9 - 204.4) / (460.0 + 52.0)
    assert rule == pytest.approx(0.902975, abs=5e-7)
    psi, kelvin = 6894.757293168, (460.0 + 52.0) / 1.8
    volume = math.pi / 4.0 * (10.136 * 0.0254) ** 2 * 1609.344
    lost = mass_loss_kg_per_s(volume, (204.9 * psi, kelvin), (204.4 * psi, kelvin), 3600.0)
    per_cubic_foot = gas_mass_kg(14.7 * psi, 0.3048**3, 520.0 / 1.8)
    assert lost * 8760.0 * 3600.0 / per_cubic_foot / 1e6 == pytest.approx(rule, rel=0.01)


def test_a_cooler_gas_is_no_leak():
    """1 K cooler and 345 Pa lower: 7.7 mg of 1.204 kg, gained."""
    first, last = (101_325.0, 293.15), (100_980.0, 292.15)
    gained = -mass_loss_kg_per_s(1.0, first, last, 1.0)
    assert gained * 1e6 == pytest.approx(7.7, abs=0.1)
    assert gas_mass_kg(101_325.0, 1.0, 293.15) == pytest.approx(1.204, abs=5e-4)


def test_a_warmer_gas_hides_a_leak():
    """The same pressure 1 K warmer: 4.09 g gone."""
    loss = mass_loss_kg_per_s(1.0, (101_325.0, 293.15), (101_325.0, 294.15), 1.0)
    assert loss * 1000 == pytest.approx(4.09, abs=0.005)


def test_what_a_kelvin_and_a_seal_limit_mean():
    """345.64 Pa a kelvin; 0.0025 lbm a day from 1 m^3 is 3.976 Pa an hour."""
    assert pytest.approx(345.64, abs=0.005) == 101_325.0 / 293.15
    loss_kg_per_h = 0.0025 * KG_PER_LBM / 24
    assert loss_kg_per_h * 24 == pytest.approx(0.00113398, rel=1e-5)
    assert loss_kg_per_h * 287.055 * 293.15 == pytest.approx(3.976, abs=0.002)
    assert loss_kg_per_day(1.0, 3.976, 293.15) == pytest.approx(0.00113398, rel=1e-3)


@pytest.mark.parametrize(("noise", "minutes"), [(2.0, 16), (10.0, 23), (50.0, 58)])
def test_watch_time(noise, minutes):
    """20 Pa/h, half of it leaking, 1 Hz, 0.02 K: 16, 23 and 58 min for 2, 10 and 50 Pa."""
    white = math.hypot(noise, 101_325.0 * 0.02 / 293.15)
    assert watch_time_s(20.0, 10.0, white, 1.0) / 60 == pytest.approx(minutes, abs=0.6)
    assert watch_time_s(20.0, 20.0, white, 1.0) == math.inf


HOUR = np.arange(0.0, 3600.0)


def gas(rng, leak, *, kelvin=0.0, lag_s=0.0, coloured_s=0.0, noise_pa=2.0):
    """Give the measured record of an hour: a leak in Pa/h and a gas temperature's deviation."""
    true_k = 293.15 + kelvin * np.ones_like(HOUR)
    p = (101_325.0 - leak * HOUR / 3600.0) * true_k / 293.15
    shown = true_k.copy()
    if lag_s:
        for i in range(1, shown.size):
            shown[i] = shown[i - 1] + (true_k[i] - shown[i - 1]) / lag_s
    noise = rng.standard_normal(HOUR.size)
    if coloured_s:
        keep = math.exp(-1.0 / coloured_s)
        for i in range(1, noise.size):
            noise[i] = keep * noise[i - 1] + math.sqrt(1 - keep * keep) * noise[i]
    p = p + noise_pa * noise
    return HOUR, p / 1000.0, shown + 0.02 * rng.standard_normal(HOUR.size) - 273.15


CASES = {
    "white": {},
    "coloured": {"coloured_s": 60.0},
    "drift": {"kelvin": 0.5 * HOUR / 3600.0},
    "cycle": {"kelvin": 0.3 * np.sin(2 * math.pi * HOUR / 5520.0)},
    "drift with lag": {"kelvin": 0.5 * HOUR / 3600.0, "lag_s": 300.0},
    "cycle with lag": {"kelvin": 0.3 * np.sin(2 * math.pi * HOUR / 5520.0), "lag_s": 300.0},
}


@pytest.mark.parametrize("case", CASES)
def test_a_leak_at_the_limit_hardly_ever_passes(case):
    """A leak of exactly the limit passes in at most about 6 % of single looks after an hour."""
    rng = np.random.default_rng(31)
    passed = []
    for _ in range(120):
        terms = CASES[case]
        fit = fit_leak(*gas(rng, 20.0, **terms), sensor_lag_s=terms.get("lag_s", 0.0))
        passed.append(fit.verdict(20.0, Z_95_ONE_SIDED) is LeakVerdict.PASSES)
    assert np.mean(passed) <= 0.11  # 6 % and three sigma of 120 draws


@pytest.mark.parametrize("case", ["white", "drift", "cycle", "drift with lag"])
def test_half_the_limit_passes_and_twice_fails(case):
    """An hour tells a leak of half the limit and one of twice the limit, watching all along."""
    rng = np.random.default_rng(32)
    for leak, expected in ((10.0, LeakVerdict.PASSES), (40.0, LeakVerdict.FAILS)):
        verdicts = []
        for _ in range(25):
            terms = CASES[case]
            fit = fit_leak(*gas(rng, leak, **terms), sensor_lag_s=terms.get("lag_s", 0.0))
            verdicts.append(fit.verdict(20.0))
        assert np.mean([verdict is expected for verdict in verdicts]) > 0.85


def test_a_lag_not_told_of_is_not_passed():
    """A charging transient seen through a lagging sensor bends the record: never passed."""
    rng = np.random.default_rng(33)
    for fall_s in (300.0, 900.0, 1500.0):
        warm = 3.0 * np.exp(-HOUR / fall_s)
        for _ in range(10):
            fit = fit_leak(*gas(rng, 20.0, kelvin=warm, lag_s=300.0))
            assert fit.verdict(20.0) is not LeakVerdict.PASSES


def test_the_one_sigma_is_honest_for_white_noise():
    """Over many records the estimates spread as they say."""
    rng = np.random.default_rng(34)
    fits = [fit_leak(*gas(rng, 5.0)) for _ in range(200)]
    spread = np.std([fit.loss_pa_per_h for fit in fits])
    said = np.mean([fit.sigma_pa_per_h for fit in fits])
    assert np.mean([fit.loss_pa_per_h for fit in fits]) == pytest.approx(5.0, abs=0.3)
    assert 0.95 < said / spread < 1.8


def test_too_short_a_record_says_nothing():
    """Under two samples a block there is no estimate; nor where time stands."""
    t = np.arange(30.0)
    assert fit_leak(t, 100.0 + 0 * t, 20.0 + 0 * t) is None
    assert fit_leak(np.zeros(100), np.ones(100), np.ones(100)) is None
    gap = np.concatenate([np.arange(50.0), 1000.0 + np.arange(50.0)])
    assert fit_leak(gap, 100.0 + 0 * gap, 20.0 + 0 * gap) is None


def test_bounds_cover_the_leak_in_white_and_coloured_noise():
    """The 95 % bounds hold at least 93 % of leaks, and lie on both sides of the estimate."""
    rng = np.random.default_rng(35)
    for terms in ({}, {"coloured_s": 60.0}):
        inside = []
        for _ in range(100):
            fit = fit_leak(*gas(rng, 12.0, **terms))
            inside.append(fit.low_pa_per_h < 12.0 < fit.high_pa_per_h)
            assert fit.low_pa_per_h < fit.loss_pa_per_h < fit.high_pa_per_h
        assert np.mean(inside) >= 0.93


def test_time_still_needed():
    """Long where noise is large, none where the record tells already, None where hopeless."""
    rng = np.random.default_rng(36)
    half = slice(0, 900)
    quiet = fit_leak(*(x[half] for x in gas(rng, 10.0, noise_pa=5.0)))
    noisy = fit_leak(*(x[half] for x in gas(rng, 10.0, noise_pa=50.0)))
    assert 0.0 < quiet.needs_s(20.0) < noisy.needs_s(20.0)
    assert fit_leak(*gas(rng, 0.0)).needs_s(20.0) == 0.0
    at_limit = LeakFit(20.0, 0.01, 0.0, 3600.0, 293.15, quiet.noise)
    assert at_limit.needs_s(20.0) is None
    assert at_limit.straddles(20.0)
    assert not at_limit.straddles(21.0)
    assert LeakFit(5.0, 2.0, 0.0).needs_s(20.0) is None


def test_chance_of_a_loss_is_that_of_a_mixture():
    """Half sure of 10 +- 1 and half of 20 +- 2: the chance of more than 15 is about a half."""
    from console.motion.leak_fit import Line

    fit = LeakFit(15.0, 5.0, 0.0, lines=(Line(10.0, 1.0, 0.5), Line(20.0, 2.0, 0.5)))
    assert fit.chance_above(15.0) == pytest.approx(0.5, abs=0.01)
    assert fit.chance_above(20.0) == pytest.approx(0.25, abs=1e-6)
    assert LeakFit(15.0, 5.0, 0.0).chance_above(20.0) == pytest.approx(0.158655, abs=1e-6)


def test_block_means_of_a_lagged_record_scatter_as_said():
    """White noise through a lag, cut into 20 blocks: covariance as drawn from many records."""
    from console.motion.block_noise import BLOCKS, SampleNoise, correlated, roughness
    from console.motion.leak_fit import _lagged

    rng = np.random.default_rng(37)
    t = np.arange(2400.0)
    noise = SampleNoise(5.0, 1e-9, 1.0, 150.0)
    blocks = []
    for _ in range(400):
        warm_up = rng.standard_normal(3000)
        whole = _lagged(
            np.arange(5400.0), 5.0 * np.concatenate([warm_up, rng.standard_normal(2400)]), 150.0
        )
        blocks.append(whole[3000:].reshape(BLOCKS, -1).mean(axis=1))
    drawn, said = np.cov(np.transpose(blocks)), noise.of_blocks(t.size)
    assert np.mean(np.diag(drawn)) == pytest.approx(np.mean(np.diag(said)), rel=0.1)
    beside = [np.mean(np.diag(drawn, k)) / np.mean(np.diag(said, k)) for k in (1, 2)]
    assert beside == pytest.approx([1.0, 1.0], abs=0.15)
    assert correlated(1e-4)[0] == 1.0
    assert correlated(100.0)[1][0, 1] == 0.0
    assert roughness(5.0 * rng.standard_normal(20_000)) == pytest.approx(5.0, rel=0.02)


def test_verdict_words():
    """Inside by its doubt, outside by its doubt, neither, and bent."""
    assert LeakFit(5.0, 2.0, 0.0).verdict(20.0) is LeakVerdict.PASSES
    assert LeakFit(35.0, 2.0, 0.0).verdict(20.0) is LeakVerdict.FAILS
    assert LeakFit(18.0, 2.0, 0.0).verdict(20.0) is LeakVerdict.WATCHING
    assert LeakFit(5.0, 2.0, 4.5).verdict(20.0) is LeakVerdict.NOT_SETTLED
    assert LeakFit(-50.0, 2.0, 0.0).verdict(20.0) is LeakVerdict.NOT_SETTLED


@pytest.mark.parametrize("figures", [(math.nan, 2.0, 0.0), (5.0, math.nan, 0.0),
    (5.0, 2.0, math.nan), (-math.inf, 2.0, 0.0), (0.0, 0.0, 0.0)])  # fmt: skip
def test_figures_that_are_none_decide_nothing(figures):
    """NaN, infinity, or a loss without any doubt: no verdict, whichever of them it is."""
    assert LeakFit(*figures).verdict(20.0) is LeakVerdict.WATCHING


@pytest.mark.parametrize("bad", [-273.15, -300.0, 9999.0, -9999.0, 0.0, math.nan, math.inf, 1e300])
def test_a_wrong_temperature_is_left_out_of_the_record(bad):
    """One or ten of 1200: the same loss as without them, well within its doubt."""
    rng = np.random.default_rng(38)
    t, kpa, degc = (column[:1200] for column in gas(rng, 60.0))
    clean = fit_leak(t, kpa, degc)
    for at in ([300], [0], [1199], list(range(50, 1150, 111))):
        spoiled = degc.copy()
        spoiled[at] = bad
        fit = fit_leak(t, kpa, spoiled)
        assert abs(fit.loss_pa_per_h - clean.loss_pa_per_h) < 0.3 * clean.sigma_pa_per_h
        assert fit.sigma_pa_per_h < 1.3 * clean.sigma_pa_per_h
        assert fit.verdict(20.0) is LeakVerdict.FAILS


@pytest.mark.parametrize("degc", [-273.15, -300.0, math.nan, math.inf])
def test_a_record_without_one_temperature_above_absolute_zero_has_no_fit(degc):
    """Nothing left to fit: None, no error."""
    assert fit_leak(np.arange(400.0), np.full(400, 101.3), np.full(400, degc)) is None


def test_numbers_too_large_to_reckon_with_have_no_fit():
    """Half of the readings at 1e200: neither a figure nor an error."""
    t = np.arange(400.0)
    huge = np.where(t % 2 < 1, 1e200, 21.0)
    assert fit_leak(t, np.full(400, 101.3), huge) is None
    assert fit_leak(t, huge, np.full(400, 21.0)) is None


def test_a_slow_change_and_a_coarse_sensor_are_not_wrong_readings():
    """A charging transient of 5 K, steps of half a kelvin, 50 Pa of noise: nothing is left out."""
    from console.motion.leak_blocks import far_off

    rng = np.random.default_rng(39)
    block = (20 * HOUR / 3600.0).astype(np.intp)
    for kelvin in (
        290.0 + 5.0 * np.exp(-HOUR / 300.0) + 0.02 * rng.standard_normal(HOUR.size),
        290.0 + np.round(2.0 * np.sin(HOUR / 600.0) + 0.1 * rng.standard_normal(HOUR.size)) / 2.0,
    ):
        assert not far_off(kelvin, block, 1.0).any()
    assert not far_off(101_325.0 + 50.0 * rng.standard_normal(HOUR.size), block, 0.0).any()


@pytest.mark.parametrize(
    "lag_s", [1e-300, 1e-3, 1.0, 900.0, 1800.0, 3300.0, 3600.0, 1e5, 3e5, 1e8]
)
def test_a_lag_of_any_length_gives_figures_or_none(lag_s):
    """Against records of minutes to an hour: no error, and no pass where the lag hides the gas."""
    rng = np.random.default_rng(40)
    for _ in range(6):
        t, kpa, degc = gas(rng, 20.0)
        for end in (60, 180, 400, 1800):
            fit = fit_leak(t[:end], kpa[:end], degc[:end], lag_s)
            if fit is not None:
                assert 0.0 < fit.sigma_pa_per_h < math.inf
                assert math.isfinite(fit.curvature_t)
                fit.needs_s(20.0)
                if lag_s > end:
                    assert fit.verdict(20.0) is not LeakVerdict.PASSES


def test_a_record_far_shorter_than_the_lag_still_shows_its_bend():
    """A pressure that curves in ten minutes, under a lag of an hour: seen to bend, not passed."""
    rng = np.random.default_rng(41)
    t, kpa, degc = (column[:600] for column in gas(rng, 0.0))
    fit = fit_leak(t, kpa, degc + 3e-6 * (t - 300.0) ** 2, 3600.0)
    assert fit.verdict(20.0) is LeakVerdict.NOT_SETTLED


@pytest.mark.parametrize("size", [1e120, 1e152, 1e160, 1e307])
@pytest.mark.filterwarnings("error")
def test_readings_too_large_to_square_are_no_fit_and_no_error(size):
    """Finite all of them: whatever overflows on the way gives None, or finite figures."""
    rng = np.random.default_rng(42)
    t, kpa, degc = (column[:600] for column in gas(rng, 20.0))
    for lag_s in (0.0, 900.0):
        for pressure, temperature in (
            (size * (1.0 + 0.5 * (np.arange(600) % 2)), degc),
            (kpa, size * (1.0 + 0.5 * (np.arange(600) % 2))),
        ):
            fit = fit_leak(t, pressure, temperature, lag_s)
            if fit is not None:
                assert math.isfinite(fit.loss_pa_per_h)
                assert math.isfinite(fit.sigma_pa_per_h)
