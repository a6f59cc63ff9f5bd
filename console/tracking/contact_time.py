"""How long until a range is reached, with bounds: contact, the hands-off point, the next mark.

The best value runs along the planned closing law. The bounds are of the form "the chance that
the range has been reached by t": inside the knee they are where the predicted range, less or
plus 1.96 of its own sigma at that time, crosses the target. That form stays sound when the rate
is hardly known: its late bound is then open instead of wild.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final, NamedTuple, TypeAlias

from console.core.normal import Z_95
from console.tracking.noise import SCALE_ERROR
from console.tracking.outlook import Countdown, Motion
from console.tracking.plan import KNEE_BAND_M, ClosingPlan, Course

SLOWEST_CLOSING_MPS: Final = 0.01
CLOSING_SIGMAS: Final = 3.0
LAG_ERROR_S: Final = 12.0
"""The model's rate error in units of the expected deceleration it has been under."""
WANDER_MPS: Final = 0.001
WANDER_S: Final = 10.0
"""The controller's dead band lets the rate wander by so much, forgetting itself in 10 s."""
KNEE_RATE_MPS: Final = 0.003
KNEE_FADE_M: Final = 4.0
"""Just inside the knee the speed is still settling: so much more rate error, fading over 4 m."""
PUSH_MPS: Final = 0.03
"""While the vehicle is being pushed, its rate differs from what it will be by so much."""
RATE_SHARE: Final = 0.6
"""Of the filter's variance of the rate, what the bounds inside the knee count.

Its process noise and inflated gains keep it ready for manoeuvres a settled vehicle does not make:
over 400 simulated passes the squared error of the time to contact was 0.3 of what they stated at
10 and 5 m. Twice that is counted, because real vehicles are not that population.
"""
RATE_COUPLING: Final = math.sqrt(RATE_SHARE)
FINAL_GATE: Final = 3.0
OUTER_RATE_SIGMA_MPS: Final = 0.0015
DISAGREE_SIGMAS: Final = 2.5
PARTIAL_M: Final = 0.01
PARTIAL_MPS: Final = 1e-4
BISECTIONS: Final = 9
NEAR_REACH: Final = 0.5
FAR_REACH: Final = 1.3
"""Bounds are first looked for at these shares of the spread at the best value: nine halvings then
give them to a six-hundredth of the spread."""
LATEST_FACTOR: Final = 16.0
"""A late bound beyond so many times the best value is open."""
NOWHERE: Final = Countdown()
# Asked many times a sample: a member costs more on its class than under a name.
CLOSING: Final = Motion.CLOSING
OPENING: Final = Motion.OPENING


Spread: TypeAlias = Callable[[float], float]


class AlongNow(NamedTuple):
    """Range and range rate at one moment, with covariance and what the filter cannot see."""

    p: float
    v: float
    a: float
    b: float
    c: float
    lag_mps2: float
    range_bias_m: float
    rate_bias_mps: float
    final_mps: float
    """Final rate the vehicle heads for, as far as it is known."""
    final_sigma_mps: float
    push: float
    """1 while it is being pushed toward the port, 0 when it has settled."""
    c_unseen: float = 0.0
    """What :func:`settled` has put on the rate's variance that the filter does not state."""

    @property
    def range_sigma_m(self) -> float:
        """1-sigma of range, fixed bias and scale error included."""
        scale = SCALE_ERROR * self.p
        return math.sqrt(self.a + self.range_bias_m * self.range_bias_m + scale * scale)

    @property
    def rate_sigma_mps(self) -> float:
        """1-sigma of range rate, fixed bias included."""
        return math.sqrt(self.c + self.rate_bias_mps * self.rate_bias_mps)


def motion_of(now: AlongNow) -> Motion:
    """Tell which way range goes; a rate within 3 sigma or 1 cm/s of rest is neither."""
    least = max(SLOWEST_CLOSING_MPS, CLOSING_SIGMAS * math.sqrt(now.c))
    if -now.v > least:
        return CLOSING
    return OPENING if now.v > least else Motion.NOT_CLOSING


def countdown(
    now: AlongNow,
    plan: ClosingPlan,
    target_m: float,
    known: AlongNow | None = None,
    courses: tuple[Course, ...] = (),
) -> Countdown:
    """Give the time until a range is reached.

    Parameters
    ----------
    now : AlongNow
        The present state.
    plan : ClosingPlan
        The closing law.
    target_m : float
        The range, m.
    known : AlongNow or None
        What :func:`settled` gives for the state, where it has been worked out already.
    courses : tuple of Course
        What :func:`courses_of` gives, likewise.

    Returns
    -------
    Countdown
        Empty where the vehicle does not close or is past the target.
    """
    if now.p <= target_m or motion_of(now) is not CLOSING:
        return NOWHERE
    if is_outside(now, plan):
        return _outside(now, courses or courses_of(now, plan), target_m)
    now = settled(now, plan) if known is None else known
    shape = plan.shape(now.p, target_m)
    best = (now.p - target_m) / -now.v
    low, high = crossing_bounds(now, target_m, best)
    return Countdown(best * shape, low * shape, None if high is None else high * shape)


def is_outside(now: AlongNow, plan: ClosingPlan) -> bool:
    """Tell whether a state lies outside the knee, where the law still slows it."""
    return now.p > plan.knee_m + KNEE_BAND_M


def best_time_s(now: AlongNow, plan: ClosingPlan, target_m: float, known: AlongNow) -> float:
    """Give the best value of a countdown alone; the state closes and is outside the target."""
    if is_outside(now, plan):
        return plan.time_s(now.p, -now.v, target_m, now.final_mps)
    return (now.p - target_m) / -known.v * plan.shape(now.p, target_m)


def settled(now: AlongNow, plan: ClosingPlan) -> AlongNow:
    """Give the state with the rate it is settling to, for what lies inside the knee.

    Near the knee, and while the vehicle is being pushed off from a hold, the present rate is not
    yet the one it will keep. Its variance is raised by what it may still change, and it is joined
    with the final rate known from the plan or learned outside the knee, each by its weight.

    Notes
    -----
    Two estimates of one value joined by inverse variance (Bevington and Robinson, *Data
    Reduction and Error Analysis*, section 4.1; from memory); one that lies more than 3 sigma from
    the other is left out (a vehicle that keeps another rate than planned).
    """
    share = min(max(1.0 - (plan.knee_m - now.p) / KNEE_FADE_M, 0.0), 1.0)
    knee = KNEE_RATE_MPS * share
    lag = LAG_ERROR_S * now.lag_mps2
    push = PUSH_MPS * now.push
    rest = now.c + knee * knee + lag * lag + push * push
    final = now.final_mps * plan.inner_rate(now.p) / plan.knee_rate_mps
    away = final + now.v
    together = rest + now.final_sigma_mps**2
    weight = 0.0
    if away * away < FINAL_GATE * FINAL_GATE * together:
        weight = rest / together * max(share, now.push)
    left = 1.0 - weight
    variance = left * left * rest + (weight * now.final_sigma_mps) ** 2
    unseen = variance - left * left * now.c
    return now._replace(v=now.v - weight * away, b=now.b * left, c=variance, c_unseen=unseen)


def crossing_bounds(now: AlongNow, target_m: float, best_s: float) -> tuple[float, float | None]:
    """Give the 2.5 % and 97.5 % points of the crossing time; the late one None where open.

    Notes
    -----
    s^2(t) = P11 + b_p^2 + 2 t P12 r^(1/2) + t^2 (r P22 + u + b_v^2)
    + 2 tau^2 w^2 (t/tau - 1 + e^(-t/tau)), with P22 the filter's share of the settled rate's
    variance, u the rest of it, r what of P22 is counted (a filter that states more than its
    errors show: consistency by the normalised error squared, Bar-Shalom, Li, Kirubarajan 2001,
    section 5.4.2; from memory), and the last term the integrated Ornstein-Uhlenbeck wander of the
    closed loop (Gardiner, *Handbook of Stochastic Methods*, section 3.8.4; from memory). The
    chance that the target is reached before t is Phi(-(p + v t)/s(t)) with p counted from the
    target.
    """
    p, v = now.p - target_m, now.v
    a = now.a + now.range_bias_m * now.range_bias_m
    c = RATE_SHARE * (now.c - now.c_unseen) + now.c_unseen + now.rate_bias_mps * now.rate_bias_mps
    b2 = 2.0 * RATE_COUPLING * now.b
    wander = 2.0 * (WANDER_S * WANDER_MPS) ** 2

    def spread(t: float) -> float:
        w = t / WANDER_S
        variance = a + t * (b2 + t * c) + wander * (w - 1.0 + math.exp(-w))
        return Z_95 * math.sqrt(variance)

    reach = spread(best_s) / -v
    low = _early(p, v, spread, best_s, reach) if p > spread(0.0) else 0.0
    return low, _late(p, v, spread, best_s, reach)


def _early(p: float, v: float, spread: Spread, best_s: float, reach: float) -> float:
    """Halve down to where the predicted range is one spread outside the target."""
    start, end = max(best_s - FAR_REACH * reach, 0.0), best_s - NEAR_REACH * reach
    if start > 0.0 and p + v * start < spread(start):
        start = 0.0
    if end <= start or p + v * end > spread(end):
        end = best_s
    for _ in range(BISECTIONS):
        middle = 0.5 * (start + end)
        if p + v * middle > spread(middle):
            start = middle
        else:
            end = middle
    return 0.5 * (start + end)


def _late(p: float, v: float, spread: Spread, best_s: float, reach: float) -> float | None:
    """Halve down to where the predicted range is one spread inside; None where it never is."""
    start, end = best_s, best_s + FAR_REACH * reach
    while p + v * end > -spread(end):
        start, end = end, 2.0 * end
        if end > LATEST_FACTOR * best_s:
            return None
    for _ in range(BISECTIONS):
        middle = 0.5 * (start + end)
        if p + v * middle > -spread(middle):
            start = middle
        else:
            end = middle
    return 0.5 * (start + end)


def courses_of(now: AlongNow, plan: ClosingPlan) -> tuple[Course, ...]:
    """Give the law from a state outside the knee: as it is, then each partial's other end."""
    p, speed, final = now.p, -now.v, now.final_mps
    return (
        Course(plan, p, speed, final),
        Course(plan, p + PARTIAL_M, speed, final),
        Course(plan, p, speed + PARTIAL_MPS, final),
        Course(plan, p, speed, final + PARTIAL_MPS),
    )


def _outside(now: AlongNow, courses: tuple[Course, ...], target_m: float) -> Countdown:
    """Give the countdown outside the knee: the law, and the delta method for its doubt.

    Notes
    -----
    var T = T_p^2 (P11 + b_p^2 + scale^2) + 2 T_p T_v P12 + T_v^2 (P22 + b_v^2 + ...) +
    T_f^2 s_f^2 with numeric partial derivatives (error propagation; Bevington and Robinson,
    *Data Reduction and Error Analysis*, section 3.2; from memory).
    """
    best = courses[0].time_s(target_m)
    by_p = (courses[1].time_s(target_m) - best) / PARTIAL_M
    by_s = (courses[2].time_s(target_m) - best) / PARTIAL_MPS
    by_f = (courses[3].time_s(target_m) - best) / PARTIAL_MPS
    range_sigma, rate_bias = now.range_sigma_m, now.rate_bias_mps
    variance = (
        (by_p * range_sigma) ** 2
        - 2.0 * by_p * by_s * now.b
        + by_s * by_s * (now.c + rate_bias * rate_bias + OUTER_RATE_SIGMA_MPS**2)
        + (by_f * now.final_sigma_mps) ** 2
    )
    half = Z_95 * math.sqrt(max(variance, 0.0))
    low = max(best - half, 0.0)
    return Countdown(best, low, best + half, (now.p - target_m) / -now.v)


def union(countdowns: list[Countdown]) -> Countdown:
    """Give the earliest best value and the widest bounds of countdowns that disagree.

    Two sources cannot vote, so neither is believed alone: the interval covers both. Countdowns
    without a best value take no part.
    """
    known = [one for one in countdowns if one.best_s is not None]
    if not known:
        return NOWHERE
    first = min(known, key=lambda one: one.best_s or 0.0)
    low = min(one.low_s or 0.0 for one in known)
    highs = [one.high_s for one in known]
    high = None if None in highs else max(h for h in highs if h is not None)
    return Countdown(first.best_s, low, high, first.at_present_rate_s)


def are_apart(states: list[AlongNow]) -> bool:
    """Tell whether any two states disagree about the time to contact.

    A push that one source has seen counts for all: the others are only slower to see it.
    """
    push = max([one.push for one in states], default=0.0)
    doubts = [_doubt(one, push) for one in states]
    return any(
        _sigmas_apart(first, doubts[i], second, doubts[j]) > DISAGREE_SIGMAS
        for i, first in enumerate(states)
        for j, second in enumerate(states[i + 1 :], start=i + 1)
    )


def sigmas_apart(first: AlongNow, second: AlongNow) -> float:
    """Give by how many joint sigmas two states differ about when range will be zero.

    Both are carried on at their present rates for the time the first would take; what each may
    still change (the model's lag, a push) counts as doubt. 0 where the first does not close.

    Notes
    -----
    The difference of two predicted ranges over the root of the sum of their variances (same test
    as in ``agreement``); for equal rates the same as the difference of two times over their joint
    sigma.
    """
    return _sigmas_apart(first, _doubt(first, first.push), second, _doubt(second, second.push))


_Doubt: TypeAlias = tuple[float, float, float]
"""P11, 2 P12 and P22 of a range that is carried on at the present rate."""


def _sigmas_apart(first: AlongNow, doubt: _Doubt, second: AlongNow, other: _Doubt) -> float:
    p, v = first.p, first.v
    if p <= 0.0 or motion_of(first) is not CLOSING:
        return 0.0
    ahead = p / -v
    gap = p - second.p + ahead * (v - second.v)
    a, b2, c = doubt
    variance = a + ahead * (b2 + ahead * c)
    a, b2, c = other
    return abs(gap) / math.sqrt(variance + (a + ahead * (b2 + ahead * c)))


def _doubt(now: AlongNow, push: float) -> _Doubt:
    """Give what the variance of range carried on is made of: P11 + 2 t P12 + t^2 P22."""
    lag, push = LAG_ERROR_S * now.lag_mps2, PUSH_MPS * push
    rate = now.c + now.rate_bias_mps * now.rate_bias_mps + lag * lag + push * push
    return now.a + now.range_bias_m * now.range_bias_m, 2.0 * now.b, rate
