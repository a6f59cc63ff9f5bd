"""Rule out, for a whole pass at once, that a limit was ever violated.

Most limits of most passes are kept all the way; finding that out must cost little. A screen never
says "kept" wrongly. When it cannot say, every sample is compared exactly, elsewhere.
"""

from __future__ import annotations

import numpy as np

from console.envelope.limits import Allow, Limit
from console.judging.columns import Floats

BLOCK = 32
"""Samples that are looked at together when a violation is ruled out."""
_OFFSETS = np.arange(BLOCK)
APPROXIMATION = 1e-12
"""Relative room given to np.interp, whose last bits differ from the curve's own formula."""


class Blocks:
    """The least and greatest range of each block of samples."""

    def __init__(self, ranges_m: Floats) -> None:
        self.starts = np.arange(0, len(ranges_m), BLOCK)
        least = np.fmin.reduceat(ranges_m, self.starts)
        greatest = np.fmax.reduceat(ranges_m, self.starts)
        self.ends_m = np.concatenate([least, greatest])
        self.half_widths_m = 0.5 * (greatest - least)


class Screen:
    """What rules out that a limit is violated anywhere in a block: quickly, and never wrongly.

    Notes
    -----
    A curve that nowhere rises steeper than S keeps, between two ranges, above the lesser of its
    values there less S times half their distance. Lower limits are taken in the mirror.
    """

    def __init__(self, limit: Limit) -> None:
        self.limit = limit
        self._below = limit.allow is Allow.BELOW
        values = np.array(limit.curve.values)
        self._ranges_m = np.array(limit.curve.ranges_m)
        self._values = values if self._below else -values
        self._steepest = max(abs(piece.rise / piece.span) for piece in limit.curve.pieces())
        self._room = APPROXIMATION * float(np.abs(values).max())

    def may_be_broken(self, values: Floats, ranges_m: Floats, blocks: Blocks) -> bool:
        """Tell whether some value may be beyond its limit.

        First the worst value of each block against the least the limit can be there, then, in
        the blocks that leaves, each value against nearly its own limit.
        """
        if self._below:
            worst = np.fmax.reduceat(values, blocks.starts)
        else:
            worst = -np.fmin.reduceat(values, blocks.starts)
        at_ends = np.interp(blocks.ends_m, self._ranges_m, self._values)
        count = len(blocks.starts)
        least = np.minimum(at_ends[:count], at_ends[count:])
        least -= self._steepest * blocks.half_widths_m + self._room
        suspect = blocks.starts[worst > least]
        if not len(suspect):
            return False
        rows = (suspect[:, np.newaxis] + _OFFSETS).ravel()
        rows = rows[: np.searchsorted(rows, len(values))]
        x = values[rows] if self._below else -values[rows]
        edge = np.interp(ranges_m[rows], self._ranges_m, self._values) - self._room
        return bool((x > edge).any())
