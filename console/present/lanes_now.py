"""The lanes' changing marks: where the vehicle is, where it is going, what is abnormal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from console.approach.snapshot import LimitNow, Snapshot
from console.envelope.limits import Level
from console.present.lane_spec import LANES, Here, LaneSpec, TraceSpec, here
from console.present.lanes import LaneFrame, LanesFrame
from console.present.lanes_marks import mark_words
from console.present.lanes_scene import StandingLanes
from console.present.plot_label import Wish, place
from console.present.plot_scene import (
    INK_OF_LEVEL,
    Area,
    Box,
    Ink,
    Label,
    Line,
    Marker,
    Meter,
    Scene,
    Shape,
    Stroke,
    series,
    upright,
)
from console.present.text import UNKNOWN, age, number, range_m
from console.present.tone import mark_of
from console.tracking.outlook import PathPoint

FAN_SIGMAS = 2.0
POINT_PX = 9.0
STALE_POINT_PX = 12.0
RING_PX = 17.0
NO_DATA = "no data yet"


def changing(
    frame: LanesFrame,
    stand: StandingLanes,
    snapshot: Snapshot | None,
    last: Here | None,
    meter: Meter,
) -> Scene:
    """Give the marks of one snapshot.

    Parameters
    ----------
    last : Here or None
        End of the trail, from which a coasted stretch is drawn.
    """
    scene = Scene()
    where = here(snapshot)
    if snapshot is None or where is None:
        _say_no_data(scene, frame, meter)
        return scene
    old = snapshot.stale or snapshot.coasted
    x = min(max(frame.ranges.px(where.range_m), frame.ranges.left_px), frame.width - 1.0)
    _emphasise_next_mark(scene, frame, stand, snapshot)
    stroke = Stroke.DASHED if old else Stroke.SOLID
    scene.add(*_through_lanes(frame, stand, x, Ink.QUIET, stroke))
    for i, lane in enumerate(frame.lanes):
        for trace in lane.spec.traces:
            _draw_path(scene, frame, lane, trace, snapshot.path)
            if old and last is not None:
                _draw_coasted(scene, frame, lane, trace, last, where)
        _draw_abnormal(scene, stand, i, lane, snapshot, meter)
        for trace in lane.spec.traces:
            _draw_point(scene, frame, lane, trace, where, meter.unit, stale=old)
        _ring_abnormal(scene, frame, lane, snapshot, where, meter.unit)
    if old:
        _say_age(scene, frame, snapshot, where, meter)
    return scene


def _say_no_data(scene: Scene, frame: LanesFrame, meter: Meter) -> None:
    plot = frame.lanes[0].plot
    width = meter.width(NO_DATA)
    middle = plot.left + plot.width / 2.0
    box = Box(middle - width / 2.0, plot.middle - meter.height / 2.0, width, meter.height)
    scene.add(Label(NO_DATA, box, Ink.QUIET, patch=True))


def _through_lanes(
    frame: LanesFrame, stand: StandingLanes, x: float, ink: Ink, stroke: Stroke = Stroke.SOLID
) -> list[Line]:
    """Give a line across all lanes, in pieces that leave out the heads' words."""
    x = round(x) + 0.5
    pieces = []
    for lane, words_end in zip(frame.lanes, stand.head_ends, strict=True):
        top = lane.plot.top if x < words_end + 2.0 else lane.head.top
        pieces.append(upright(x, top, lane.plot.bottom, ink, stroke=stroke, opacity=0.8))
    return pieces


def _emphasise_next_mark(
    scene: Scene, frame: LanesFrame, stand: StandingLanes, snapshot: Snapshot
) -> None:
    mark = snapshot.next_mark_m
    if mark is None or not 0.0 < mark <= frame.ranges.outer_m:
        return
    scene.add(*_through_lanes(frame, stand, frame.ranges.px(mark), Ink.EDGE))
    if mark in stand.mark_labels:
        scene.add(Label(mark_words(mark), stand.mark_labels[mark], Ink.TEXT, patch=True))


def _draw_path(
    scene: Scene,
    frame: LanesFrame,
    lane: LaneFrame,
    trace: TraceSpec,
    path: Sequence[PathPoint],
) -> None:
    """Draw where the trace is predicted to go, with a fan of two sigma either side."""
    if trace.path is None or len(path) < 2:
        return
    x = frame.ranges.px_of(series([p.range_m for p in path]))
    values = [trace.path(p) for p in path]
    mean = series([v for v, _ in values])
    half = FAN_SIGMAS * series([sigma for _, sigma in values])
    upper, lower = lane.values.px_of(mean + half), lane.values.px_of(mean - half)
    ink = trace.ink if trace.name else Ink.PLAN
    scene.add(
        Area(
            np.concatenate([x, x[::-1]]), np.concatenate([upper, lower[::-1]]), ink, 0.22,
            lane.plot,
        ),
        Line(x, upper, ink, opacity=0.35, clip=lane.plot),
        Line(x, lower, ink, opacity=0.35, clip=lane.plot),
        Line(x, lane.values.px_of(mean), ink, 1.0, Stroke.DOTTED, clip=lane.plot),
    )  # fmt: skip


def _draw_coasted(
    scene: Scene, frame: LanesFrame, lane: LaneFrame, trace: TraceSpec, last: Here, where: Here
) -> None:
    x = frame.ranges.px_of(series((last.range_m, where.range_m)))
    y = lane.values.px_of(series((last.values[trace.channel], where.values[trace.channel])))
    scene.add(Line(x, y, trace.ink, 1.5, Stroke.DOTTED, clip=lane.plot))


def _draw_point(
    scene: Scene, frame: LanesFrame, lane: LaneFrame, trace: TraceSpec, where: Here, unit: float,
    *, stale: bool,
) -> None:  # fmt: skip
    x, y, outside = point_px(frame, lane, where, trace)
    shape = trace.shape if outside is None else outside
    size = (STALE_POINT_PX if stale else POINT_PX) * unit
    scene.add(Marker(x, y, shape, size, trace.ink, stale=stale))


def point_px(
    frame: LanesFrame, lane: LaneFrame, where: Here, trace: TraceSpec
) -> tuple[float, float, Shape | None]:
    """Give where a present point stands, held at the lane's side where it lies outside.

    Returns
    -------
    x, y : float
        px.
    outside : Shape or None
        The arrow that says on which side it lies.
    """
    x = frame.ranges.px(where.range_m)
    y = lane.values.px(where.values[trace.channel])
    half = POINT_PX / 2.0
    plot = lane.plot
    outside = None
    if x < plot.left:
        x, outside = plot.left + half, Shape.LEFT
    if y < plot.top:
        y, outside = plot.top + half, Shape.UP
    elif y > plot.bottom:
        y, outside = plot.bottom - half, Shape.DOWN
    return min(x, plot.right), y, outside


def standing_level(spec: LaneSpec, limits: Sequence[LimitNow]) -> Level | None:
    """Give the worst level of a lane's own quantities that stands."""
    levels = [n.level for n in limits if n.standing and n.quantity in spec.quantities]
    return max(levels, default=None)


def _draw_abnormal(
    scene: Scene, stand: StandingLanes, index: int, lane: LaneFrame, snapshot: Snapshot,
    meter: Meter,
) -> None:  # fmt: skip
    """Ink the exceeded limits in their colour and name the level in the lane's head."""
    level = standing_level(lane.spec, snapshot.limits)
    if level is None or level is Level.ADVISORY:
        return
    exceeded = {n.id: n.level for n in snapshot.limits if n.standing}
    for drawn in stand.limit_lines:
        if drawn.lane == index and drawn.limit.id in exceeded:
            ink = INK_OF_LEVEL[exceeded[drawn.limit.id]]
            scene.add(*(Line(n.x, n.y, ink, 2.0, clip=n.clip) for n in drawn.lines))
    room = lane.head.right - stand.head_ends[index] - meter.height * 0.5
    for words in (f"{mark_of(level)} {level.word.upper()}", mark_of(level)):
        width = meter.width(words, bold=True)
        if width <= room:
            box = Box(lane.head.right - width, lane.head.top, width, meter.height)
            scene.add(Label(words, box, INK_OF_LEVEL[level], bold=True, patch=True))
            return


def _ring_abnormal(
    scene: Scene, frame: LanesFrame, lane: LaneFrame, snapshot: Snapshot, where: Here, unit: float
) -> None:
    """Put a ring in the level's colour round the points of an abnormal lane."""
    level = standing_level(lane.spec, snapshot.limits)
    if level is None or level is Level.ADVISORY:
        return
    for trace in lane.spec.traces:
        x, y, _ = point_px(frame, lane, where, trace)
        scene.add(Marker(x, y, Shape.DISC, RING_PX * unit, INK_OF_LEVEL[level], hollow=True))


def age_words(snapshot: Snapshot) -> str:
    """Say how long ago the last sample was, where that matters; else nothing."""
    if snapshot.coasted:
        return f"coasted {age(snapshot.age_s)}"
    return f"stale {age(snapshot.age_s)}" if snapshot.stale else ""


def _say_age(
    scene: Scene, frame: LanesFrame, snapshot: Snapshot, where: Here, meter: Meter
) -> None:
    """Put the words of age beside the first lane's point, off the line and the point itself."""
    lane = frame.lanes[0]
    x, y, _ = point_px(frame, lane, where, lane.spec.traces[0])
    words = age_words(snapshot)
    width, tall, off = meter.width(words, bold=True), meter.height, POINT_PX * meter.unit
    tops = (y - off - tall, y + off, lane.plot.top + 2.0, lane.plot.bottom - tall - 2.0)
    slots = [Box(left, top, width, tall) for top in tops for left in (x + off, x - off - width)]
    point = Box(x - off / 2.0, y - off / 2.0, off, off)
    placed = place((Wish("age", tuple(slots)),), lane.plot, taken=(point,), gap=2.0)
    if "age" in placed:
        scene.add(Label(words, placed["age"].box, Ink.TEXT, bold=True, patch=True))


def lanes_words(snapshot: Snapshot | None) -> str:
    """Say what the lanes show, for those who hear it."""
    where = here(snapshot)
    if snapshot is None or where is None:
        return f"{NO_DATA.capitalize()}."
    parts = [f"Range {range_m(where.range_m)} m"]
    for spec in LANES:
        values = ", ".join(_said(trace, where, spec) for trace in spec.traces)
        level = standing_level(spec, snapshot.limits)
        parts.append(f"{spec.title} {values}" + ("" if level is None else f", {level.word}"))
    if age_words(snapshot):
        parts.append(age_words(snapshot))
    return ". ".join(parts) + "."


_DECIMALS: Mapping[str, int] = {"m/s": 3, "m": 3, "deg": 2}


def _said(trace: TraceSpec, where: Here, spec: LaneSpec) -> str:
    value = where.values.get(trace.channel)
    text = number(value, _DECIMALS[spec.unit])
    unit = "" if text == UNKNOWN else f" {spec.unit}"
    return f"{trace.name} {text}{unit}".strip()
