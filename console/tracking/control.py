"""The contact state if control continues as it has been: the Gaussian forecast."""

from __future__ import annotations

import math
from typing import Final

from console.tracking.axis import Axis
from console.tracking.contact_time import (
    CLOSING,
    WANDER_MPS,
    WANDER_S,
    AlongNow,
    motion_of,
    settled,
)
from console.tracking.filter import RelativeFilter
from console.tracking.forecast import ContactState, Pair
from console.tracking.habit import Habit, Mean
from console.tracking.noise import NoiseModel
from console.tracking.plan import KNEE_BAND_M, ClosingPlan
from console.tracking.residuals import Features, Weights

FORGET_S: Final = 25.0
"""The present lateral offset from the mean is forgotten with this time constant."""
FORGET_ANGLE_S: Final = 45.0
"""The same of an angle: attitude is left alone inside its dead band for longer."""
LATERAL_SCATTER_M: Final = 0.01
ANGLE_SCATTER_DEG: Final = 0.1
"""Scatter assumed at least, while the vehicle has not been watched for long."""
NOMINAL_S: Final = 300.0
"""Time to contact assumed in a hold, where there is none: anything long."""


def closing_at_contact(now: AlongNow, plan: ClosingPlan, to_contact_s: float) -> Pair:
    """Give mean and 1-sigma of the closing rate at contact.

    Inside the knee the settled rate goes on (scaled with the plan where that is not flat);
    outside it, and in a hold, the final rate known from the plan or learned is all there is.

    Notes
    -----
    The wander has the variance w^2 (1 - e^(-2 t/tau)) of an Ornstein-Uhlenbeck process after t
    (Gardiner, *Handbook of Stochastic Methods*, section 3.8.4; from memory).
    """
    outside = now.p > plan.knee_m + KNEE_BAND_M
    if outside or motion_of(now) is not CLOSING:
        scale = plan.final_rate_mps / plan.knee_rate_mps
        sigma = math.hypot(now.final_sigma_mps, now.rate_bias_mps)
        return now.final_mps * scale, sigma * scale
    now = settled(now, plan)
    scale = plan.final_rate_mps / plan.inner_rate(now.p)
    wander = WANDER_MPS * math.sqrt(1.0 - math.exp(-2.0 * to_contact_s / WANDER_S))
    sigma = math.sqrt(now.c + now.rate_bias_mps**2 + wander * wander)
    return -now.v * scale, sigma * scale


def held(axis: Axis, habit: Mean, keep: float, bias: float, scatter: float) -> Pair:
    """Give mean and 1-sigma at contact of a position the controller holds.

    Parameters
    ----------
    axis : Axis
        The present state.
    habit : Mean
        Where it has been lately.
    keep : float
        Weight of the present deviation from that.
    bias : float
        1-sigma of the source's fixed error.
    scatter : float
        Scatter to be assumed at least.

    Notes
    -----
    An Ornstein-Uhlenbeck process about its mean: with k = e^(-t/tau) the deviation is k times
    the present one and the variance s^2 (1 - k^2) (Gardiner, section 3.8.4; from memory).
    """
    spread = max(habit.sigma, scatter)
    variance = bias * bias + axis.a * keep + spread * spread * (1.0 - keep * keep)
    return habit.mean + keep * (axis.p - habit.mean), math.sqrt(variance)


def controlled_state(
    now: AlongNow,
    state: RelativeFilter,
    habit: Habit,
    noise: NoiseModel,
    plan: ClosingPlan,
    to_contact_s: float | None,
) -> ContactState:
    """Give the forecast of the contact state if control continues.

    Parameters
    ----------
    now, state : AlongNow, RelativeFilter
        The present state.
    habit : Habit
        Running means of it.
    noise : NoiseModel
        Of the best source.
    plan : ClosingPlan
        The closing law.
    to_contact_s : float or None
        Time to contact; None in a hold.
    """
    rest = NOMINAL_S if to_contact_s is None else to_contact_s
    keep, keep_angle = math.exp(-rest / FORGET_S), math.exp(-rest / FORGET_ANGLE_S)
    bias = noise.lateral_bias_m
    rate_bias_square = noise.lateral_rate_bias_mps**2
    return ContactState(
        closing=closing_at_contact(now, plan, rest),
        y=held(state.y, habit.y, keep, bias, LATERAL_SCATTER_M),
        z=held(state.z, habit.z, keep, bias, LATERAL_SCATTER_M),
        y_rate=(0.0, math.sqrt(habit.y_rate_square + rate_bias_square)),
        z_rate=(0.0, math.sqrt(habit.z_rate_square + rate_bias_square)),
        roll=held(state.roll, habit.roll, keep_angle, 0.0, ANGLE_SCATTER_DEG),
        pitch=held(state.pitch, habit.pitch, keep_angle, 0.0, ANGLE_SCATTER_DEG),
        yaw=held(state.yaw, habit.yaw, keep_angle, 0.0, ANGLE_SCATTER_DEG),
        roll_rate=(0.0, math.sqrt(habit.roll_rate_square)),
        pitch_rate=(0.0, math.sqrt(habit.pitch_rate_square)),
        yaw_rate=(0.0, math.sqrt(habit.yaw_rate_square)),
    )


def features_of(now: AlongNow, state: RelativeFilter, habit: Habit, plan: ClosingPlan) -> Features:
    """Give what a forecast by archived residuals is made from."""
    closing, _ = closing_at_contact(now, plan, 0.0)
    return Features(
        range_m=now.p,
        closing_mps=closing,
        y=_parts(state.y, habit.y),
        z=_parts(state.z, habit.z),
        roll=_parts(state.roll, habit.roll),
        pitch=_parts(state.pitch, habit.pitch),
        yaw=_parts(state.yaw, habit.yaw),
        offset_square=0.5 * (habit.y.square + habit.z.square),
        rate_square=0.5 * (habit.y_rate_square + habit.z_rate_square),
    )


def _parts(axis: Axis, habit: Mean) -> Weights:
    return habit.mean, axis.p - habit.mean, axis.v
