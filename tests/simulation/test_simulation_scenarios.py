"""Every shipped scenario shows what it is for, over several seeds, from its demo's start."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from simulation_cases import LIMITS, SETUP

from console.core.records import RelativeSample
from console.envelope.quantity import Quantity
from console.simulation.reading import parse_scenario
from console.simulation.simulate import simulate
from tests.fakes.changed import replace

SHIPPED = Path(__file__).parents[2] / "replay_data" / "scenarios"
SEEDS = range(4)


@cache
def shown(name, seed, demo=True):
    """Simulate a shipped scenario as a demo shows it, or whole."""
    scenario = parse_scenario((SHIPPED / f"{name}.toml").read_bytes(), name)
    start = scenario.demo_range_m if demo else None
    return simulate(scenario, LIMITS, SETUP, seed, start)


@cache
def truth_of(name, seed, demo=True):
    """Give the truth alone, which is quick without sources."""
    scenario = parse_scenario((SHIPPED / f"{name}.toml").read_bytes(), name)
    start = scenario.demo_range_m if demo else None
    return simulate(replace(scenario, sensors=()), LIMITS, SETUP, seed, start).truth


@pytest.mark.parametrize("seed", SEEDS[:2])
@pytest.mark.parametrize("name", sorted(path.stem for path in SHIPPED.glob("*.toml")))
def test_a_demo_of_any_scenario_takes_no_half_hour(name, seed):
    """At speed 60 a demo is over well within two minutes."""
    run = shown(name, seed)
    lasts = run.messages[-1].t_publish_s - run.truth.t[0]
    assert lasts < 1800.0
    assert (run.truth.contact is None) == (name == "retreat")
    assert run.truth.captured == (name != "retreat")


@pytest.mark.parametrize("seed", SEEDS)
def test_fast_closing_ends_too_fast(seed):
    """Contact comes at 0.13 to 0.16 m/s; only the closing rate is outside."""
    values = truth_of("fast_closing", seed).contact.values
    assert 0.13 < values[Quantity.CLOSING_RATE] < 0.16
    assert values[Quantity.LATERAL_OFFSET] < 0.10


@pytest.mark.parametrize("demo", [True, False])
@pytest.mark.parametrize("seed", SEEDS)
def test_lateral_drift_leaves_the_corridor_and_comes_back(seed, demo):
    """More than 10 deg off the axis outside 15 m, and a good contact in the end."""
    truth = truth_of("lateral_drift", seed, demo)
    angle = np.degrees(np.arctan2(np.hypot(truth.y_m, truth.z_m), truth.range_m))
    assert angle[truth.range_m > 15].max() > 10.0
    assert truth.contact.values[Quantity.LATERAL_OFFSET] < 0.10


@pytest.mark.parametrize("demo", [True, False])
@pytest.mark.parametrize("seed", SEEDS)
def test_attitude_rate_builds_up_and_is_taken_out(seed, demo):
    """Above 0.2 deg/s and beyond 4 deg on the way, nominal at contact."""
    truth = truth_of("attitude_buildup", seed, demo)
    before = truth.t < truth.t_contact
    assert np.abs(truth.pitch_rate_dps[before]).max() > 0.2
    assert np.abs(truth.pitch_deg[before]).max() > 4.2
    assert truth.contact.values[Quantity.PITCH_YAW] < 1.0


@pytest.mark.parametrize("seed", SEEDS)
def test_source_bias_is_half_a_metre_at_15_m(seed):
    """The optical range is 0.5 m off from 15 m on; the radio is not."""
    run = shown("source_bias", seed)
    truth = run.truth
    for source, expected in (("optical", 0.5), ("radio", 0.0)):
        off = [
            m.record.range_m - np.interp(m.record.t, truth.t, truth.range_m)
            for m in run.messages
            if isinstance(m.record, RelativeSample)
            and m.record.source == source
            and truth.faults[0].t_start < m.record.t < truth.t_contact
        ]
        assert np.median(off) == pytest.approx(expected, abs=0.15)


@pytest.mark.parametrize("seed", SEEDS)
def test_link_loss_is_eight_seconds_at_12_m(seed):
    """Not one message for 8 s, from 12 m on."""
    run = shown("link_loss", seed)
    gaps = np.diff([m.t_publish_s for m in run.messages])
    assert gaps.max() == pytest.approx(8.0, abs=0.2)
    at = run.messages[int(gaps.argmax())].t_publish_s
    assert np.interp(at, run.truth.t, run.truth.range_m) == pytest.approx(12.0, abs=0.1)


@pytest.mark.parametrize("seed", SEEDS)
def test_hold_at_15_m_is_resumed(seed):
    """It stops within half a metre of 15 m for 75 s and goes on to contact."""
    hold = truth_of("hold_at_15", seed).holds[-1]
    assert 14.3 < hold.range_m < 15.0
    assert hold.t_end - hold.t_start == pytest.approx(75.0, abs=1.0)


@pytest.mark.parametrize("seed", SEEDS)
def test_retreat_goes_back_to_20_m(seed):
    """From between 8 and 10 m back to the 20 m hold."""
    truth = truth_of("retreat", seed)
    assert 8.0 < truth.range_m.min() < 10.0
    assert truth.range_m[-1] == pytest.approx(20.2, abs=0.4)


@pytest.mark.parametrize("demo", [True, False])
@pytest.mark.parametrize("seed", SEEDS)
def test_late_braking_touches_outside_the_contact_limits(seed, demo):
    """Braking has begun, and still the closing rate at contact is well above 0.10 m/s."""
    truth = truth_of("late_braking", seed, demo)
    assert 0.12 < truth.contact.closing_rate_mps < 0.165
    assert -truth.range_rate_mps[np.argmax(truth.range_m < 3.0)] > 0.16


@pytest.mark.parametrize("seed", SEEDS)
def test_dropout_leaves_the_radio(seed):
    """20 s and 6 s without optical samples; the radio never pauses."""
    run = shown("source_dropout", seed)
    for source, longest in (("optical", 20.0), ("radio", 0.5)):
        times = [
            m.record.t
            for m in run.messages
            if isinstance(m.record, RelativeSample) and m.record.source == source
        ]
        assert np.diff(times).max() == pytest.approx(longest, abs=0.2)
