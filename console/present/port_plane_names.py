"""Names in the port plane: clear of each other, of the signs, the circles and the trail."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

from console.approach.snapshot import Snapshot
from console.present.lane_spec import Here
from console.present.lanes_now import NO_DATA, POINT_PX, RING_PX, age_words
from console.present.plot_scene import Box, Ink, Label, Meter
from console.present.plot_trace import Polyline
from console.present.port_plane import Corridor, PlaneFrame, Predicted, clocking_boxes
from console.present.source_lines import navigation_ended_t
from console.present.text import clock
from console.present.trail import Channel

TRAIL_WORDS = "trail: last 2 min"
CORRIDOR = "corridor here"
CONTACT_LIMIT = "contact limit"
ENDED = "navigation ended"
PREDICTED = ("predicted contact, 95 %", "predicted")
_ANGLES_DEG = (40.0, 140.0, -40.0, -140.0, 65.0, 115.0, -65.0, -115.0, 15.0, 165.0, -15.0, -165.0)
_LEAST_RING_PX = 5.0
_KEEP_PX = 4.0
_GAP_PX = 3.0


class Under(IntEnum):
    """What a name would hide; more is worse."""

    NOTHING = 0
    CIRCLE = 1
    TRAIL = 2


@dataclass(frozen=True, slots=True)
class Clutter:
    """What a name should not lie on: circles about the axis, and the trail; px."""

    x: float
    y: float
    radii_px: tuple[float, ...]
    trail: Polyline

    def under(self, box: Box) -> Under:
        """Tell the worst of what runs through a box."""
        x, y = self.trail.x, self.trail.y
        inside = (x > box.left) & (x < box.right) & (y > box.top) & (y < box.bottom)
        if bool(inside.any()):
            return Under.TRAIL
        circle = any(_crosses(box, self.x, self.y, r) for r in self.radii_px)
        return Under.CIRCLE if circle else Under.NOTHING


@dataclass(frozen=True, slots=True)
class _Name:
    """A name that wants a place, and the worst it may hide to get one.

    Of several with one subject only the first that finds a place is said.
    """

    subject: str
    text: str
    slots: tuple[Box, ...]
    ink: Ink = Ink.TEXT
    bold: bool = False
    hides: Under = Under.NOTHING


def names(
    frame: PlaneFrame, snapshot: Snapshot | None, present: Box | None, aim: Predicted | None,
    corridor: Corridor | None, contact_m: float | None, trail: Polyline, meter: Meter,
    kept: dict[str, int],
) -> list[Label]:  # fmt: skip
    """Give the names of what is drawn, the most important placed first.

    Parameters
    ----------
    present : Box or None
        Room of the present point.
    contact_m : float or None
        Radius of the contact limit's circle.
    kept : dict
        Which of its places each name took in the frame before, renewed here: a name stays while
        its place is about as good as another, so that it does not hop.
    """
    taken = [*clocking_boxes(frame, meter)]
    wanted: list[_Name] = []
    if snapshot is None or present is None:
        wanted.append(_Name(NO_DATA, NO_DATA, _corners(frame, NO_DATA, meter), Ink.QUIET))
    else:
        taken.append(present)
        wanted += _age_names(frame, snapshot, present, meter)
    if aim is not None:
        sign = _sign_box(frame, aim, meter)
        taken.append(sign)
        wanted += [_Name("aim", words, _beside(sign, words, meter)) for words in PREDICTED]
        short = PREDICTED[-1]
        wanted.append(_Name("aim", short, _beside(sign, short, meter), hides=Under.TRAIL))
    wanted += _circle_names(frame, corridor, contact_m, meter)
    if trail.x.size:
        slots = _corners(frame, TRAIL_WORDS, meter)
        wanted.append(_Name("trail", TRAIL_WORDS, slots, Ink.QUIET))
    radii_m = (None if corridor is None else corridor.radius_m, contact_m)
    radii = tuple(r * frame.px_per_m for r in radii_m if r is not None)
    return _placed(frame, wanted, taken, Clutter(*middle_px(frame), radii, trail), kept)


def ended_words(snapshot: Snapshot) -> tuple[str, ...]:
    """Say when navigation ended, the longest wording first; none while it is expected."""
    ended_t = navigation_ended_t(snapshot)
    return () if ended_t is None else (f"{ENDED} {clock(ended_t)}", ENDED)


def _age_names(frame: PlaneFrame, snapshot: Snapshot, present: Box, meter: Meter) -> list[_Name]:
    """Say how old the present point is: loudly while it matters, quietly once it is over."""
    ended = ended_words(snapshot)
    if ended:
        return [
            _Name(
                "age",
                words,
                (*_corners(frame, words, meter), *_beside(present, words, meter)),
                Ink.QUIET,
                hides=Under.TRAIL,
            )
            for words in ended
        ]
    words = age_words(snapshot)
    slots = _beside(present, words, meter, bold=True)
    return [_Name("age", words, slots, bold=True, hides=Under.TRAIL)]


def _circle_names(
    frame: PlaneFrame, corridor: Corridor | None, contact_m: float | None, meter: Meter
) -> list[_Name]:
    made = []
    if contact_m is not None:
        slots = _of_circle(frame, contact_m, CONTACT_LIMIT, meter)
        made.append(_Name(CONTACT_LIMIT, CONTACT_LIMIT, slots, hides=Under.CIRCLE))
    if corridor is not None:
        slots = _of_circle(frame, corridor.radius_m, CORRIDOR, meter)
        made.append(_Name(CORRIDOR, CORRIDOR, slots, Ink.QUIET))
    return made


def _placed(
    frame: PlaneFrame,
    wanted: Sequence[_Name],
    taken: Sequence[Box],
    clutter: Clutter,
    kept: dict[str, int],
) -> list[Label]:
    filled = list(taken)
    labels: list[Label] = []
    said: set[str] = set()
    fresh: dict[str, int] = {}
    for name in wanted:
        if not name.text or name.subject in said:
            continue
        slot = _slot_of(frame, name, clutter, filled, kept.get(name.text))
        if slot is not None:
            said.add(name.subject)
            fresh[name.text] = slot
            box = name.slots[slot]
            filled.append(box)
            labels.append(Label(name.text, box, name.ink, bold=name.bold, patch=True))
    kept.clear()
    kept.update(fresh)
    return labels


def _slot_of(
    frame: PlaneFrame, name: _Name, clutter: Clutter, filled: Sequence[Box], kept: int | None
) -> int | None:
    """Choose a name's slot: the one it had while that hides nothing, else the one hiding least."""
    free = [
        i for i, box in enumerate(name.slots)
        if box.inside(frame.plot) and not any(box.overlaps(o, _GAP_PX, 1.0) for o in filled)
    ]  # fmt: skip
    if kept in free and clutter.under(name.slots[kept].grown(-_KEEP_PX)) is Under.NOTHING:
        return kept
    best: tuple[Under, bool, int] | None = None
    for i in free:
        under = clutter.under(name.slots[i].grown(-_KEEP_PX if i == kept else 0.0))
        rank = (under, i != kept, i)
        if under <= name.hides and (best is None or rank < best):
            best = rank
        if under is Under.NOTHING and kept not in free:
            break
    return None if best is None else best[2]


def _sign_box(frame: PlaneFrame, aim: Predicted, meter: Meter) -> Box:
    """Give the box that the predicted point and its ellipse take, the ellipse up to a size."""
    half = aim.ellipse.half_major_m * frame.px_per_m
    size = 2.0 * min(max(half, 5.0 * meter.unit), 3.0 * meter.height)
    return box_round(*at_px(frame, aim.y_m, aim.z_m), size)


def _beside(box: Box, text: str, meter: Meter, *, bold: bool = False) -> tuple[Box, ...]:
    """Give places for a text round a sign: right, left, then below and above."""
    width, tall, gap = meter.width(text, bold=bold), meter.height, 4.0
    right, left = box.right + gap, box.left - gap - width
    across = (right, left, box.left + (box.width - width) / 2.0)
    middle, below, above = box.middle - tall / 2.0, box.bottom + gap, box.top - gap - tall
    places = [(right, middle), (left, middle)]
    places += [(x, y) for y in (below, above) for x in across]
    return tuple(Box(x, y, width, tall) for x, y in places)


def _corners(frame: PlaneFrame, text: str, meter: Meter) -> tuple[Box, ...]:
    plot, width = frame.plot, meter.width(text)
    top = plot.bottom - meter.height - 4.0
    return (
        Box(plot.right - width - 4.0, top, width, meter.height),
        Box(plot.left + 4.0, top, width, meter.height),
    )


def _of_circle(frame: PlaneFrame, radius_m: float, text: str, meter: Meter) -> tuple[Box, ...]:
    """Give places for a circle's name: just outside it, then just inside."""
    radius = radius_m * frame.px_per_m
    if radius < _LEAST_RING_PX:
        return ()
    outside = _round(frame, radius + 3.0, text, meter, outward=True)
    return outside + _round(frame, radius - 4.0, text, meter, outward=False)


def _round(
    frame: PlaneFrame, radius: float, text: str, meter: Meter, *, outward: bool
) -> tuple[Box, ...]:
    width, tall = meter.width(text), meter.height
    x, y = middle_px(frame)
    boxes = []
    for angle_deg in _ANGLES_DEG:
        angle = math.radians(angle_deg)
        ax, ay = x + radius * math.cos(angle), y - radius * math.sin(angle)
        to_right = (math.cos(angle) > 0.0) is outward
        above = (math.sin(angle) > 0.0) is outward
        left = ax + 2.0 if to_right else ax - width - 2.0
        boxes.append(Box(left, ay - tall if above else ay, width, tall))
    return tuple(boxes)


def _crosses(box: Box, x: float, y: float, radius: float) -> bool:
    """Tell whether a circle runs through a box: it has points both nearer and farther."""
    near = math.hypot(max(box.left - x, 0.0, x - box.right), max(box.top - y, 0.0, y - box.bottom))
    far = math.hypot(
        max(abs(box.left - x), abs(box.right - x)), max(abs(box.top - y), abs(box.bottom - y))
    )
    return near <= radius <= far


def present_box(frame: PlaneFrame, where: Here | None, meter: Meter) -> Box | None:
    """Give the room of the present point with a ring round it, None where there is none."""
    if where is None:
        return None
    return box_round(*present_px(frame, where, meter), RING_PX * meter.unit)


def present_px(frame: PlaneFrame, where: Here, meter: Meter) -> tuple[float, float]:
    """Give where the present point stands, held at the picture's side where it lies outside."""
    x, y = at_px(frame, where.values[Channel.Y_M], where.values[Channel.Z_M])
    half = POINT_PX * meter.unit / 2.0
    plot = frame.plot
    return (
        min(max(x, plot.left + half), plot.right - half),
        min(max(y, plot.top + half), plot.bottom - half),
    )


def middle_px(frame: PlaneFrame) -> tuple[float, float]:
    """Give where the docking axis stands."""
    return at_px(frame, 0.0, 0.0)


def at_px(frame: PlaneFrame, y_m: float, z_m: float) -> tuple[float, float]:
    """Give where a point of the port plane stands."""
    return frame.across.px(y_m), frame.up.px(z_m)


def box_round(x: float, y: float, size: float) -> Box:
    """Give the square round a point."""
    return Box(x - size / 2.0, y - size / 2.0, size, size)
