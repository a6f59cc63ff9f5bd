"""What tracking says about now and about what comes, as values.

Nothing here computes. An unknown value is None, never NaN. Values made by the dozen for each
snapshot are msgspec structs: a frozen dataclass costs many times as much to make.
"""

from __future__ import annotations

from enum import StrEnum

import msgspec

from console.envelope.quantity import Quantity


class Motion(StrEnum):
    """Which way the range goes, with the estimator's own doubt taken into account."""

    CLOSING = "closing"
    NOT_CLOSING = "not closing"
    OPENING = "opening"
    UNKNOWN = "unknown"


class Estimate(msgspec.Struct, frozen=True, gc=False):
    """The combined estimator's state now, each value with its 1-sigma."""

    range_m: float
    range_sigma_m: float
    closing_rate_mps: float
    closing_sigma_mps: float
    y_m: float
    z_m: float
    lateral_sigma_m: float
    y_rate_mps: float
    z_rate_mps: float
    lateral_rate_sigma_mps: float
    roll_deg: float
    pitch_deg: float
    yaw_deg: float
    angle_sigma_deg: float
    roll_rate_dps: float
    pitch_rate_dps: float
    yaw_rate_dps: float
    angle_rate_sigma_dps: float


class Countdown(msgspec.Struct, frozen=True, gc=False):
    """Seconds until something, with 95 % bounds; all None where there is no such time."""

    best_s: float | None = None
    low_s: float | None = None
    high_s: float | None = None
    """None beside a best value: the late bound is open (it may never come)."""
    at_present_rate_s: float | None = None
    """The constant-rate figure, given outside the knee where it differs."""


class Spread(msgspec.Struct, frozen=True, gc=False):
    """A predicted value with its 1-sigma."""

    mean: float
    sigma: float


class ContactQuantity(msgspec.Struct, frozen=True, gc=False):
    """One quantity at contact: predicted, its limit, the chance of being within it."""

    quantity: Quantity
    predicted: Spread | None
    minimum: float | None
    maximum: float | None
    chance: float | None
    """0 to 1; None where no contact limit is set or nothing can be said."""


class ContactPrediction(msgspec.Struct, frozen=True, gc=False):
    """What contact would be like under one named assumption."""

    assumption: str
    """``control continues`` or ``thrust stops now``."""
    quantities: tuple[ContactQuantity, ...]
    y_m: float
    z_m: float
    yy_m2: float
    yz_m2: float
    zz_m2: float
    """Covariance of the predicted contact point, for the 95 % ellipse."""
    chance_all: float | None
    calibrated: bool


class StopFigures(msgspec.Struct, frozen=True, gc=False):
    """Halting from here: a hold, and backing out."""

    distance_m: float
    """Way from now until halted, data age, link, reaction and braking charged."""
    duration_s: float
    stops_at_m: float
    hold_call_s: float | None
    """Last useful stop call: it still halts outside the hands-off range."""
    hold_call_safe_s: float | None
    """The same less 1.645 sigma."""
    contact_call_s: float | None
    """The last call that still halts before contact."""
    retreat_s: float | None
    """Time a retreat called now takes to reach its range."""
    drift_least_m: float | None
    """Least distance to the port over two orbits if thrust stopped now."""
    drift_least_in_s: float | None
    drift_enters_keep_out: bool | None
    drift_leaves_corridor: bool | None


class PathPoint(msgspec.Struct, frozen=True, gc=False):
    """One point of the predicted path to contact, for the fan in the lanes."""

    range_m: float
    closing_rate_mps: float
    closing_sigma_mps: float
    y_m: float
    z_m: float
    lateral_sigma_m: float
    in_s: float
