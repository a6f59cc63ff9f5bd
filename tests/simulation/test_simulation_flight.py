"""The true motion against Hill's equations and a two-body view, and the guidance's stops."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from simulation_cases import ADRIFT, LIMITS, SETUP, SHORT, flown

from console.core.errors import InputError
from console.envelope.limits import Curve, GlideSlope
from console.envelope.setup import Port, PortAxis
from console.motion.port_axes import port_from_vhr_state, vhr_from_port_state
from console.simulation.guidance import closing_law, standing_range_m
from console.simulation.scenario import Hold, Order, OrderKind, Scenario, Steering
from console.simulation.simulate import simulate
from tests.fakes.changed import replace

N = math.sqrt(3.986004418e14 / (6378137.0 + 420e3) ** 3)


def test_mean_motion_of_the_default_orbit():
    """420 km: 1.126e-3 rad/s."""
    assert pytest.approx(1.126e-3, rel=5e-4) == N


@pytest.mark.parametrize(
    ("axis", "offset"),
    [
        (PortAxis.V_PLUS, (0.0, 0.0)),
        (PortAxis.R_PLUS, (2.0, 15.0)),
        (PortAxis.V_MINUS, (5.0, -3.0)),
    ],
)
def test_without_thrust_the_truth_is_hills_equations(axis, offset):
    """A pass in which no thruster fires equals an integration in V, H, R, to a millimetre."""
    scenario = replace(SHORT, start_range_m=60.0, steering=ADRIFT, longest_s=400.0)
    truth = flown(scenario, port=Port(axis, offset)).truth

    def rates(_, s):
        return [*s[3:], 2 * N * s[5], -N * N * s[1], -2 * N * s[3] + 3 * N * N * s[2]]

    at = (offset[0], 0.0, offset[1])
    start = truth.columns()[0, :6]
    begin = vhr_from_port_state(axis, start, at)
    since = truth.t - truth.t[0]
    before = since < (400.0 if truth.contact is None else truth.t_contact - truth.t[0])
    path = solve_ivp(rates, (0, 400), begin, t_eval=since[before], rtol=1e-10, atol=1e-10).y
    expected = np.array([port_from_vhr_state(axis, column, at) for column in path.T])
    np.testing.assert_allclose(truth.columns()[before][:, :6], expected, atol=1e-3)


def test_a_run_along_the_velocity_needs_steady_lateral_thrust():
    """Held on the axis at v, pulses along the radius add up to 2 n v a second."""
    truth = flown(Scenario(start_range_m=20.0)).truth
    under_way = (truth.t > truth.holds[-1].t_end + 20) & (truth.t < truth.t_contact - 5)
    pulses = np.diff(truth.z_rate_mps[under_way])
    pulses = pulses[np.abs(pulses) > 1e-3]
    span = np.count_nonzero(under_way) * 0.1
    assert abs(pulses.sum()) / span == pytest.approx(2 * N * 0.09, rel=0.15)
    assert np.abs(truth.z_m[under_way]).max() < 0.15


def test_pulses_are_whole_bits_with_five_per_cent_noise():
    """Velocity jumps only at whole seconds, in multiples of 2 mm/s spread by 5 %."""
    truth = flown(replace(SHORT, start_range_m=40.0), seed=5).truth
    before = truth.t < truth.t_contact - 1
    for rate in (truth.range_rate_mps, truth.y_rate_mps, truth.z_rate_mps):
        jumps = np.diff(rate[before])
        at = np.flatnonzero(np.abs(jumps) > 5e-4)
        assert np.all((at + 1) % 10 == 0)
        bits = np.abs(jumps[at]) / 0.002
        nearest = np.maximum(np.round(bits), 1)
        assert np.all(np.abs(bits / nearest - 1) < 0.25)


def test_attitude_stays_about_its_dead_band():
    """A nominal pass keeps every angle near 0.3 to 0.5 deg and turns slowly."""
    truth = flown(replace(SHORT, start_range_m=60.0), seed=2).truth
    before = truth.t < truth.t_contact
    for angle, rate in (
        (truth.roll_deg, truth.roll_rate_dps),
        (truth.pitch_deg, truth.pitch_rate_dps),
        (truth.yaw_deg, truth.yaw_rate_dps),
    ):
        assert np.abs(angle[before]).max() < 0.7
        assert np.abs(angle[before]).max() > 0.15
        assert np.abs(rate[before]).max() < 0.04


def test_closing_law_from_the_scenario_or_the_limits_file():
    """What the scenario leaves open comes from the glide slope."""
    slope = LIMITS.glide_slope
    assert closing_law(Steering(), slope) is slope.curve
    law = closing_law(Steering(final_rate_mps=0.05), slope)
    assert law.at(0.0) == 0.05
    assert law.at(20.0) == 0.05
    assert law.at(200.0) == pytest.approx(0.05 + 0.46)
    steep = closing_law(Steering(slope_per_s=0.006, knee_m=10.0), slope)
    assert steep.at(110.0) == pytest.approx(0.09 + 0.6)
    flat = GlideSlope(Curve((0.0, 20.0), (0.08, 0.08)))
    assert closing_law(Steering(knee_m=5.0), flat).at(100.0) == pytest.approx(0.08)


def test_an_ordered_hold_stops_and_goes_on():
    """Called at 15 m it stops well under a metre on, waits, and the approach is resumed."""
    order = Order(OrderKind.HOLD, 15.0, for_s=30.0)
    truth = flown(replace(SHORT, start_range_m=17.0, orders=(order,))).truth
    (hold,) = truth.holds
    assert 14.0 < hold.range_m < 15.0
    assert not hold.planned
    assert hold.t_end - hold.t_start == pytest.approx(30.0, abs=1.0)
    assert truth.contact is not None


def test_an_ordered_hold_without_end_ends_the_pass():
    """Never released: the pass ends when it has stood for the scenario's time."""
    order = Order(OrderKind.HOLD, 5.0)
    run = flown(replace(SHORT, orders=(order,), stay_s=40.0))
    (hold,) = run.truth.holds
    assert hold.t_end == math.inf
    assert run.truth.contact is None
    assert run.truth.t[-1] - hold.t_start == pytest.approx(40.0, abs=1.5)


def test_a_retreat_backs_out_at_its_rate_and_stays():
    """From 9 m back to 20 m at 0.2 m/s along the axis."""
    order = Order(OrderKind.RETREAT, 9.0, to_m=20.0, rate_mps=0.2)
    truth = flown(replace(SHORT, start_range_m=11.0, orders=(order,))).truth
    assert truth.contact is None
    assert 8.0 < truth.range_m.min() < 9.0
    assert truth.range_rate_mps.max() == pytest.approx(0.2, abs=0.012)
    assert truth.range_m[-1] == pytest.approx(standing_range_m(20.0), abs=0.3)
    assert np.hypot(truth.y_m, truth.z_m).max() < 0.5


def test_a_retreat_that_goes_on_makes_contact_after_all():
    """Released from the hold it backed out to, the vehicle comes again."""
    order = Order(OrderKind.RETREAT, 4.0, for_s=10.0, to_m=7.0)
    truth = flown(replace(SHORT, orders=(order,))).truth
    assert truth.contact is not None
    assert len(truth.holds) == 1


def test_a_planned_hold_never_released_ends_the_pass():
    """A hold without a time is not left."""
    truth = flown(replace(SHORT, holds=(Hold(4.0, math.inf),), stay_s=20.0)).truth
    assert truth.contact is None
    assert truth.range_m[-1] == pytest.approx(standing_range_m(4.0), abs=0.2)


def test_a_pass_that_never_arrives_ends():
    """No pass is longer than its longest time."""
    scenario = replace(SHORT, start_range_m=60.0, longest_s=50.0)
    truth = flown(scenario).truth
    assert truth.contact is None
    assert truth.t[-1] - truth.t[0] == pytest.approx(50.0)


@pytest.mark.parametrize("start", [0.0, -5.0, 2500.0, math.nan])
def test_a_start_that_is_no_range_is_refused(start):
    """The error says what is allowed."""
    with pytest.raises(InputError, match="above 0 m and at most 2000 m"):
        simulate(SHORT, LIMITS, SETUP, 1, start)


def test_time_at_range_is_the_last_time_inward():
    """After a retreat it is the second approach's; a pass that stays outside has none."""
    order = Order(OrderKind.RETREAT, 4.0, for_s=10.0, to_m=7.0)
    truth = flown(replace(SHORT, orders=(order,))).truth
    at_5 = truth.time_at_range(5.0)
    assert at_5 > truth.holds[0].t_end
    assert np.interp(at_5, truth.t, truth.range_m) == pytest.approx(5.0, abs=1e-6)
    assert truth.time_at_range(300.0) is None
    stays = flown(replace(SHORT, orders=(Order(OrderKind.RETREAT, 4.0, to_m=7.0),))).truth
    assert stays.time_at_range(5.0) is None
