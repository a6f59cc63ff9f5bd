"""The port plane's standing picture: y to the right, z up, as seen from the vehicle.

Equal scales on both axes, the docking axis in the middle. The picture is resized by steps only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from console.approach.snapshot import LimitNow, Snapshot
from console.envelope.limits import Allow, Level, LimitsFile
from console.envelope.quantity import Quantity
from console.present.envelope_band import offset_of_angle_m
from console.present.lane_spec import Here, here, here_measured
from console.present.plot_axis import Scale, Steps
from console.present.plot_label import longest_that_fits
from console.present.plot_scene import (
    Box,
    Ink,
    Label,
    Marker,
    Meter,
    Ring,
    Scene,
    Shape,
    Stroke,
    level_line,
    upright,
)
from console.present.source_lines import navigation_ended_t
from console.present.trail import Channel
from console.tracking.outlook import ContactPrediction

CHI_SQUARE_95_2DOF = 5.991464547107979
"""95 % point of chi-square with 2 degrees of freedom, -2·ln(0.05)."""
HALF_M = Steps(
    tuple(m * 10.0**k for k in range(-2, 4) for m in (1.0, 2.0, 3.0, 5.0))[2:], 0.95, 1.0
)
START_HALF_M = 0.5
TITLES = ("Port plane, seen from the vehicle", "Port plane")
CLOCKING = "clocking mark"
CORRIDOR_QUANTITIES = (Quantity.LATERAL_OFFSET, Quantity.CORRIDOR_ANGLE)
_ROOM = 1.12


@dataclass(frozen=True, slots=True)
class Ellipse:
    """An ellipse by its half axes and the turn of the first from +y towards +z."""

    half_major_m: float
    half_minor_m: float
    turn_rad: float


def ellipse_95(yy_m2: float, yz_m2: float, zz_m2: float) -> Ellipse:
    """Give the ellipse that holds 95 % of a bivariate normal.

    Parameters
    ----------
    yy_m2, yz_m2, zz_m2 : float
        Covariance, m².

    Notes
    -----
    Half axes are sqrt(chi²·lambda) along the covariance's eigenvectors, chi² = 5.991 the 95 %
    point for 2 degrees of freedom (Johnson & Wichern, Applied Multivariate Statistical Analysis,
    6th ed., result 4.7; from memory). Rounding below zero counts as zero.
    """
    middle = (yy_m2 + zz_m2) / 2.0
    reach = math.hypot((yy_m2 - zz_m2) / 2.0, yz_m2)
    major = math.sqrt(CHI_SQUARE_95_2DOF * max(middle + reach, 0.0))
    minor = math.sqrt(CHI_SQUARE_95_2DOF * max(middle - reach, 0.0))
    return Ellipse(major, minor, 0.5 * math.atan2(2.0 * yz_m2, yy_m2 - zz_m2))


@dataclass(frozen=True, slots=True)
class Corridor:
    """The corridor's circle at the present range, and the worst level that stands on it."""

    radius_m: float
    level: Level | None


def plane_here(snapshot: Snapshot | None) -> Here | None:
    """Give where the vehicle is drawn: where it was seen last, once navigation has ended."""
    if snapshot is None or snapshot.measured is None or navigation_ended_t(snapshot) is None:
        return here(snapshot)
    return here_measured(snapshot.measured)


def corridor_here(snapshot: Snapshot | None) -> Corridor | None:
    """Give the circle of the tightest warning limit on lateral offset or corridor angle here.

    There is none any more once navigation has ended.
    """
    where = here(snapshot)
    if snapshot is None or where is None or navigation_ended_t(snapshot) is not None:
        return None
    mine = [n for n in snapshot.limits if n.quantity in CORRIDOR_QUANTITIES]
    radii = [_radius_m(n, where.range_m) for n in mine if n.level is Level.WARNING]
    known = [r for r in radii if r is not None and r > 0.0]
    if not known:
        return None
    return Corridor(min(known), max((n.level for n in mine if n.standing), default=None))


def _radius_m(now: LimitNow, range_m: float) -> float | None:
    if now.limit is None or now.allow is not Allow.BELOW:
        return None
    if now.quantity is Quantity.CORRIDOR_ANGLE:
        return offset_of_angle_m(now.limit, range_m)
    return now.limit


def contact_radius_m(limits: LimitsFile | None) -> float | None:
    """Give the radius of the contact limit on lateral offset, None where none is set."""
    if limits is None:
        return None
    mine = (n for n in limits.contact_limits if n.quantity is Quantity.LATERAL_OFFSET)
    return next((n.maximum for n in mine if n.maximum is not None), None)


def needed_half_m(
    where: Here | None, corridor: Corridor | None, contact_m: float | None
) -> float | None:
    """Give the half width that must be shown, None where nothing is known."""
    wanted = (
        [] if where is None else [abs(where.values[Channel.Y_M]), abs(where.values[Channel.Z_M])]
    )
    wanted += [] if corridor is None else [corridor.radius_m]
    wanted += [] if contact_m is None else [contact_m]
    return max(wanted) * _ROOM if wanted else None


@dataclass(frozen=True, slots=True)
class PlaneFrame:
    """Where everything of the port plane stands, px."""

    half_m: float
    title_row: Box
    gutter: Box
    plot: Box
    ticks_row: Box
    across: Scale
    up: Scale

    @property
    def px_per_m(self) -> float:
        """Pixels of a metre."""
        return self.across.px_per_unit


def lay_out_plane(width: float, height: float, meter: Meter, half_m: float) -> PlaneFrame:
    """Give the port plane its places in a widget of a size, px."""
    line = meter.height
    pad = round(line * 0.5)
    title = Box(pad, pad * 0.7, max(width - 2 * pad, 1.0), line)
    left = pad + round(meter.width("−0.00")) + 6.0
    ticks = Box(0.0, height - pad * 0.6 - line, width, line)
    top = round(title.bottom + pad * 0.6)
    plot = Box(left, top, max(width - pad - left, 20.0), max(ticks.top - 4.0 - top, 20.0))
    per_m = min(plot.width, plot.height) / (2.0 * half_m)
    y0, z0 = plot.left + plot.width / 2.0, plot.middle
    reach_y, reach_z = plot.width / 2.0 / per_m, plot.height / 2.0 / per_m
    return PlaneFrame(
        half_m,
        title,
        Box(0.0, plot.top, left, plot.height),
        plot,
        ticks,
        Scale(-reach_y, reach_y, y0 - reach_y * per_m, y0 + reach_y * per_m),
        Scale(-reach_z, reach_z, z0 + reach_z * per_m, z0 - reach_z * per_m),
    )


def standing_plane(frame: PlaneFrame, limits: LimitsFile | None, meter: Meter) -> Scene:
    """Give the marks that do not change from snapshot to snapshot."""
    scene = Scene()
    plot = frame.plot
    y0, z0 = round(frame.across.px(0.0)) + 0.5, round(frame.up.px(0.0)) + 0.5
    scene.add(
        upright(y0, plot.top, plot.bottom, Ink.HAIRLINE),
        level_line(z0, plot.left, plot.right, Ink.HAIRLINE),
        upright(plot.left + 0.5, plot.top, plot.bottom, Ink.HAIRLINE),
        level_line(plot.bottom - 0.5, plot.left, plot.right, Ink.HAIRLINE),
    )
    _draw_ticks(scene, frame, meter)
    radius = contact_radius_m(limits)
    if radius is not None:
        half = radius * frame.px_per_m
        scene.add(
            Ring(
                frame.across.px(0.0), frame.up.px(0.0), half, half, Ink.TEXT,
                stroke=Stroke.DASHED, clip=plot,
            )
        )  # fmt: skip
    title = longest_that_fits(TITLES, frame.title_row.width, meter)
    row = frame.title_row
    scene.add(Label(title, Box(row.left, row.top, meter.width(title), meter.height)))
    _draw_clocking_mark(scene, frame, meter)
    return scene


def clocking_boxes(frame: PlaneFrame, meter: Meter) -> tuple[Box, Box]:
    """Give the places of the clocking mark at +z and of its name."""
    size = 9.0 * meter.unit
    middle = frame.across.px(0.0)
    top = frame.plot.top + 1.0 + max((meter.height - size) / 2.0, 0.0)
    sign = Box(middle - size / 2.0, top, size, size)
    name = Box(
        sign.right + 4.0, sign.middle - meter.height / 2.0, meter.width(CLOCKING), meter.height
    )
    return sign, name


def _draw_clocking_mark(scene: Scene, frame: PlaneFrame, meter: Meter) -> None:
    sign, name = clocking_boxes(frame, meter)
    middle = sign.left + sign.width / 2.0
    scene.add(Marker(middle, sign.middle, Shape.UP, sign.width, Ink.QUIET))
    if name.inside(frame.plot.grown(2.0)):
        scene.add(Label(CLOCKING, name))


def _draw_ticks(scene: Scene, frame: PlaneFrame, meter: Meter) -> None:
    """Draw both axes' ticks; the unit stands with the axis' name at its far end."""
    plot = frame.plot
    name_y, name_z = "y (m)", "z (m)"
    wide = meter.width(name_y)
    end_y = Box(plot.right - wide, frame.ticks_row.top, wide, meter.height)
    end_z = Box(
        plot.left - 6.0 - meter.width(name_z), plot.top - 2.0, meter.width(name_z), meter.height
    )
    scene.add(Label(name_y, end_y), Label(name_z, end_z))
    for tick in frame.across.ticks(meter.width("−0.00") + meter.height * 0.5):
        width = meter.width(tick.text)
        box = Box(tick.px - width / 2.0, frame.ticks_row.top, width, meter.height)
        if box.left >= 2.0 and not box.overlaps(end_y, meter.height * 0.5):
            scene.add(
                upright(tick.px, plot.bottom - 4.0, plot.bottom, Ink.EDGE), Label(tick.text, box)
            )
    for tick in frame.up.ticks(meter.height * 2.2):
        width = meter.width(tick.text)
        box = Box(plot.left - 6.0 - width, tick.px - meter.height / 2.0, width, meter.height)
        if box.bottom <= plot.bottom and not box.overlaps(end_z, 2.0):
            scene.add(
                level_line(tick.px, plot.left, plot.left + 4.0, Ink.EDGE), Label(tick.text, box)
            )


@dataclass(frozen=True, slots=True)
class Predicted:
    """The predicted contact point and its ellipse."""

    y_m: float
    z_m: float
    ellipse: Ellipse


def predicted(prediction: ContactPrediction | None) -> Predicted | None:
    """Give what to draw of a prediction, None where there is none."""
    if prediction is None:
        return None
    p = prediction
    return Predicted(p.y_m, p.z_m, ellipse_95(p.yy_m2, p.yz_m2, p.zz_m2))
