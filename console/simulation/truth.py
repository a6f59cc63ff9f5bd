"""What really happened in a simulated pass, for whoever scores an estimate against it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from console.envelope.quantity import Quantity
from console.motion.contact import vector_sum
from console.simulation.faults import FaultSpan

Array = NDArray[np.float64]

STEP_S = 0.1
"""Spacing of the truth arrays."""

STATE_COLUMNS = (
    "range_m",
    "y_m",
    "z_m",
    "range_rate_mps",
    "y_rate_mps",
    "z_rate_mps",
    "roll_deg",
    "pitch_deg",
    "yaw_deg",
    "roll_rate_dps",
    "pitch_rate_dps",
    "yaw_rate_dps",
)
"""Columns of a truth state: six positions and angles with their rates in the same order."""


@dataclass(frozen=True, slots=True)
class ContactTruth:
    """The true state at the instant the contact planes meet; lengths m, rates m/s, deg, deg/s."""

    t: float
    closing_rate_mps: float
    y_m: float
    z_m: float
    y_rate_mps: float
    z_rate_mps: float
    roll_deg: float
    pitch_deg: float
    yaw_deg: float
    roll_rate_dps: float
    pitch_rate_dps: float
    yaw_rate_dps: float

    @property
    def values(self) -> dict[Quantity, float]:
        """Each quantity a contact limit can be set on, by the judging rules."""
        return {
            Quantity.CLOSING_RATE: self.closing_rate_mps,
            Quantity.LATERAL_OFFSET: vector_sum(self.y_m, self.z_m),
            Quantity.LATERAL_RATE: vector_sum(self.y_rate_mps, self.z_rate_mps),
            Quantity.PITCH_YAW: vector_sum(self.pitch_deg, self.yaw_deg),
            Quantity.ROLL: abs(self.roll_deg),
            Quantity.PITCH_YAW_RATE: vector_sum(self.pitch_rate_dps, self.yaw_rate_dps),
            Quantity.ROLL_RATE: abs(self.roll_rate_dps),
        }


@dataclass(frozen=True, slots=True)
class HoldSpan:
    """A stop: where, from when until when (infinite: never released), planned or ordered."""

    range_m: float
    t_start: float
    t_end: float
    planned: bool


@dataclass(frozen=True, slots=True)
class Truth:
    """The true motion, one row every ``STEP_S`` from the start until the sources fall silent.

    All arrays have shape (n,); ``t`` is UTC seconds, the others are in the port frame, in the
    unit of their suffix. A rate stands just after the thruster pulse of its instant. From
    contact on the rows follow the ring's give.
    """

    t: Array
    range_m: Array
    range_rate_mps: Array
    y_m: Array
    z_m: Array
    y_rate_mps: Array
    z_rate_mps: Array
    roll_deg: Array
    pitch_deg: Array
    yaw_deg: Array
    roll_rate_dps: Array
    pitch_rate_dps: Array
    yaw_rate_dps: Array
    contact: ContactTruth | None
    captured: bool
    """Whether soft capture followed; a contact too far off the axis or too fast does not hold."""
    holds: tuple[HoldSpan, ...]
    faults: tuple[FaultSpan, ...]

    @property
    def t_contact(self) -> float | None:
        """UTC seconds of contact, None where it never came."""
        return None if self.contact is None else self.contact.t

    def columns(self) -> Array:
        """Give the states as one array, shape (n, 12), columns as ``STATE_COLUMNS``."""
        return np.column_stack([getattr(self, name) for name in STATE_COLUMNS])

    def time_at_range(self, range_m: float) -> float | None:
        """Give when the true range was last passed inward, UTC seconds, interpolated.

        None where the vehicle never passed it, or passed out again and stayed.
        """
        x = self.range_m
        inward = np.flatnonzero((x[:-1] > range_m) & (x[1:] <= range_m))
        if not inward.size or (self.contact is None and x[-1] > range_m):
            return None
        i = int(inward[-1])
        share = (x[i] - range_m) / (x[i] - x[i + 1])
        return float(self.t[i] + share * (self.t[i + 1] - self.t[i]))
