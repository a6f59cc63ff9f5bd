"""What each lane is about: its quantity, its traces, the limits that bound it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from console.approach.snapshot import Snapshot
from console.core.records import RelativeSample
from console.envelope.quantity import Quantity
from console.present.plot_scene import Ink, Shape
from console.present.trail import DRAWN, Channel
from console.tracking.outlook import PathPoint


@dataclass(frozen=True, slots=True)
class TraceSpec:
    """One trace of a lane."""

    name: str
    """Said in the lane's head; empty where the lane has only this one."""
    channel: Channel
    ink: Ink
    shape: Shape
    path: Callable[[PathPoint], tuple[float, float]] | None = None
    """Predicted value and 1-sigma at a point of the path; None where none is predicted."""


@dataclass(frozen=True, slots=True)
class LaneSpec:
    """One lane.

    Attributes
    ----------
    banded : tuple of Quantity
        Their limits together are the lane's band.
    lined : tuple of Quantity
        Their limits are drawn as lines within the lane, named in words.
    at_contact : tuple of Quantity
        Whose contact limit is the gate at the contact line; the first that has one.
    two_sided : bool
        The limits are on a size, so they hold on both sides of zero.
    default : float
        Half height (whole height if not two-sided) where no limit says how large it should be.
    """

    title: str
    unit: str
    traces: tuple[TraceSpec, ...]
    banded: tuple[Quantity, ...]
    lined: tuple[Quantity, ...]
    at_contact: Quantity
    two_sided: bool
    default: float

    @property
    def quantities(self) -> tuple[Quantity, ...]:
        """Quantities whose exceedance makes this lane abnormal."""
        return self.banded + self.lined


def _closing(p: PathPoint) -> tuple[float, float]:
    return p.closing_rate_mps, p.closing_sigma_mps


def _y(p: PathPoint) -> tuple[float, float]:
    return p.y_m, p.lateral_sigma_m


def _z(p: PathPoint) -> tuple[float, float]:
    return p.z_m, p.lateral_sigma_m


LANES: tuple[LaneSpec, ...] = (
    LaneSpec(
        "Closing rate", "m/s",
        (TraceSpec("", Channel.CLOSING_MPS, Ink.TRACE_A, Shape.DISC, _closing),),
        (Quantity.CLOSING_RATE,), (), Quantity.CLOSING_RATE, False, 0.2,
    ),
    LaneSpec(
        "Lateral offset", "m",
        (
            TraceSpec("y", Channel.Y_M, Ink.TRACE_A, Shape.DISC, _y),
            TraceSpec("z", Channel.Z_M, Ink.TRACE_B, Shape.DIAMOND, _z),
        ),
        (Quantity.LATERAL_OFFSET, Quantity.CORRIDOR_ANGLE), (), Quantity.LATERAL_OFFSET, True,
        0.5,
    ),
    LaneSpec(
        "Misalignment", "deg",
        (
            TraceSpec("pitch", Channel.PITCH_DEG, Ink.TRACE_A, Shape.DISC),
            TraceSpec("yaw", Channel.YAW_DEG, Ink.TRACE_B, Shape.DIAMOND),
            TraceSpec("roll", Channel.ROLL_DEG, Ink.TRACE_C, Shape.TRIANGLE),
        ),
        (Quantity.PITCH_YAW,), (Quantity.ROLL,), Quantity.PITCH_YAW, True, 5.0,
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Here:
    """Where the vehicle is drawn: the estimate, or what was measured where there is none."""

    range_m: float
    values: dict[Channel, float]


def here(snapshot: Snapshot | None) -> Here | None:
    """Give where the vehicle is drawn, None where nothing is known."""
    if snapshot is None:
        return None
    e, m = snapshot.estimate, snapshot.measured
    if e is not None:
        values = (e.closing_rate_mps, e.y_m, e.z_m, e.pitch_deg, e.yaw_deg, e.roll_deg)
        return Here(e.range_m, dict(zip(DRAWN, values, strict=True)))
    return None if m is None else here_measured(m)


def here_measured(sample: RelativeSample) -> Here:
    """Give where a sample saw the vehicle."""
    m = sample
    values = (-m.range_rate_mps, m.y_m, m.z_m, m.pitch_deg, m.yaw_deg, m.roll_deg)
    return Here(m.range_m, dict(zip(DRAWN, values, strict=True)))
