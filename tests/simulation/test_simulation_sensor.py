"""A source's noise, bias, scale, outliers, rounding and time against what its description says."""

from __future__ import annotations

import numpy as np
import pytest
from simulation_cases import SHORT, flown, quiet

from console.core.records import RelativeSample
from console.simulation.scenario import OPTICAL, RADIO, RandomDropouts
from console.simulation.sensor import CHANNELS, measure, sigmas
from console.simulation.truth import STATE_COLUMNS
from tests.fakes.changed import replace

T0 = 1_933_580_100.0


def still_states(range_m: float, seconds: float):
    """Give a vehicle that stands still at a range."""
    states = np.zeros((round(seconds * 10) + 1, 12))
    states[:, 0] = range_m
    return states


def values(measured, name):
    """Give one field of all samples."""
    return np.array([getattr(sample, name) for sample in measured.samples])


def seeded(number):
    """Give a source's seed."""
    return np.random.SeedSequence(number)


@pytest.mark.parametrize(("sensor", "times"), [(OPTICAL, 1.0), (RADIO, 2.0)])
@pytest.mark.parametrize("range_m", [0.0, 100.0])
def test_white_and_coloured_noise_have_their_size(sensor, times, range_m):
    """At 0 and 100 m: the stated white sigma, half of it more with 3 s memory; B is twice A."""
    plain = replace(sensor, outlier_share=0.0, scale=0.0)
    expected = {
        "range_m": 0.02 + 0.001 * range_m,
        "range_rate_mps": 0.004 + 4e-5 * range_m,
        "y_m": 0.005 + 0.0008 * range_m,
        "z_m": 0.005 + 0.0008 * range_m,
        "y_rate_mps": 0.003 + 4e-5 * range_m,
        "z_rate_mps": 0.003 + 4e-5 * range_m,
    }
    measured = measure(plain, T0, still_states(range_m, 3000.0), (), seeded(4))
    for name, white in expected.items():
        noise = values(measured, name) - np.mean(values(measured, name))
        total = times * white * np.sqrt(1 + 0.5**2)
        rounded = (0.01 if name in ("range_m", "y_m", "z_m") else 0.001) / np.sqrt(12)
        assert np.std(noise) == pytest.approx(np.hypot(total, rounded), rel=0.08), name


def test_noise_remembers_for_three_seconds():
    """Autocorrelation at a lag: 0.2 of the variance (0.25/1.25), falling with e^(-lag/3 s)."""
    sensor = replace(OPTICAL, outlier_share=0.0)
    measured = measure(sensor, T0, still_states(100.0, 10_000.0), (), seeded(5))
    noise = values(measured, "range_m") - np.mean(values(measured, "range_m"))
    for lag in (5, 30, 60):
        found = np.mean(noise[:-lag] * noise[lag:]) / np.var(noise)
        assert found == pytest.approx(0.2 * np.exp(-lag / 30), abs=0.04)


def test_biases_and_scale_spread_from_pass_to_pass():
    """Fixed bias 2 cm, 1 cm, 1 and 0.7 mm/s and scale 0.1 %, 1-sigma over passes."""
    sensor = replace(quiet(OPTICAL), noise=OPTICAL.noise, scale=0.001)
    near, far = [], []
    for seed in range(120):
        for at, out in ((0.0, near), (1000.0, far)):
            plain = replace(sensor, coloured_share=0.0)
            m = measure(plain, T0, still_states(at, 60.0), (), seeded(seed))
            out.append(
                [np.mean(values(m, n)) for n in ("range_m", "y_m", "range_rate_mps", "y_rate_mps")]
            )
    spread = np.std(near, axis=0)
    assert spread == pytest.approx([0.02, 0.01, 0.001, 0.0007], rel=0.25)
    scale = (np.array(far)[:, 0] - 1000.0 - np.array(near)[:, 0]) / 1000.0
    assert np.std(scale) == pytest.approx(0.001, rel=0.25)


def test_one_per_cent_of_the_values_are_outliers():
    """Beyond 8 sigma there are 1 % of the values, none beyond 66."""
    measured = measure(OPTICAL, T0, still_states(50.0, 4000.0), (), seeded(6))
    for name, sigma in (("range_m", 0.07), ("y_rate_mps", 0.005)):
        off = np.abs(values(measured, name) - np.median(values(measured, name))) / sigma
        assert np.mean(off > 8.0) == pytest.approx(0.01, abs=0.002)
        assert off.max() < 66.0


def test_values_are_rounded_as_they_are_sent():
    """Whole centimetres, millimetres a second, hundredths of a degree."""
    measured = measure(OPTICAL, T0, still_states(10.0, 20.0), (), seeded(7))
    for sample in measured.samples:
        for name, unit in (("range_m", 100), ("y_m", 100), ("range_rate_mps", 1000)):
            value = getattr(sample, name) * unit
            assert value == pytest.approx(round(value), abs=1e-6)
        assert sample.pitch_deg == round(sample.pitch_deg, 2)


def test_a_quiet_source_measures_the_truth():
    """Without noise the samples are the true state to their rounding, between rows as well."""
    scenario = replace(SHORT, sensors=(quiet(OPTICAL), quiet(replace(RADIO, phase_s=0.037))))
    run = flown(scenario)
    truth = run.truth
    before = [
        m.record
        for m in run.messages
        if isinstance(m.record, RelativeSample) and m.record.t < truth.t_contact
    ]
    for name in ("range_m", "y_m", "z_m", "roll_deg", "pitch_deg", "yaw_deg"):
        expected = np.interp([s.t for s in before], truth.t, getattr(truth, name))
        found = np.array([getattr(s, name) for s in before])
        assert np.abs(found - expected).max() < 0.0056, name


def test_optional_rates_are_left_out_where_a_source_does_not_send_them():
    """The radio sends no body rates; a source can do without lateral rates too."""
    radio = measure(RADIO, T0, still_states(10.0, 10.0), (), seeded(8))
    assert radio.samples[0].roll_rate_dps is None
    assert radio.samples[0].y_rate_mps is not None
    bare = measure(
        replace(OPTICAL, sends_lateral_rates=False, sends_body_rates=False),
        T0,
        still_states(10.0, 10.0),
        (),
        seeded(8),
    )
    assert bare.samples[0].y_rate_mps is None
    assert bare.samples[0].yaw_rate_dps is None
    assert all(sample.valid for sample in bare.samples)


def test_random_dropouts():
    """Three dropouts of 1 to 8 s leave gaps in time, none in the counter."""
    sensor = replace(OPTICAL, dropouts=RandomDropouts(3, 1.0, 8.0))
    gaps = []
    for seed in range(20):
        measured = measure(sensor, T0, still_states(50.0, 900.0), (), seeded(seed))
        times = values(measured, "t")
        assert list(values(measured, "seq")) == list(range(times.size))
        steps = np.diff(times)
        gaps += list(steps[steps > 0.15])
    assert 45 <= len(gaps) <= 60
    assert min(gaps) >= 1.0
    assert max(gaps) < 16.2


def test_sigma_of_each_channel_grows_with_the_size_of_range():
    """The twelve columns, at a range and at its negative."""
    out = sigmas(OPTICAL.noise, np.array([100.0, -100.0, 0.0]))
    assert out.shape == (3, len(CHANNELS))
    np.testing.assert_array_equal(out[0], out[1])
    assert out[2] == pytest.approx(
        [0.02, 0.005, 0.005, 0.004, 0.003, 0.003] + [0.1] * 3 + [0.01] * 3
    )


def test_a_motion_shorter_than_a_sample_gives_none():
    """A source whose first sample is later than the end has none."""
    late = replace(OPTICAL, phase_s=5.0)
    assert measure(late, T0, still_states(10.0, 1.0), (), seeded(9)).samples == ()


def test_channels_are_the_truths_columns():
    """A sample's fields and the truth's columns carry the same names."""
    assert tuple(channel.value for channel in CHANNELS) == STATE_COLUMNS
    for name in STATE_COLUMNS:
        assert name in RelativeSample.__struct_fields__
