"""Rule out, for whole passes at once, that a limit was ever violated.

Most limits of most passes are kept all the way; finding that out must cost little. A screen never
says "kept" wrongly. When it cannot say, the samples it leaves are compared exactly, elsewhere.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from console.envelope.limits import Allow, Limit
from console.judging.columns import Floats

if TYPE_CHECKING:
    from console.judging.stack import StackColumn

Indices: TypeAlias = NDArray[np.intp]

BLOCK = 48
"""Samples that are looked at together when a violation is ruled out."""
_OFFSETS = np.arange(BLOCK)
APPROXIMATION = 1e-12
"""Relative room given to np.interp, whose last bits differ from the curve's own formula."""


class Blocks:
    """The least and greatest range of each block of samples.

    Parameters
    ----------
    ranges_m : ndarray, shape (n,)
        Ranges of all samples.
    bounds : ndarray of int
        Rows at which passes begin, and the number of rows; no block reaches over one.
    """

    def __init__(self, ranges_m: Floats, bounds: Indices) -> None:
        self.starts = _starts(bounds)
        self._bounds = bounds
        self._count = len(ranges_m)
        least = np.fmin.reduceat(ranges_m, self.starts)
        greatest = np.fmax.reduceat(ranges_m, self.starts)
        self.ends_m = np.concatenate([least, greatest])
        self.half_widths_m = 0.5 * (greatest - least)

    def rows(self, chosen: Indices) -> Indices:
        """Give the rows of chosen blocks, in order."""
        starts = self.starts[chosen]
        rows = (starts[:, np.newaxis] + _OFFSETS).ravel()
        if len(self._bounds) == 2:
            return rows[: np.searchsorted(rows, self._count)]
        ends = np.append(self.starts, self._count)[chosen + 1]
        return rows[rows < np.repeat(ends, BLOCK)]


class Screen:
    """What rules out that a limit is violated anywhere in a block: quickly, and never wrongly.

    Notes
    -----
    A curve that nowhere rises steeper than S keeps, between two ranges, above the lesser of its
    values there less S times half their distance. Lower limits are taken in the mirror.
    """

    def __init__(self, limit: Limit) -> None:
        self.is_below = limit.allow is Allow.BELOW
        values = np.array(limit.curve.values)
        self._ranges_m = np.array(limit.curve.ranges_m)
        self._values = values if self.is_below else -values
        self._steepest = max(abs(piece.rise / piece.span) for piece in limit.curve.pieces())
        self._room = APPROXIMATION * float(np.abs(values).max())

    def room(self, column: StackColumn) -> Floats:
        """Give, for each block, a margin that none of its samples falls below."""
        blocks = column.blocks
        at_ends = np.interp(blocks.ends_m, self._ranges_m, self._values)
        count = len(blocks.starts)
        least: Floats = np.minimum(at_ends[:count], at_ends[count:])
        least -= self._steepest * blocks.half_widths_m + self._room
        least -= column.worst(self.is_below)
        return least

    def suspects(self, column: StackColumn) -> Indices:
        """Give the blocks in which a value may be beyond its limit; in all others none is.

        The worst value of each block is held against the least the limit can be there.
        """
        chosen: Indices = (self.room(column) < 0.0).nonzero()[0]
        return chosen

    def beyond(self, column: StackColumn, chosen: Indices) -> Indices:
        """Give the rows of blocks whose value is beyond nearly its own limit, or more."""
        rows = column.blocks.rows(chosen)
        x = column.values[rows] if self.is_below else -column.values[rows]
        edge = np.interp(column.ranges_m[rows], self._ranges_m, self._values) - self._room
        beyond: Indices = rows[x > edge]
        return beyond


def _starts(bounds: Indices) -> Indices:
    pairs = pairwise(bounds.tolist())
    parts = [np.arange(begin, end, BLOCK) for begin, end in pairs]
    return parts[0] if len(parts) == 1 else np.concatenate(parts)
