"""The capture plots' changing marks: newest values, what happened, the hooks."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from console.approach.snapshot import Snapshot
from console.present.capture_hooks import NOT_RECEIVED, draw_hooks, hooks_words
from console.present.capture_plots import CaptureFrame, PanelFrame, title_of
from console.present.capture_spec import PANELS, PanelSpec, happened, t_origin
from console.present.capture_verdicts import (
    Said,
    channel_of,
    damping_lines,
    draw_damping,
    draw_damping_lines,
    draw_leak_lines,
    leak_lines,
)
from console.present.lanes_now import POINT_PX, STALE_POINT_PX
from console.present.plot_label import Wish, beside, place
from console.present.plot_scene import (
    Box,
    Ink,
    Label,
    Marker,
    Meter,
    Scene,
    Shape,
    upright,
)
from console.present.plot_trace import Polyline, time_trace
from console.present.text import age, number
from console.present.trail import CaptureChannel, Trail

BREAK_S = 10.0
"""A longer silence between statuses is a gap in the traces."""
LOOK_BACK = 64
"""Statuses searched back for the last that told a value, where the newest did not."""


def capture_trace(
    trail: Trail, panel: PanelFrame, origin_t: float, start: int, stop: int
) -> Polyline:
    """Give one channel's trace of rows ``start`` to before ``stop``, px.

    It begins at the last row before ``start`` that told a value, so that a trace added to
    in pieces is whole.
    """
    channel = panel.spec.channel
    start = last_told(trail, channel, start)
    beyond = trail.capture_times.first_since(origin_t + panel.time.high) + 1
    pixels = max(int(panel.plot.width), 1)
    nodes = trail.capture.query(start, min(stop, beyond), pixels)
    t = trail.capture_times.of(nodes.first)
    t_end = trail.capture_times.of(nodes.first + nodes.size - 1)
    breaks = np.zeros(t.shape, np.bool_)
    breaks[1:] = t[1:] - t_end[:-1] > BREAK_S
    return time_trace(panel.time.px_of(t - origin_t), nodes, panel.values, channel, breaks)


def last_told(trail: Trail, channel: CaptureChannel, row: int) -> int:
    """Give the newest row before ``row`` that told a channel's value, or ``row`` itself."""
    told = np.flatnonzero(np.isfinite(trail.capture.rows(row - LOOK_BACK, row)[:, channel]))
    return row if told.size == 0 else max(row - LOOK_BACK, trail.capture.first) + int(told[-1])


def highest(trail: Trail) -> tuple[float | None, ...]:
    """Give each panel's largest value so far, None where none was told."""
    whole = trail.capture.query(0, trail.capture_count, 1)
    if len(whole) == 0:
        return (None,) * len(PANELS)
    tops = [float(whole.high[0, spec.channel]) for spec in PANELS]
    return tuple(top if math.isfinite(top) else None for top in tops)


def changing_capture(
    frame: CaptureFrame, snapshot: Snapshot | None, trail: Trail, meter: Meter
) -> Scene:
    """Give the marks of one snapshot."""
    scene = Scene()
    origin_t = t_origin(snapshot)
    capture = None if snapshot is None else snapshot.capture
    for is_late, row in ((False, frame.early_names), (True, frame.late_names)):
        events = [] if origin_t is None else [
            (word, t - origin_t) for word, t in happened(capture, is_late=is_late)
        ]  # fmt: skip
        _draw_events(scene, frame.side(is_late=is_late), row, events, meter)
    for panel in frame.panels:
        channel = channel_of(capture, panel.spec.unit)
        if channel is not None and origin_t is not None:
            draw_damping(scene, panel, channel, origin_t, meter)
        _draw_newest(scene, panel, snapshot, trail, meter)
        if channel is not None and snapshot is not None:
            draw_damping_lines(scene, panel, channel, snapshot.t, meter)
    draw_leak_lines(scene, frame.leak, capture, meter)
    draw_hooks(scene, frame.hooks_head, frame.hooks, capture, meter)
    return scene


def _draw_events(
    scene: Scene, panels: Sequence[PanelFrame], row: Box, events: Sequence[tuple[str, float]],
    meter: Meter,
) -> None:  # fmt: skip
    """Draw what happened as lines through the plots, and name it where there is room."""
    time = panels[0].time
    seen = [(word, time.px(at_s)) for word, at_s in events if 0.0 <= at_s <= time.high]
    wishes = [Wish(word, beside(word, x, row.top, meter)) for word, x in reversed(seen)]
    placed = place(wishes, row.grown(1.0), gap=6.0)
    for word, x in seen:
        for panel in panels:
            scene.add(upright(x, panel.plot.top, panel.plot.bottom, Ink.EDGE, opacity=0.8))
        scene.add(upright(x, row.top, row.bottom, Ink.EDGE, opacity=0.8))
        if word in placed:
            scene.add(Label(word, placed[word].box, patch=True))


def told_value(snapshot: Snapshot | None, spec: PanelSpec) -> float | None:
    """Give a panel's newest value as the snapshot has it."""
    if snapshot is None or snapshot.capture is None:
        return None
    status = snapshot.capture.status
    return {
        CaptureChannel.REL_RATE_MPS: status.rel_rate_mps,
        CaptureChannel.REL_RATE_DPS: status.rel_rate_dps,
        CaptureChannel.RING_EXTENSION: status.ring_extension,
        CaptureChannel.VESTIBULE_KPA: status.vestibule_kpa,
        CaptureChannel.VESTIBULE_DEGC: status.vestibule_degc,
    }[spec.channel]


def value_words(snapshot: Snapshot | None, spec: PanelSpec) -> tuple[str, ...]:
    """Give wordings of a panel's newest value, the longest first; none where it is not known."""
    value = told_value(snapshot, spec)
    if value is None:
        return ()
    words = f"{number(value, spec.decimals)} {spec.unit}".strip()
    capture = None if snapshot is None else snapshot.capture
    degc = None if capture is None else capture.status.vestibule_degc
    if spec.is_late and degc is not None:
        return (f"{words}  {number(degc, 1)} °C", words)
    return (words, number(value, spec.decimals))


def _draw_newest(
    scene: Scene, panel: PanelFrame, snapshot: Snapshot | None, trail: Trail, meter: Meter
) -> None:
    """Say the newest value in the plot's head and put a point at the end of its trace."""
    wordings = value_words(snapshot, panel.spec)
    value, origin_t = told_value(snapshot, panel.spec), t_origin(snapshot)
    if not wordings or value is None or snapshot is None:
        width = meter.width(NOT_RECEIVED)
        left = panel.plot.left + (panel.plot.width - width) / 2.0
        top = panel.plot.middle - meter.height / 2.0
        scene.add(Label(NOT_RECEIVED, Box(left, top, width, meter.height), patch=True))
        return
    is_old = snapshot.capture is not None and snapshot.capture.is_silent
    room = panel.head.width - meter.width(title_of(panel, meter)) - meter.height * 0.5
    words = next((w for w in wordings if meter.width(w, bold=True) <= room), "")
    width = meter.width(words, bold=True)
    box = Box(panel.head.right - width, panel.head.top, width, meter.height)
    scene.add(Label(words, box, Ink.STALE if is_old else Ink.TEXT, bold=True))
    row = last_told(trail, panel.spec.channel, trail.capture_count)
    if origin_t is None or row >= trail.capture_count:
        return
    x = panel.time.px(trail.capture_times.at(row) - origin_t)
    y = panel.values.px(value)
    if panel.plot.left <= x <= panel.plot.right + 1.0 and math.isfinite(y):
        y = min(max(y, panel.plot.top), panel.plot.bottom)
        size = (STALE_POINT_PX if is_old else POINT_PX) * meter.unit
        scene.add(Marker(x, y, Shape.DISC, size, panel.spec.ink, stale=is_old))


def capture_words(snapshot: Snapshot | None) -> str:
    """Say what the capture plots show, for those who hear it."""
    if snapshot is None or snapshot.capture is None:
        return f"Capture {NOT_RECEIVED}."
    parts = [
        f"{spec.titles[-1]} {said[0] if said else NOT_RECEIVED}"
        for spec in PANELS
        for said in (value_words(snapshot, spec),)
    ]
    parts.append(hooks_words(snapshot.capture)[0].replace("  ", " "))
    parts += [said.wordings[0].replace("  ", " ") for said in _verdicts(snapshot)]
    if snapshot.capture.is_silent:
        parts.append(f"silent {age(snapshot.capture.age_s)}")
    return ". ".join(parts) + "."


def _verdicts(snapshot: Snapshot) -> list[Said]:
    capture = snapshot.capture
    said = leak_lines(capture)
    for spec in PANELS[::-1]:
        channel = channel_of(capture, spec.unit)
        if channel is not None:
            said = [*damping_lines(channel, snapshot.t), *said]
    return said
