"""What follows contact: order and times of capture, damping, hooks, and the vestibule's gas."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from simulation_cases import LIMITS, SETUP, SHORT, flown, nominal

from console.core.records import CaptureStatus, RelativeSample
from console.motion.damping import fit_size
from console.simulation.mechanism import vestibule_truth
from console.simulation.scenario import Capture, Scenario
from console.simulation.simulate import simulate
from console.simulation.touch import Damped, states_after
from tests.fakes.changed import replace


def statuses(run):
    """Give the capture statuses in the order published."""
    return [m.record for m in run.messages if isinstance(m.record, CaptureStatus)]


def first(run, test):
    """Give seconds from contact to the first status that passes a test."""
    return next(s.t for s in statuses(run) if test(s)) - run.truth.t_contact


@pytest.mark.parametrize("seed", range(6))
def test_capture_takes_four_to_five_minutes_in_the_right_order(seed):
    """Contact, soft capture within 2 s, ring, ready flags, twelve hooks, hard capture."""
    run = nominal(seed, 12.0)
    soft = first(run, lambda s: s.soft_capture)
    moving = first(run, lambda s: s.ring_extension < 1.0)
    home = first(run, lambda s: s.ring_extension == 0.0)
    ready = first(run, lambda s: all(s.ready_to_hook))
    driven = first(run, lambda s: any(h > 0 for h in s.hooks))
    closed = first(run, lambda s: all(h == 1 for h in s.hooks))
    hard = first(run, lambda s: s.hard_capture)
    assert 1.0 <= soft <= 2.0
    assert soft < moving < home < ready < driven < closed < hard
    assert 60.0 <= home - moving <= 90.0
    assert 240.0 <= hard <= 300.0


def test_hooks_close_in_two_gangs_each_at_its_own_time():
    """Twelve hooks, six and six; no two at the same time, the second gang after the first."""
    run = nominal(3)
    closed = [first(run, lambda s, i=i: s.hooks[i] == 1.0) for i in range(12)]
    assert len(set(closed)) == 12
    assert max(closed[0::2]) < min(closed[1::2])
    for status in statuses(run):
        assert len(status.hooks) == 12
        assert all(0.0 <= hook <= 1.0 for hook in status.hooks)


def test_nothing_ever_goes_back():
    """Flags stay up, the ring only comes in, hooks only close, numbers count up by one."""
    taken = statuses(nominal(3))
    assert [s.seq for s in taken] == list(range(len(taken)))
    for before, after in itertools.pairwise(taken):
        assert before.t < after.t
        assert before.soft_capture <= after.soft_capture
        assert before.hard_capture <= after.hard_capture
        assert before.ring_extension >= after.ring_extension
        assert all(a <= b for a, b in zip(before.hooks, after.hooks, strict=True))
        assert all(a <= b for a, b in zip(before.ready_to_hook, after.ready_to_hook, strict=True))


def test_status_comes_twice_a_second_ten_times_while_damping_and_then_once():
    """At most 0.5 s apart up to hard capture, 0.1 s until damped; a second for ten minutes."""
    run = nominal(3)
    taken = statuses(run)
    hard = next(i for i, s in enumerate(taken) if s.hard_capture)
    times = np.array([s.t for s in taken])
    assert np.diff(times[: hard + 1]).max() <= 0.5 + 1e-5
    since = times - run.truth.t_contact
    soft_s = first(run, lambda s: s.soft_capture)
    damping = (since > soft_s - 1e-5) & (since < soft_s + Capture().damping_s - 1e-5)
    assert damping.sum() == 550
    assert np.allclose(np.diff(since[damping]), 0.1, atol=1e-5)
    before, after = since < soft_s - 1e-5, since > soft_s + Capture().damping_s
    assert before.sum() <= 3
    assert np.diff(since[after & (since < since[hard])]).max() > 0.4
    assert np.allclose(np.diff(times[hard:]), 1.0, atol=1e-5)
    assert times[-1] - times[hard] == pytest.approx(600.0, abs=1.0)


def test_the_damped_motion_has_the_decay_and_period_of_its_mechanism():
    """The sizes sent after contact fit the scenario's time constant and period."""
    run = nominal(3)
    taken = [s for s in statuses(run) if s.t < run.truth.t_contact + 45.0]
    since = [s.t - run.truth.t_contact for s in taken]
    fit = fit_size(since, [s.rel_rate_mps for s in taken])
    assert fit is not None
    assert fit.decay_s == pytest.approx(12.0, rel=0.1)
    assert fit.period_s == pytest.approx(4.0, rel=0.03)
    turning = fit_size(since, [s.rel_rate_dps for s in taken])
    assert turning is not None
    assert turning.decay_s == pytest.approx(12.0, rel=0.1)
    late = [s.rel_rate_mps for s in statuses(run) if 70 < s.t - run.truth.t_contact < 90]
    assert max(late) < 0.002


def test_relative_motion_begins_with_that_of_contact():
    """The first size is about the closing rate; position and rate are continuous."""
    run = nominal(3)
    contact = run.truth.contact
    assert statuses(run)[0].rel_rate_mps == pytest.approx(contact.closing_rate_mps, abs=0.005)
    truth = run.truth
    around = np.flatnonzero(np.abs(truth.t - contact.t) < 0.3)
    assert np.abs(np.diff(truth.range_m[around])).max() < 0.012
    assert np.abs(np.diff(truth.y_m[around])).max() < 0.01


def test_damped_oscillation_against_its_own_derivative():
    """The rate is the derivative of the position; it starts as released."""
    motion = Damped.released(np.array([0.05, -0.02]), np.array([-0.09, 0.01]), 12.0, 4.0)
    t = np.linspace(0.0, 30.0, 3001)
    position, rate = motion.at(t)
    assert tuple(position[0]) == pytest.approx((0.05, -0.02))
    assert tuple(rate[0]) == pytest.approx((-0.09, 0.01))
    numeric = np.gradient(position, t, axis=0)
    assert np.abs(numeric - rate)[1:-1].max() < 1e-4
    assert np.abs(position[-1]).max() < 0.15 * math.exp(-30.0 / 12.0)


def test_the_sources_go_on_until_after_soft_capture():
    """Samples to ten seconds after soft capture, a few centimetres behind the contact plane."""
    run = nominal(3)
    soft = first(run, lambda s: s.soft_capture)
    last = max(m.record.t for m in run.messages if isinstance(m.record, RelativeSample))
    assert last - run.truth.t_contact == pytest.approx(soft + 10.0, abs=0.6)
    after = run.truth.t > run.truth.t_contact + 0.1
    assert -0.2 < run.truth.range_m[after].min() < -0.03
    assert run.truth.range_m[after].max() < 0.05


def test_a_contact_far_off_the_axis_does_not_hold():
    """Half a metre off: contact for a moment, no soft capture, and it drifts off again."""
    from simulation_cases import ADRIFT

    scenario = replace(SHORT, start_range_m=2.0, start_y_m=0.5, start_z_m=0.0, steering=ADRIFT)
    run = flown(scenario)
    assert run.truth.contact is not None
    assert not run.truth.captured
    taken = statuses(run)
    assert taken[0].contact
    assert not taken[-1].contact
    assert not any(s.soft_capture for s in taken)
    assert run.truth.range_m[-1] > 0.3


def test_a_rebound_is_continuous():
    """Thrown back, the vehicle goes in a little, then out at a share of its closing rate."""
    state = np.array([0.0, 0.5, 0.0, -0.1, 0.0, 0.0] + [0.0] * 6)
    t = np.linspace(0.0, 30.0, 301)
    out = states_after(state, Capture(), captured=False, since_s=t)
    assert out[0, 0] == 0.0
    assert -0.06 <= out[:, 0].min() < -0.04
    assert out[-1, 3] == pytest.approx(0.03)
    assert np.abs(np.diff(out[:, 0])).max() < 0.011


def test_the_vestibule_fills_and_keeps_its_gas():
    """From near vacuum to 101.3 kPa; then p/T falls at the leak's rate and no faster."""
    run = nominal(3)
    hard = first(run, lambda s: s.hard_capture) + run.truth.t_contact
    gas = [s for s in statuses(run) if s.vestibule_kpa is not None]
    assert gas[0].vestibule_kpa < 0.1
    t = np.array([s.t - hard for s in gas])
    p = np.array([s.vestibule_kpa for s in gas]) * 1000.0
    kelvin = np.array([s.vestibule_degc for s in gas]) + 273.15
    held = t > 150.0
    assert p[held].min() > 101_000.0
    mass = p[held] * 294.15 / kelvin[held]
    slope, offset = np.polyfit(t[held] / 3600.0, mass, 1)
    assert slope == pytest.approx(-2.0, abs=3.0)  # Pa/h, against a limit of 20
    assert offset == pytest.approx(101_300.0, abs=5.0)
    plain, _ = np.polyfit(t[held] / 3600.0, p[held], 1)
    assert plain < -50.0  # the cooling gas alone looks like a leak


def test_the_true_gas_follows_the_perfect_gas_law():
    """p/(mT) is one constant while filling, filled and leaking."""
    capture = Capture(leak_pa_per_h=500.0)
    t = np.linspace(0.0, 900.0, 901)
    kpa, degc = vestibule_truth(t, capture)
    held = t >= capture.pressurise_after_s + capture.pressurise_s
    mass = kpa[held] / (degc[held] + 273.15)
    loss = (mass[0] - mass[-1]) / mass[0] * 101_300.0
    assert loss == pytest.approx(500.0 * (t[-1] - t[held][0]) / 3600.0, rel=1e-6)
    assert np.all(np.diff(kpa[(t > 25) & (t < 119)]) > 0)
    assert degc.max() == pytest.approx(23.0, abs=0.05)


def test_a_lagging_temperature_sensor_shows_the_past():
    """With a lag the shown temperature trails the gas and meets it in the end."""
    capture = Capture(sensor_lag_s=60.0, temperature_noise_k=0.0, vestibule_s=900.0)
    run = flown(replace(SHORT, capture=capture))
    gas = [s for s in statuses(run) if s.vestibule_degc is not None]
    shown = np.array([s.vestibule_degc for s in gas])
    _, true = vestibule_truth(np.arange(1.0, shown.size + 1), capture)
    assert shown[100] < true[100] - 0.3
    assert shown[170] > true[170] + 0.1
    assert shown[-1] == pytest.approx(true[-1], abs=0.01)


def test_no_vestibule_where_none_is_asked_for():
    """With no time for it the status ends at hard capture."""
    run = flown(replace(SHORT, capture=Capture(vestibule_s=0.0)))
    assert statuses(run)[-1].hard_capture
    assert statuses(run)[-1].vestibule_kpa is None


def test_a_whole_nominal_pass_is_quick():
    """Ten passes from 200 m take well under two seconds each."""
    import time

    start = time.perf_counter()
    for seed in range(10):
        simulate(Scenario(), LIMITS, SETUP, 100 + seed)
    assert (time.perf_counter() - start) / 10 < 2.0
