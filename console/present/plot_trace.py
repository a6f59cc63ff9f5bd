"""A decimated trail as polylines in pixels, broken where nothing was measured."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from console.present.plot_axis import RangeScale, Scale
from console.present.plot_scene import Series
from console.present.pyramid import Decimated, Rows
from console.present.trail import Channel


@dataclass(frozen=True, slots=True)
class Polyline:
    """Points in pixels; a NaN breaks the line."""

    x: Series
    y: Series


@dataclass(frozen=True, slots=True)
class RangeExtent:
    """How wide a node of the trail is on the range axis; 0 for one outside the picture."""

    scale: RangeScale
    right_px: float

    def __call__(self, low: Rows, high: Rows) -> NDArray[np.float32]:
        """Give the widths, px."""
        left = self.scale.px_of(high[:, Channel.RANGE_M])
        right = self.scale.px_of(low[:, Channel.RANGE_M])
        seen = (right >= self.scale.left_px) & (left <= self.right_px)
        return np.where(seen, right - left, 0.0).astype(np.float32)


@dataclass(frozen=True, slots=True)
class PlaneExtent:
    """How large a node of the trail is in the port plane."""

    px_per_m: float

    def __call__(self, low: Rows, high: Rows) -> NDArray[np.float32]:
        """Give the larger of its two sides, px."""
        sides = high[:, Channel.Y_M : Channel.Z_M + 1] - low[:, Channel.Y_M : Channel.Z_M + 1]
        widest: NDArray[np.float32] = sides.max(axis=1) * np.float32(self.px_per_m)
        return widest


def lane_trace(nodes: Decimated, ranges: RangeScale, values: Scale, channel: Channel) -> Polyline:
    """Give one channel of the trail against range.

    Notes
    -----
    A node of several rows is at most a pixel wide (or the budget was short): it becomes a stroke
    from its lowest to its highest value.
    """
    x_outer = ranges.px_of(nodes.high[:, Channel.RANGE_M])
    x_inner = ranges.px_of(nodes.low[:, Channel.RANGE_M])
    y_high = values.px_of(nodes.high[:, channel])
    y_low = values.px_of(nodes.low[:, channel])
    return _strokes(nodes, x_outer, y_high, x_inner, y_low)


def plane_trace(nodes: Decimated, across: Scale, up: Scale) -> Polyline:
    """Give the trail's y against z."""
    return _strokes(
        nodes,
        across.px_of(nodes.low[:, Channel.Y_M]),
        up.px_of(nodes.low[:, Channel.Z_M]),
        across.px_of(nodes.high[:, Channel.Y_M]),
        up.px_of(nodes.high[:, Channel.Z_M]),
    )


def time_trace(
    x: Series, nodes: Decimated, values: Scale, channel: int, breaks: NDArray[np.bool_]
) -> Polyline:
    """Give one channel against times already in pixels.

    A NaN is left out, not a break: a status that did not say a value says nothing against it, and
    the line goes on to the next that did.

    Parameters
    ----------
    x : ndarray, shape (n,)
        Where each node stands, px.
    breaks : ndarray, shape (n,)
        The line is broken before this node.
    """
    points = np.full((len(nodes), 3, 2), np.nan)
    points[:, 1:, 0] = x[:, None]
    points[:, 1, 1] = values.px_of(nodes.high[:, channel])
    points[:, 2, 1] = values.px_of(nodes.low[:, channel])
    used = np.isfinite(points[:, :, 1])
    used[:, 2] &= nodes.size > 1
    used[:, 0] = breaks
    kept = points[used]
    return Polyline(kept[:, 0], kept[:, 1])


def _strokes(nodes: Decimated, xa: Series, ya: Series, xb: Series, yb: Series) -> Polyline:
    gap = nodes.high[:, Channel.GAP] > 0.0
    coasted = nodes.low[:, Channel.COASTED] > 0.0
    points = np.full((len(nodes), 3, 2), np.nan)
    points[:, 1, 0], points[:, 1, 1] = xa, ya
    points[:, 2, 0], points[:, 2, 1] = xb, yb
    points[coasted, 1:] = np.nan
    used = np.ones((len(nodes), 3), np.bool_)
    used[:, 0] = gap
    used[:, 2] = nodes.size > 1
    kept = points[used]
    return Polyline(kept[:, 0], kept[:, 1])
