"""Contact if thrust stops: against an integration of Hill's equations and Monte Carlo."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from console.core.ids import SourceId
from console.envelope.limits import ContactLimit
from console.envelope.quantity import Quantity
from console.envelope.setup import Port, PortAxis, Setup, SourceNoise
from console.motion.orbit import mean_motion_of_altitude
from console.motion.port_axes import port_transition
from console.tracking.along import Along
from console.tracking.axis import Axis
from console.tracking.ballistic import Ballistic, covariance_of, normal_draws
from console.tracking.contact_time import AlongNow
from console.tracking.filter import RelativeFilter
from console.tracking.noise import NoiseModel
from console.tracking.plan import ClosingPlan
from console.tracking.tracker import Tracker
from tests.tracking.tracking_passes import LIMITS, Passing, feed

N = mean_motion_of_altitude(420.0)
PLAN = ClosingPlan.of(LIMITS.glide_slope)


def drifting(x: float, v: float) -> RelativeFilter:
    """Make a filter state with its own covariance."""
    state = RelativeFilter(PLAN)
    state.started, state.t = True, 0.0
    state.along = Along(PLAN, Axis(x, v, 1e-4, 1e-6))
    state.y, state.z = Axis(0.02, 0.001, 5e-5, 1e-6), Axis(-0.01, 0.004, 5e-5, 1e-6)
    state.roll = Axis(0.2, 0.004, 0.01, 4e-5)
    state.pitch, state.yaw = Axis(-0.1, 0.01, 0.01, 4e-5), Axis(0.3, -0.02, 0.01, 4e-5)
    return state


def now_of(state: RelativeFilter) -> AlongNow:
    """Give its range axis with the usual allowances."""
    x = state.along.axis
    return AlongNow(x.p, x.v, x.a, x.b, x.c, 0.0, 0.02, 0.0006, 0.09, 0.015, 0.0)


def start_state(state: RelativeFilter) -> np.ndarray:
    """Give position and velocity."""
    axes = (state.along.axis, state.y, state.z)
    return np.array([axis.p for axis in axes] + [axis.v for axis in axes])


def hill(axis: PortAxis, offset_m: float):
    """Give Hill's equations in the port frame, written out anew for two ports."""

    def rates(_t, s):
        x, y, z, vx, vy, vz = s
        if axis is PortAxis.V_PLUS:  # port x along V, y along H, z along R
            return [vx, vy, vz, 2 * N * vz, -N * N * y, -2 * N * vx + 3 * N * N * z]
        # R+: port x along R, y along H, z along minus V; the offset is from the centre of mass.
        return [
            vx, vy, vz, 2 * N * vz + 3 * N * N * (x + offset_m), -N * N * y, -2 * N * vx
        ]  # fmt: skip

    return rates


@pytest.mark.parametrize(
    ("port", "offset_m", "range_m"),
    [(Port(), 0.0, 5.0), (Port(PortAxis.R_PLUS, (0.0, 15.0)), 15.0, 5.0), (Port(), 0.0, 15.0)],
)
def test_contact_is_where_hills_equations_bring_it(port, offset_m, range_m):
    """The predicted contact point and rate are those of an independent integration."""
    state = drifting(range_m, -0.09)
    touch = lambda _t, s: s[0]  # noqa: E731
    touch.terminal, touch.direction = True, -1
    flown = solve_ivp(
        hill(port.axis, offset_m), (0.0, 900.0), start_state(state), events=touch,
        rtol=1e-10, atol=1e-12,
    )  # fmt: skip
    t, end = float(flown.t_events[0][0]), flown.y_events[0][0]
    ballistic = Ballistic(port, N, LIMITS.contact_limits)
    covariance = covariance_of(now_of(state), state, NoiseModel(SourceNoise()))
    found = ballistic.predict(start_state(state), covariance, state, t)
    assert end[1] == pytest.approx(found.y_m, abs=2e-3)
    assert end[2] == pytest.approx(found.z_m, abs=2e-3)
    closing = found.quantities[0].predicted
    assert -end[3] == pytest.approx(closing.mean, abs=1e-4)


def test_chances_and_spread_agree_with_a_million_drifts():
    """Covariance at the plane and every chance are those of a million drifted states."""
    state = drifting(4.0, -0.09)
    noise = NoiseModel(SourceNoise())
    covariance = covariance_of(now_of(state), state, noise)
    count = 1_000_000
    rng = np.random.default_rng(17)
    starts = rng.multivariate_normal(start_state(state), covariance, count)
    t = 4.0 / 0.09
    matrix, constant = port_transition("V+", (0.0, 0.0, 0.0), N, t)
    ends = starts @ matrix.T + constant
    late = ends[:, 0] / -ends[:, 3]
    y, z = ends[:, 1] + ends[:, 4] * late, ends[:, 2] + ends[:, 5] * late
    found = Ballistic(Port(), N, LIMITS.contact_limits).predict(
        start_state(state), covariance, state, t
    )
    # First order in the errors: late contact times lateral rate is left out, some per cent.
    assert np.var(y) == pytest.approx(found.yy_m2, rel=0.04)
    assert np.var(z) == pytest.approx(found.zz_m2, rel=0.04)
    assert np.mean(z) == pytest.approx(found.z_m, abs=2e-3)
    chance = {line.quantity: line.chance for line in found.quantities}
    offset, rate = np.hypot(y, z) <= 0.10, np.hypot(ends[:, 4], ends[:, 5]) <= 0.04
    closing = (-ends[:, 3] >= 0.05) & (-ends[:, 3] <= 0.10)
    assert offset.mean() == pytest.approx(chance[Quantity.LATERAL_OFFSET], abs=0.03)
    assert rate.mean() == pytest.approx(chance[Quantity.LATERAL_RATE], abs=0.02)
    assert closing.mean() == pytest.approx(chance[Quantity.CLOSING_RATE], abs=0.02)
    turned = {}
    for name in ("roll", "pitch", "yaw"):
        axis = getattr(state, name)
        p, v = axis.p, axis.v
        pair = rng.multivariate_normal([p, v], [[axis.a, axis.b], [axis.b, axis.c]], count)
        turned[name] = pair[:, 0] + pair[:, 1] * t
    angle = np.hypot(turned["pitch"], turned["yaw"]) <= 4.0
    assert angle.mean() == pytest.approx(chance[Quantity.PITCH_YAW], abs=0.02)
    every = offset & rate & closing & angle & (np.abs(turned["roll"]) <= 4.0)
    assert every.mean() == pytest.approx(found.chance_all, abs=0.03)


def test_all_limits_together_are_not_a_product():
    """Offset and rate go together in a drift: the joint chance exceeds the product."""
    state = drifting(4.0, -0.09)
    state.z = Axis(-0.01, 0.0, 5e-5, 4e-6)
    covariance = covariance_of(now_of(state), state, NoiseModel(SourceNoise()))
    limits = (
        ContactLimit(Quantity.LATERAL_OFFSET, None, 0.20),
        ContactLimit(Quantity.LATERAL_RATE, None, 0.009),
    )
    found = Ballistic(Port(), N, limits).predict(start_state(state), covariance, state, 44.4)
    offset, rate = (line.chance for line in found.quantities if line.chance is not None)
    assert found.chance_all > offset * rate + 0.02


def test_a_far_drift_is_not_predicted():
    """More than a quarter of an hour ahead, and moving away, there is none."""
    state = drifting(4.0, -0.09)
    covariance = covariance_of(now_of(state), state, NoiseModel(SourceNoise()))
    ballistic = Ballistic(Port(), N, ())
    assert ballistic.predict(start_state(state), covariance, state, 901.0) is None
    outward = drifting(4.0, 0.09)
    assert ballistic.predict(start_state(outward), covariance, outward, 10.0) is None


def test_without_limits_there_is_a_state_and_no_chance():
    """A limits file without contact limits gives predictions without chances."""
    state = drifting(4.0, -0.09)
    covariance = covariance_of(now_of(state), state, NoiseModel(SourceNoise()))
    found = Ballistic(Port(), N, ()).predict(start_state(state), covariance, state, 44.4)
    assert found.chance_all is None
    assert all(line.chance is None and line.predicted for line in found.quantities)


def test_draws_are_standard_normal_and_always_the_same():
    """Mean 0, covariance the identity exactly, normal in shape, no two runs different."""
    draws = normal_draws(256, 11)
    np.testing.assert_allclose(draws.mean(axis=0), 0.0, atol=1e-12)
    np.testing.assert_allclose(draws.T @ draws / 256, np.eye(11), atol=1e-9)
    assert np.array_equal(draws, normal_draws(256, 11))
    share = (np.abs(draws) < 1.0).mean(axis=0)
    assert np.all(np.abs(share - 0.6827) < 0.05)


def test_the_tracker_names_both_assumptions():
    """Close in, both predictions are made and named; far out the drift makes none."""
    one = Tracker(LIMITS, Setup(sources={SourceId("optical"): SourceNoise()}))
    t = feed(one, Passing(start_m=8.0, for_s=40.0).samples())
    assert one.at_contact(t).assumption == "control continues"
    drift = one.if_thrust_stops(t)
    assert drift.assumption == "thrust stops now"
    assert drift.calibrated is False
    far = Tracker(LIMITS, Setup())
    t = feed(far, Passing(start_m=150.0, closing_mps=0.05, for_s=20.0).samples())
    assert far.if_thrust_stops(t) is None
