"""A second pass laid over the lanes: thin, chained, in its trace's own colour."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

import numpy as np

from console.present.lanes import ROOM_OUTSIDE, Extremes, LanesFrame
from console.present.plot_scene import Line, Series, Stroke
from console.present.plot_trace import RangeExtent
from console.present.pyramid import Decimated
from console.present.replay_port import Overlay
from console.present.trail import Channel

FINEST_PX = 3.0
WIDTH_PX = 1.0
OPACITY = 0.85


def overlay_lines(frame: LanesFrame, overlay: Overlay) -> list[Line]:
    """Give the second pass's traces against range.

    Notes
    -----
    Several samples on one place are drawn by the middle of their extremes: it is a line to
    compare with, not the spread of another pass's noise.
    """
    trail = overlay.trail
    extent = RangeExtent(frame.ranges, frame.lanes[0].plot.right)
    nodes = trail.path.refine(0, trail.count, extent, FINEST_PX)
    x = frame.ranges.px_of(_middle(nodes, Channel.RANGE_M))
    return [
        Line(
            x, lane.values.px_of(_middle(nodes, trace.channel)), trace.ink, WIDTH_PX, Stroke.CHAIN,
            opacity=OPACITY, clip=lane.plot,
        )
        for lane in frame.lanes
        for trace in lane.spec.traces
    ]  # fmt: skip


def extremes_of(overlay: Overlay) -> Extremes:
    """Give what room the second pass wants in the lanes at a zoom step.

    Notes
    -----
    The first and the last hundredth of its values are left out: an estimate that is still settling
    is not worth another scale.
    """
    path = overlay.trail.path
    rows = path.rows(0, path.count)

    @cache
    def extremes(step_m: float) -> Mapping[Channel, tuple[float, float]]:
        near = rows[rows[:, Channel.RANGE_M] <= step_m * ROOM_OUTSIDE]
        if not near.size:
            return dict.fromkeys(Channel, (0.0, 0.0))
        low, high = np.nanpercentile(near, (1.0, 99.0), axis=0)
        return {channel: (float(low[channel]), float(high[channel])) for channel in Channel}

    return extremes


def _middle(nodes: Decimated, channel: Channel) -> Series:
    middle: Series = 0.5 * (
        nodes.low[:, channel].astype(np.float64) + nodes.high[:, channel].astype(np.float64)
    )
    return middle
