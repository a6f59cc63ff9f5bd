"""Outside which range a called stop would have helped, on a pass whose truth is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from console.envelope.limits import HandsOff
from console.simulation.truth import Truth

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class LastStop:
    """The end of useful stop calls on one pass.

    Attributes
    ----------
    range_m : float
        A stop called at any range outside this one, as shown then, halts the vehicle before
        contact; 0 where every call does.
    before_contact_s : float
        How long before contact the first call came too late; NaN where none did.
    """

    range_m: float
    before_contact_s: float


def last_stop(truth: Truth, stopping: HandsOff, age_s: float) -> LastStop:
    """Find the end of useful stop calls.

    Parameters
    ----------
    truth : Truth
        Of the pass.
    stopping : HandsOff
        Link delay, reaction and braking as they really are; the range is not looked at.
    age_s : float
        Age of the data a call is made by.

    Notes
    -----
    A call made when a range is shown acts after age, link delay and reaction; until then the
    vehicle goes on as it did, then it brakes: x - v²/(2a) must stay above 0
    (:func:`console.motion.braking.stopping_distance_m`, on the true motion).
    """
    if truth.t_contact is None:
        return LastStop(0.0, float("nan"))
    before = truth.t < truth.t_contact
    t, range_m, rate = truth.t[before], truth.range_m[before], truth.range_rate_mps[before]
    acts = t + (age_s + stopping.link_delay_s + stopping.reaction_s)
    left_m: Array = np.interp(acts, t, range_m)
    closing: Array = np.maximum(-np.interp(acts, t, rate), 0.0)
    helps = (acts < truth.t_contact) & (left_m > closing * closing / (2.0 * stopping.braking_mps2))
    late = np.flatnonzero(~helps)
    if not late.size:
        return LastStop(0.0, float("nan"))
    first = int(late[0])
    # a stop is known to help at the row before; the truth stands every tenth of a second
    return LastStop(
        float(range_m[max(first - 1, 0)]), float(truth.t_contact - t[max(first - 1, 0)])
    )
