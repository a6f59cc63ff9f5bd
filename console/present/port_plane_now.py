"""The port plane's changing marks: corridor here, trail, present point, predicted contact."""

from __future__ import annotations

from console.approach.snapshot import Snapshot
from console.envelope.limits import Level
from console.present.lane_spec import Here
from console.present.lanes_now import (
    NO_DATA,
    POINT_PX,
    RING_PX,
    STALE_POINT_PX,
    age_words,
)
from console.present.plot_label import longest_that_fits
from console.present.plot_scene import (
    INK_OF_LEVEL,
    Box,
    Ink,
    Label,
    Line,
    Marker,
    Meter,
    Ring,
    Scene,
    Shape,
    Stroke,
    series,
)
from console.present.plot_trace import Polyline
from console.present.port_plane import (
    TITLES,
    Corridor,
    PlaneFrame,
    Predicted,
    corridor_here,
    plane_here,
    predicted,
)
from console.present.port_plane_names import (
    at_px,
    box_round,
    ended_words,
    middle_px,
    names,
    present_box,
    present_px,
)
from console.present.source_lines import navigation_ended_t
from console.present.text import number
from console.present.tone import mark_of
from console.present.trail import Channel

TRAIL_S = 120.0


def changing_plane(
    frame: PlaneFrame,
    snapshot: Snapshot | None,
    trail: Polyline,
    last: Here | None,
    contact_m: float | None,
    meter: Meter,
    kept: dict[str, int],
) -> Scene:
    """Give the marks of one snapshot.

    Parameters
    ----------
    trail : Polyline
        The last ``TRAIL_S`` of the trail, px.
    last : Here or None
        End of the trail, from which a coasted stretch is drawn.
    contact_m : float or None
        Radius of the contact limit's circle, for the place of its name.
    kept : dict
        Places of the names in the frame before, renewed here.
    """
    scene = Scene()
    where = plane_here(snapshot)
    corridor = corridor_here(snapshot)
    aim = None if snapshot is None else predicted(snapshot.at_contact)
    if corridor is not None:
        _draw_corridor(scene, frame, corridor, meter)
    if trail.x.size:
        scene.add(Line(trail.x, trail.y, Ink.TRACE_A, 1.0, clip=frame.plot))
    if aim is not None:
        _draw_predicted(scene, frame, aim, meter)
    if snapshot is not None and where is not None:
        _draw_present(scene, frame, snapshot, where, last, corridor, meter)
    present = present_box(frame, where, meter)
    scene.add(*names(frame, snapshot, present, aim, corridor, contact_m, trail, meter, kept))
    return scene


def _draw_corridor(scene: Scene, frame: PlaneFrame, corridor: Corridor, meter: Meter) -> None:
    half = corridor.radius_m * frame.px_per_m
    abnormal = corridor.level in (Level.CAUTION, Level.WARNING)
    ink = INK_OF_LEVEL[corridor.level] if abnormal and corridor.level is not None else Ink.EDGE
    width = 2.0 if abnormal else 1.0
    x, y = middle_px(frame)
    scene.add(Ring(x, y, half, half, ink, width, clip=frame.plot))
    if abnormal and corridor.level is not None:
        _say_level(scene, frame, corridor.level, meter)


def _say_level(scene: Scene, frame: PlaneFrame, level: Level, meter: Meter) -> None:
    row = frame.title_row
    title = longest_that_fits(TITLES, row.width, meter)
    room = row.width - meter.width(title) - meter.height
    for words in (f"{mark_of(level)} {level.word.upper()}", mark_of(level)):
        width = meter.width(words, bold=True)
        if width <= room:
            box = Box(row.right - width, row.top, width, meter.height)
            scene.add(Label(words, box, INK_OF_LEVEL[level], bold=True, patch=True))
            return


def _draw_predicted(scene: Scene, frame: PlaneFrame, aim: Predicted, meter: Meter) -> None:
    x, y = at_px(frame, aim.y_m, aim.z_m)
    e = aim.ellipse
    scene.add(
        Ring(
            x, y, e.half_major_m * frame.px_per_m, e.half_minor_m * frame.px_per_m, Ink.PLAN,
            turn_rad=e.turn_rad, clip=frame.plot,
        )
    )  # fmt: skip
    if box_round(x, y, POINT_PX * meter.unit).inside(frame.plot):
        scene.add(Marker(x, y, Shape.CROSS, 8.0 * meter.unit, Ink.TEXT))


def _draw_present(
    scene: Scene, frame: PlaneFrame, snapshot: Snapshot, where: Here, last: Here | None,
    corridor: Corridor | None, meter: Meter,
) -> None:  # fmt: skip
    x, y = present_px(frame, where, meter)
    if navigation_ended_t(snapshot) is not None:
        scene.add(Marker(x, y, Shape.DISC, POINT_PX * meter.unit, Ink.TRACE_A, hollow=True))
        return
    old = snapshot.stale or snapshot.coasted
    if old and last is not None:
        x0, y0 = at_px(frame, last.values[Channel.Y_M], last.values[Channel.Z_M])
        ends = series((x0, x)), series((y0, y))
        scene.add(Line(*ends, Ink.TRACE_A, 1.5, Stroke.DOTTED, clip=frame.plot))
    size = (STALE_POINT_PX if old else POINT_PX) * meter.unit
    scene.add(Marker(x, y, Shape.DISC, size, Ink.TRACE_A, stale=old))
    if corridor is not None and corridor.level in (Level.CAUTION, Level.WARNING):
        ink = INK_OF_LEVEL[corridor.level]
        scene.add(Marker(x, y, Shape.DISC, RING_PX * meter.unit, ink, hollow=True))


def plane_words(snapshot: Snapshot | None) -> str:
    """Say what the port plane shows, for those who hear it."""
    where = plane_here(snapshot)
    if snapshot is None or where is None:
        return f"{NO_DATA.capitalize()}."
    y, z = where.values[Channel.Y_M], where.values[Channel.Z_M]
    place = f"y {number(y, 3)} m, z {number(z, 3)} m"
    ended = ended_words(snapshot)
    if ended:
        return f"{ended[0].capitalize()}, last at {place}."
    parts = [place]
    aim = predicted(snapshot.at_contact)
    if aim is not None:
        parts.append(f"Predicted contact y {number(aim.y_m, 3)} m, z {number(aim.z_m, 3)} m")
    corridor = corridor_here(snapshot)
    if corridor is not None and corridor.level is not None:
        parts.append(f"Corridor {corridor.level.word}")
    if age_words(snapshot):
        parts.append(age_words(snapshot))
    return ". ".join(parts) + "."
