"""Which places of a label lie on no curve and no mark."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from console.present.plot_scene import Box, Series, series

Course = tuple[Series, Series]
"""Places across and down, px; of a curve from right to left."""
ALONG_PX = 3.0


def clear_of(
    slots: Sequence[Box], courses: Sequence[Course], marks: Course, room: float
) -> tuple[Box, ...]:
    """Give the slots no curve comes into and no mark lies in, nearer than ``room`` px."""
    grown = [(box, box.grown(room)) for box in slots]
    return tuple(
        box
        for box, wide in grown
        if not _holds_any(wide, marks) and not any(_is_crossed(wide, one) for one in courses)
    )


def along(places: Sequence[tuple[float, float]]) -> Course:
    """Give points of a course, near enough to each other that none of it slips through a name."""
    corners = np.array(places)
    steps = np.abs(np.diff(corners, axis=0)).max(axis=1, initial=0.0)
    shares = [np.linspace(0.0, 1.0, max(round(step / ALONG_PX), 1) + 1) for step in steps]
    parts = [
        first + share[:, None] * (second - first)
        for first, second, share in zip(corners[:-1], corners[1:], shares, strict=True)
    ]
    found = np.concatenate([corners, *parts])
    return found[:, 0], found[:, 1]


def _is_crossed(box: Box, course: Course) -> bool:
    """Tell whether a curve's course, which runs from right to left, goes through a box."""
    x, y = course[0][::-1], course[1][::-1]
    if not len(x) or box.right < x[0] or box.left > x[-1]:
        return False
    ends = np.clip(series((box.left, box.right)), x[0], x[-1])
    within = y[(x > ends[0]) & (x < ends[1])]
    heights = np.concatenate([np.interp(ends, x, y), within])
    return bool(heights.min() <= box.bottom and heights.max() >= box.top)


def _holds_any(box: Box, places: Course) -> bool:
    x, y = places
    across = (x >= box.left) & (x <= box.right)
    return bool((across & (y >= box.top) & (y <= box.bottom)).any())
