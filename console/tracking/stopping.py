"""Halting from here: until when a called hold or retreat still works."""

from __future__ import annotations

from typing import Final

from console.core.normal import Z_95_ONE_SIDED
from console.envelope.limits import HandsOff
from console.envelope.setup import Retreat
from console.motion.braking import (
    latest_call_s,
    latest_call_sigma_s,
    retreat_time_s,
    stopping_distance_m,
)
from console.motion.drift import DriftOutcome
from console.tracking.contact_time import CLOSING, AlongNow, motion_of
from console.tracking.outlook import StopFigures

BRAKING_SIGMA: Final = 0.05
"""1-sigma of the braking deceleration as a share (thrust error)."""
START_SIGMA_S: Final = 0.29
"""1-sigma of the start of braking: control cycles of 1 s, uniform (1/sqrt 12)."""


def stop_figures(
    now: AlongNow,
    age_s: float,
    hands_off: HandsOff,
    retreat: Retreat,
    drift: DriftOutcome | None,
) -> StopFigures:
    """Give all figures of halting and backing out from one state.

    Parameters
    ----------
    now : AlongNow
        The estimated state.
    age_s : float
        Age of the data it rests on, charged like link delay and reaction.
    hands_off : HandsOff
        Range outside which a called hold must halt, delays and braking.
    retreat : Retreat
        How fast a retreat backs out, and to where.
    drift : DriftOutcome or None
        What free drift from here comes to.

    Returns
    -------
    StopFigures
        Calls are at constant rate: outside the knee that is the safe bound, since it assumes no
        slowing. They are None where the vehicle does not close, negative where it is too late.
    """
    braking = hands_off.braking_mps2
    delay = max(age_s, 0.0) + hands_off.link_delay_s + hands_off.reaction_s
    speed = max(-now.v, 0.0)
    distance = stopping_distance_m(speed, delay, braking)
    hold = safe = contact = None
    if now.p > 0.0 and motion_of(now) is CLOSING:
        hold = latest_call_s(now.p, speed, hands_off.range_m, delay, braking)
        contact = latest_call_s(now.p, speed, 0.0, delay, braking)
    if hold is not None:
        sigma = latest_call_sigma_s(
            max(hold, 0.0),
            speed,
            delay,
            braking,
            range_sigma_m=now.range_sigma_m,
            rate_sigma_mps=now.rate_sigma_mps,
            reaction_sigma_s=START_SIGMA_S,
            braking_share_sigma=BRAKING_SIGMA,
        )
        safe = hold - Z_95_ONE_SIDED * sigma
    back = retreat_time_s(now.p, speed, retreat.to_m, retreat.rate_mps, delay, braking)
    return StopFigures(
        distance_m=distance,
        duration_s=delay + speed / braking,
        stops_at_m=now.p - distance,
        hold_call_s=hold,
        hold_call_safe_s=safe,
        contact_call_s=contact,
        retreat_s=back if back > 0.0 else None,
        drift_least_m=None if drift is None else drift.nearest_m,
        drift_least_in_s=None if drift is None else drift.nearest_in_s,
        drift_enters_keep_out=None if drift is None else enters_keep_out(drift),
        drift_leaves_corridor=None if drift is None else drift.leaves_corridor_in_s is not None,
    )


def enters_keep_out(drift: DriftOutcome) -> bool:
    """Tell whether a drift enters the keep-out sphere, comes back into it, or never leaves it.

    A vehicle on its final approach is inside already: there the question is whether drifting
    takes it out for good.
    """
    if drift.enters_keep_out_in_s is not None:
        return True
    return drift.inside_keep_out and drift.leaves_keep_out_in_s is None
