"""One axis against published steady states, a Riccati solver and an independent library."""

from __future__ import annotations

import math

import numpy as np
import pytest
from filterpy.common import Q_continuous_white_noise
from filterpy.kalman import KalmanFilter
from scipy.linalg import solve_discrete_are

from console.tracking.axis import GATE_SQUARED, REJECTS_TO_RESET, Axis

OPEN = 1e30  # a gate variance nothing falls outside of

# Kalata, "The tracking index", IEEE TAES AES-20(2), 1984: lambda, alpha, beta, velocity variance
# times T^2 over the measurement variance.
KALATA = [
    (0.01, 0.131851, 0.009317, 0.001365),
    (0.05, 0.270867, 0.042695, 0.014611),
    (0.1, 0.36, 0.08, 0.04),
    (0.2, 0.467328, 0.145969, 0.108062),
    (0.5, 0.628373, 0.304806, 0.390388),
    (1.0, 0.75, 0.5, 1.0),
    (2.0, 0.854102, 0.763932, 2.472136),
    (5.0, 0.945040, 1.172178, 7.655644),
    (10.0, 0.978714, 1.458980, 17.082039),
]


@pytest.mark.parametrize(("index", "alpha", "beta", "rate_variance"), KALATA)
def test_steady_gains_are_those_of_the_tracking_index(index, alpha, beta, rate_variance):
    """With piecewise constant acceleration the gains settle at Kalata's alpha and beta."""
    step, sigma = 0.5, 0.3
    jerk = index * sigma / step**2  # 1-sigma of the acceleration of a step
    axis = Axis(0.0, 0.0, 1.0, 1.0)
    for _ in range(3000):
        axis.predict(step, 0.0)
        axis.a += jerk**2 * step**4 / 4
        axis.b += jerk**2 * step**3 / 2
        axis.c += jerk**2 * step**2
        before = axis.a, axis.b
        axis.take_position(0.0, OPEN, sigma**2)
    gain = before[0] / (before[0] + sigma**2), before[1] / (before[0] + sigma**2)
    assert (alpha, beta) == pytest.approx((gain[0], gain[1] * step), abs=2e-6)
    assert rate_variance == pytest.approx(axis.c * step**2 / sigma**2, abs=2e-6)


@pytest.mark.parametrize("with_rate", [False, True])
def test_steady_covariance_solves_the_riccati_equation(with_rate):
    """The covariance settles where scipy's discrete Riccati solver says it must."""
    step, q, r, rr = 0.1, 3e-4, 0.02**2, 0.01**2
    axis = Axis(0.0, 0.0, 1.0, 1.0)
    for _ in range(20000):
        axis.predict(step, q)
        predicted = axis.a, axis.b, axis.c
        axis.take_position(0.0, OPEN, r)
        if with_rate:
            axis.take_rate(0.0, OPEN, rr)
    transition = np.array([[1.0, step], [0.0, 1.0]])
    noise = q * np.array([[step**3 / 3, step**2 / 2], [step**2 / 2, step]])
    seen = np.eye(2) if with_rate else np.array([[1.0, 0.0]])
    measured = np.diag([r, rr]) if with_rate else np.array([[r]])
    expected = solve_discrete_are(transition.T, seen.T, noise, measured)
    found = [[predicted[0], predicted[1]], [predicted[1], predicted[2]]]
    np.testing.assert_allclose(found, expected, rtol=1e-8)


def test_axis_follows_an_independent_filter():
    """States and covariances equal those of filterpy's Kalman filter to 1e-9, at uneven steps."""
    rng = np.random.default_rng(5)
    other = KalmanFilter(dim_x=2, dim_z=1)
    other.x = np.array([[30.0], [-0.2]])
    other.P = np.diag([0.5, 0.01])
    axis = Axis(30.0, -0.2, 0.5, 0.01)
    q = 2e-5
    worst = 0.0
    for _ in range(400):
        step = float(rng.uniform(0.005, 5.0))
        acceleration = float(rng.normal(0.0, 1e-3))
        z, zr = float(rng.normal(20.0, 1.0)), float(rng.normal(-0.1, 0.02))
        r, rr = float(rng.uniform(0.01, 1.0)), float(rng.uniform(1e-4, 1e-2))
        axis.predict(step, q, acceleration)
        other.predict(
            u=np.array([[acceleration]]),
            B=np.array([[step * step / 2], [step]]),
            F=np.array([[1.0, step], [0.0, 1.0]]),
            Q=Q_continuous_white_noise(2, step, q),
        )
        axis.take_position(z - axis.p, OPEN, r)
        other.update(np.array([[z]]), R=np.array([[r]]), H=np.array([[1.0, 0.0]]))
        axis.take_rate(zr - axis.v, OPEN, rr)
        other.update(np.array([[zr]]), R=np.array([[rr]]), H=np.array([[0.0, 1.0]]))
        mine = [axis.p, axis.v, axis.a, axis.b, axis.c]
        theirs = [*other.x.ravel(), other.P[0, 0], other.P[0, 1], other.P[1, 1]]
        worst = max(worst, float(np.abs(np.array(mine) - theirs).max()))
    assert worst < 1e-9


def test_a_single_outlier_leaves_the_state_alone():
    """What lies outside the gate moves nothing and is counted."""
    axis = Axis(10.0, -0.1, 0.01, 1e-4)
    gate = 0.02**2
    outlier = math.sqrt(GATE_SQUARED * (axis.a + gate)) * 1.001
    assert axis.take_position(outlier, gate, gate * 16) is False
    assert (axis.p, axis.v, axis.a) == (10.0, -0.1, 0.01)
    assert axis.position_rejects == 1


@pytest.mark.parametrize("channel", ["position", "rate"])
def test_a_lasting_jump_is_believed_at_the_twenty_fifth_sample(channel):
    """The way back is slower than the frozen check's twelve samples, and goes all the way."""
    axis = Axis(10.0, -0.1, 1e-4, 1e-6)
    taken = []
    for _ in range(REJECTS_TO_RESET):
        if channel == "position":
            taken.append(axis.take_position(15.0 - axis.p, 4e-4, 64e-4))
        else:
            taken.append(axis.take_rate(0.4 - axis.v, 2e-5, 32e-5))
    assert taken == [False] * (REJECTS_TO_RESET - 1) + [True]
    reached = axis.p if channel == "position" else axis.v
    assert (15.0 if channel == "position" else 0.4) == pytest.approx(reached, rel=0.01)


def test_covariance_stays_positive_over_long_runs():
    """Many steps of plain float updates leave a positive definite covariance."""
    axis = Axis(0.0, 0.0, 1.0, 1.0)
    for _ in range(200_000):
        axis.predict(0.005, 1.5e-7)
        axis.take_position(0.0, OPEN, 1e-4)
        axis.take_rate(0.0, OPEN, 1e-5)
    assert axis.a > 0.0
    assert axis.a * axis.c - axis.b * axis.b > 0.0
