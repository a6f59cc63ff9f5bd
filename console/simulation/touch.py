"""From contact on: the exact instant, the ring's give, the damped relative motion.

After contact the relative motion is one damped oscillation about the ring's compressed position,
the same time constant and period on every axis (an invented mechanism, chosen plausible). A
contact too far off the axis, too fast or too skew does not hold: the vehicle drifts off again.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from console.motion.contact import vector_sum
from console.simulation.scenario import Capture
from console.simulation.truth import STEP_S, ContactTruth

Array = NDArray[np.float64]

COMPRESSED_M = 0.05
KICK_DPS_PER_M2PS = 60.0  # turning rate an off-axis touch gives, for each m * m/s
CAPTURE_OFFSET_M = 0.25
CAPTURE_ANGLE_DEG = 8.0
CAPTURE_RATE_MPS = 0.3
REBOUND = 0.3
REBOUND_S = 30.0


@dataclass(frozen=True, slots=True)
class Damped:
    """A damped oscillation of some axes, from their state at time 0.

    position = e^(-t/decay) (a cos wt + b sin wt), shape (axes,) each.
    """

    cosine: Array
    sine: Array
    decay_s: float
    frequency_rad_per_s: float

    @classmethod
    def released(cls, position: Array, rate: Array, decay_s: float, period_s: float) -> Damped:
        """Give the oscillation that begins at a position with a rate."""
        frequency = 2.0 * math.pi / period_s
        return cls(position, (rate + position / decay_s) / frequency, decay_s, frequency)

    def at(self, t_s: Array) -> tuple[Array, Array]:
        """Give positions and rates at times, each of shape (n, axes)."""
        w, decay = self.frequency_rad_per_s, self.decay_s
        fall = np.exp(-t_s / decay)[:, None]
        c, s = np.cos(w * t_s)[:, None], np.sin(w * t_s)[:, None]
        position = fall * (self.cosine * c + self.sine * s)
        rate = fall * (
            (self.sine * w - self.cosine / decay) * c - (self.cosine * w + self.sine / decay) * s
        )
        return position, rate


def contact_of(states: Array, t0: float) -> tuple[ContactTruth, Array]:
    """Give the contact between the last two rows of a flight, and its state, shape (12,).

    Positions and angles are linear between the rows; the rates are those of the row before.
    """
    before, after = states[-2], states[-1]
    share = float(before[0] / (before[0] - after[0]))
    state = before + share * (after - before)
    state[3:6], state[9:12] = before[3:6], before[9:12]
    state[0] = 0.0
    values = [float(value) for value in state]
    t = t0 + (len(states) - 2 + share) * STEP_S
    contact = ContactTruth(t, -values[3], values[1], values[2], *values[4:])
    return contact, state


def is_captured(contact: ContactTruth) -> bool:
    """Tell whether the mechanism holds the vehicle."""
    return (
        vector_sum(contact.y_m, contact.z_m) <= CAPTURE_OFFSET_M
        and contact.closing_rate_mps <= CAPTURE_RATE_MPS
        and max(abs(contact.roll_deg), vector_sum(contact.pitch_deg, contact.yaw_deg))
        <= CAPTURE_ANGLE_DEG
    )


def damped_from(state: Array, capture: Capture) -> Damped:
    """Give the relative motion after a contact that holds: six axes, x y z and the angles."""
    position = np.concatenate([state[:3], state[6:9]])
    rate = np.concatenate([state[3:6], state[9:12]])
    position[0] += COMPRESSED_M
    speed = -float(state[3])
    rate[4] -= KICK_DPS_PER_M2PS * float(state[2]) * speed
    rate[5] += KICK_DPS_PER_M2PS * float(state[1]) * speed
    return Damped.released(position, rate, capture.decay_s, capture.period_s)


def states_after(state: Array, capture: Capture, captured: bool, since_s: Array) -> Array:
    """Give the states after contact at times since it, shape (n, 12)."""
    out = np.empty((since_s.size, 12))
    if captured:
        position, rate = damped_from(state, capture).at(since_s)
        position[:, 0] -= COMPRESSED_M
        out[:, 0:3], out[:, 6:9] = position[:, :3], position[:, 3:]
        out[:, 3:6], out[:, 9:12] = rate[:, :3], rate[:, 3:]
        return out
    # It slides by, or is thrown back: free motion with a share of its closing rate reversed.
    give_s = COMPRESSED_M / max(-float(state[3]), 0.01)
    inward = np.minimum(since_s, give_s)
    out[:] = state
    out[:, 3] = np.where(since_s < give_s, state[3], -REBOUND * state[3])
    out[:, 0] = state[3] * inward - REBOUND * state[3] * (since_s - inward)
    for place, rate_at in ((1, 4), (2, 5), (6, 9), (7, 10), (8, 11)):
        out[:, place] = state[place] + state[rate_at] * since_s
    return out
