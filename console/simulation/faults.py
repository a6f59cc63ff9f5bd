"""Faults as values: what goes wrong, with whom, when and for how long.

A scenario, a rehearsal or a campaign composes any number of them. Sensor and link faults act in
``sensor`` and ``publication``, the vehicle's own in ``flight``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from console.core.ids import SourceId


class FaultKind(StrEnum):
    """What goes wrong; the comment names the unit of ``size``."""

    DROPOUT = "dropout"  # the source measures nothing
    INVALID = "invalid"  # the source sends, its samples flagged invalid
    FREEZE = "freeze"  # every value stands still, counter and time go on
    BIAS = "bias"  # size in the channel's own unit is added
    SCALE = "scale"  # the channel is multiplied by 1 + size
    OUTLIERS = "outliers"  # a share of size of the values is hit by 30 sigma
    NOISE = "noise"  # the noise is multiplied by size
    LATE = "late"  # samples come size seconds later than usual
    LINK_LOSS = "link_loss"  # nothing at all comes over the link
    THRUSTER_STUCK = "thruster_stuck"  # size m/s^2 along the axis of the channel
    LATERAL_DRIFT = "lateral_drift"  # the axis is not controlled and drifts at size m/s
    ATTITUDE_RUNAWAY = "attitude_runaway"  # the axis turns up at size deg/s^2
    FAST_CLOSING = "fast_closing"  # the planned closing rate is multiplied by size
    LATE_BRAKING = "late_braking"  # the closing rate is kept at least at size m/s


class Channel(StrEnum):
    """A measured value, by its field's name in a sample, where a fault acts on one."""

    RANGE = "range_m"
    RANGE_RATE = "range_rate_mps"
    Y = "y_m"
    Z = "z_m"
    Y_RATE = "y_rate_mps"
    Z_RATE = "z_rate_mps"
    ROLL = "roll_deg"
    PITCH = "pitch_deg"
    YAW = "yaw_deg"
    ROLL_RATE = "roll_rate_dps"
    PITCH_RATE = "pitch_rate_dps"
    YAW_RATE = "yaw_rate_dps"


VEHICLE_KINDS = frozenset(
    {
        FaultKind.THRUSTER_STUCK,
        FaultKind.LATERAL_DRIFT,
        FaultKind.ATTITUDE_RUNAWAY,
        FaultKind.FAST_CLOSING,
        FaultKind.LATE_BRAKING,
    }
)
"""Faults of the vehicle itself; the others are of a source or the link."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault.

    Attributes
    ----------
    kind : FaultKind
        What goes wrong.
    at_range_m : float or None
        It begins when the true range first is this or less.
    at_s : float or None
        It begins this long after the start of the pass. With neither it stands from the start.
    for_s : float
        How long it stands, s; infinite: to the end.
    until_range_m : float or None
        It ends when, from its begin on, the true range first is this or less, if that comes
        sooner.
    size : float
        How much, in the unit the kind names.
    source : SourceId or None
        Which source, for a fault of a source; None: all.
    channel : Channel or None
        Which value or axis, where the kind asks for one; None: all values of a source.
    """

    kind: FaultKind
    at_range_m: float | None = None
    at_s: float | None = None
    for_s: float = math.inf
    until_range_m: float | None = None
    size: float = 0.0
    source: SourceId | None = None
    channel: Channel | None = None

    def concerns(self, source: SourceId) -> bool:
        """Tell whether the fault is one of this source's."""
        return self.kind not in VEHICLE_KINDS and self.source in (None, source)


@dataclass(frozen=True, slots=True)
class FaultSpan:
    """A fault with the time it really stood, UTC seconds."""

    fault: Fault
    t_start: float
    t_end: float
