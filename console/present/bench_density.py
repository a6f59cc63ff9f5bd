"""All passes' traces by range as one picture: single lines while few, density when many.

A cell of the picture counts how many times a trace comes into it, so a vehicle that stands at a
hold counts once. That is told in shades of one colour on a square-root scale: one pass alone can
still be seen beside three thousand.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from console.envelope.limits import Limit
from console.judging.stack import PassStack, StackColumn
from console.present.plot_axis import RangeScale, Scale
from console.present.plot_scene import Box, Ink, Line

MOST_LINES = 12
"""Passes drawn line by line; more become a density."""
CELL_PX = 2.0
LEAST_SHADE = 0.28
"""Of a cell that one trace came into, so that it stands out from the ground."""
ROWS_AT_ONCE = 400_000

Counts = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Density:
    """Counts of traces in cells, row by row from the top.

    Attributes
    ----------
    counts : ndarray of int, shape (down, across)
    cell_px : float
        Size of a cell.
    most : int
        The fullest cell's count, without the few fullest cells.
    """

    box: Box
    cell_px: float
    counts: Counts

    def shades(self) -> NDArray[np.float64]:
        """Give each cell's shade, 0 to 1: 0 only where no trace came."""
        counts = self.counts
        filled = counts[counts > 0]
        most = max(float(np.quantile(filled, 0.98)), 2.0) if filled.size else 2.0
        share = np.sqrt(np.minimum(counts / most, 1.0))
        return np.where(counts > 0, LEAST_SHADE + (1.0 - LEAST_SHADE) * share, 0.0)


def density(column: StackColumn, box: Box, ranges: RangeScale, values: Scale) -> Density:
    """Count the traces of all passes in the cells of a plot."""
    across, down = int(box.width // CELL_PX), int(box.height // CELL_PX)
    counts = np.zeros(across * down, dtype=np.int64)
    n, starts = len(column.values), column.stack.starts
    for begin in range(0, n, ROWS_AT_ONCE):
        rows = slice(begin, min(begin + ROWS_AT_ONCE, n))
        x = np.floor((ranges.px_of(column.ranges_m[rows]) - box.left) / CELL_PX)
        y = np.floor((values.px_of(column.values[rows]) - box.top) / CELL_PX)
        inside = (x >= 0) & (x < across) & (y >= 0) & (y < down)  # NaN is nowhere inside
        cell = np.where(inside, y * across + x, -1.0).astype(np.int64)
        enters = np.append(True, cell[1:] != cell[:-1])
        begins = starts[(starts >= begin) & (starts < rows.stop)] - begin
        enters[begins] = True
        counts += np.bincount(cell[enters & (cell >= 0)], minlength=across * down)
    return Density(box, CELL_PX, counts.reshape(down, across))


def trace_lines(
    column: StackColumn, box: Box, ranges: RangeScale, values: Scale
) -> Iterator[Line]:
    """Give each pass's trace as a line."""
    for begin, end in zip(column.stack.starts[:-1], column.stack.starts[1:], strict=True):
        rows = slice(int(begin), int(end))
        x, y = ranges.px_of(column.ranges_m[rows]), values.px_of(column.values[rows])
        yield Line(x, y, Ink.TRACE_A, 1.0, opacity=0.8, clip=box)


def value_span(stack: PassStack, limit: Limit, outer_m: float) -> tuple[float, float] | None:
    """Give nearly the least and greatest value of all traces within a range; None of none.

    Nearly: one sample in a thousand may lie beyond, so that an outlier does not flatten the rest.
    """
    column = stack.column(limit.basis, limit.quantity)
    if column is None:
        return None
    step = max(len(column.values) // 200_000, 1)
    values, ranges_m = column.values[::step], column.ranges_m[::step]
    known = values[np.isfinite(values) & (ranges_m <= outer_m) & (ranges_m > 0.0)]
    if not known.size:
        return None
    low, high = np.quantile(known, (0.001, 0.999))
    return float(low), float(high)


def outermost_m(stack: PassStack) -> float:
    """Give nearly the greatest range of the passes, m; 0 without any."""
    ranges_m = stack.range_m[:: max(len(stack.range_m) // 200_000, 1)]
    known = ranges_m[np.isfinite(ranges_m)]
    return float(np.quantile(known, 0.995)) if known.size else 0.0
