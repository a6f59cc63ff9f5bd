"""The lines that cross all lanes: range marks, hands-off, contact with its limits as gates."""

from __future__ import annotations

from console.envelope.limits import LimitsFile
from console.present.lane_spec import LaneSpec
from console.present.lanes import LanesFrame
from console.present.plot_label import Placed, Wish, beside, place
from console.present.plot_scene import (
    Box,
    Ink,
    Label,
    Meter,
    Scene,
    Stroke,
    level_line,
    upright,
)
from console.present.text import range_m

CONTACT = "contact"
HANDS_OFF = "hands-off"
GATE_HALF_PX = 7.0


def draw_marks(
    scene: Scene, frame: LanesFrame, limits: LimitsFile | None, meter: Meter
) -> dict[float, Box]:
    """Draw range marks and hands-off through all lanes, and name those that have room.

    Returns
    -------
    dict
        Box of each mark's name that found a place, by range, m.
    """
    row = frame.marks_row
    contact = Label(
        "contact", _ending_at(frame.ranges.contact_px, "contact", row, meter), Ink.TEXT
    )
    scene.add(contact)
    if limits is None:
        return {}
    hands_off = limits.hands_off.range_m
    wishes = []
    if hands_off <= frame.ranges.outer_m:
        slots = _hands_off_slots(frame, hands_off, meter)
        wishes.append(Wish(HANDS_OFF, tuple(box for _, box in slots)))
    seen = sorted({m for m in limits.marks_m if 0.0 < m <= frame.ranges.outer_m}, reverse=True)
    for mark in seen:
        x = frame.ranges.px(mark)
        scene.add(upright(round(x) + 0.5, frame.top, frame.bottom, Ink.EDGE, opacity=0.35))
        width = meter.width(mark_words(mark))
        wishes.append(Wish(str(mark), (Box(x - width / 2.0, row.top, width, row.height),)))
    placed = place(wishes, row, taken=(contact.box,), gap=10.0)
    _draw_hands_off(scene, frame, hands_off, placed.get(HANDS_OFF), meter)
    boxes = {m: placed[str(m)].box for m in seen if str(m) in placed}
    scene.add(*(Label(mark_words(m), box) for m, box in boxes.items()))
    return boxes


def mark_words(mark_m: float) -> str:
    """Name a range mark."""
    return f"{mark_m:g} m"


def _draw_hands_off(
    scene: Scene, frame: LanesFrame, hands_off_m: float, placed: Placed | None, meter: Meter
) -> None:
    if hands_off_m > frame.ranges.outer_m:
        return
    x = round(frame.ranges.px(hands_off_m)) + 0.5
    scene.add(upright(x, frame.marks_row.top, frame.bottom, Ink.TEXT, stroke=Stroke.DASHED))
    if placed is not None:
        words, box = _hands_off_slots(frame, hands_off_m, meter)[placed.slot]
        scene.add(Label(words, box, Ink.TEXT))


def _hands_off_slots(
    frame: LanesFrame, hands_off_m: float, meter: Meter
) -> tuple[tuple[str, Box], ...]:
    """Give wordings and places for the hands-off line's name, the best first."""
    x = frame.ranges.px(hands_off_m)
    long = f"{HANDS_OFF} {range_m(hands_off_m)} m"
    wordings = (long, HANDS_OFF)
    sides = {words: beside(words, x, frame.marks_row.top, meter) for words in wordings}
    return tuple((words, sides[words][side]) for side in (0, 1) for words in wordings)


def _ending_at(x: float, text: str, row: Box, meter: Meter) -> Box:
    width = meter.width(text)
    return Box(x - 6.0 - width, row.top, width, row.height)


def draw_contact(scene: Scene, frame: LanesFrame, limits: LimitsFile | None) -> None:
    """Draw the contact line, and on it each lane's contact limit as a gate."""
    x = frame.ranges.contact_px
    scene.add(upright(x, frame.marks_row.top, frame.bottom, Ink.TEXT, 2.0))
    if limits is None:
        return
    for lane in frame.lanes:
        for value in _gate(lane.spec, limits):
            y = lane.values.px(value)
            if lane.plot.top <= y <= lane.plot.bottom:
                scene.add(level_line(y, x - GATE_HALF_PX, x + GATE_HALF_PX, Ink.TEXT, 2.0))


def _gate(spec: LaneSpec, limits: LimitsFile) -> tuple[float, ...]:
    for limit in limits.contact_limits:
        if limit.quantity is spec.at_contact:
            ends = [v for v in (limit.minimum, limit.maximum) if v is not None]
            return (*ends, *(-v for v in ends)) if spec.two_sided else tuple(ends)
    return ()
