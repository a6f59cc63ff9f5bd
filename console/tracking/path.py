"""The predicted path to contact along the closing law, with its doubt: the fan of the lanes."""

from __future__ import annotations

import math
from typing import Final

from console.tracking.contact_time import (
    CLOSING,
    OUTER_RATE_SIGMA_MPS,
    WANDER_MPS,
    WANDER_S,
    AlongNow,
    motion_of,
    settled,
)
from console.tracking.control import FORGET_S, LATERAL_SCATTER_M
from console.tracking.filter import RelativeFilter
from console.tracking.habit import Habit
from console.tracking.outlook import PathPoint
from console.tracking.plan import KNEE_BAND_M, ClosingPlan, Course

POINTS: Final = 24
SHARES: Final = tuple(1.0 - i / (POINTS - 1) for i in range(POINTS))


def path_to_contact(
    now: AlongNow,
    state: RelativeFilter,
    habit: Habit,
    bias_m: float,
    plan: ClosingPlan,
) -> tuple[PathPoint, ...]:
    """Give the path from here to contact, evenly spaced over the square root of range.

    Parameters
    ----------
    now, state : AlongNow, RelativeFilter
        The present state.
    habit : Habit
        Where the controller keeps the vehicle laterally.
    bias_m : float
        1-sigma of the fixed lateral error.
    plan : ClosingPlan
        The closing law.

    Returns
    -------
    tuple of PathPoint
        Empty where the vehicle does not close. Closing-rate sigma blends from the present one to
        that of the final rate outside the knee, and grows by the controller's wander inside it;
        lateral sigma grows to the scatter the vehicle has shown.

    Notes
    -----
    Means and variances of Ornstein-Uhlenbeck processes, as in ``control`` (its source there).
    """
    if now.p <= 0.0 or motion_of(now) is not CLOSING:
        return ()
    outside = now.p - plan.knee_m > KNEE_BAND_M
    if not outside:
        now = settled(now, plan)
    speed, start, final = -now.v, now.p, now.final_mps
    present = now.c + now.rate_bias_mps**2
    outer = present + OUTER_RATE_SIGMA_MPS**2
    y, z = state.y, state.z
    spread = max(habit.y.square, habit.z.square, LATERAL_SCATTER_M**2)
    known = max(y.a, z.a)
    ranges_m = [start * share * share for share in SHARES]
    course = Course(plan, start, speed, final).follow(ranges_m)
    course[0] = 0.0, course[0][1]
    y_mean, z_mean = habit.y.mean, habit.z.mean
    y_off, z_off = y.p - y_mean, z.p - z_mean
    fixed, way = bias_m * bias_m, start - plan.knee_m
    final_sigma, wander = now.final_sigma_mps, WANDER_MPS**2
    exp, sqrt = math.exp, math.sqrt
    points: list[PathPoint] = []
    for range_m, (in_s, rate_mps) in zip(ranges_m, course, strict=True):
        if outside:
            done = (start - range_m) / way if range_m > plan.knee_m else 1.0
            variance = (1.0 - done) ** 2 * outer + (done * final_sigma) ** 2
        else:
            variance = present + wander * (1.0 - exp(-2.0 * in_s / WANDER_S))
        keep = exp(-in_s / FORGET_S)
        lateral = fixed + known * keep + spread * (1.0 - keep * keep)
        points.append(
            PathPoint(
                range_m,
                rate_mps,
                sqrt(variance),
                y_mean + keep * y_off,
                z_mean + keep * z_off,
                sqrt(lateral),
                in_s,
            )
        )
    return tuple(points)
