"""Extremes of a growing series at every coarseness, so that a long history draws like a short one.

Theory of operation. Every sample is a row of ``channels`` numbers. Level 0 holds the rows; a node
of level k holds the lowest and highest of each channel over ``FACTOR**k`` rows, and is made once,
when its last row comes. A question is answered with nodes as coarse as the picture allows: it
costs what the picture costs, not what the history costs. All levels live in arrays of fixed size
used round and round, so memory is bounded; the oldest block of rows is given up first.

One thread appends, another reads, without a lock: everything about a row is written before
``count`` says that it is there, and two whole blocks lie between the oldest row a reader may ask
for and the place that is written next.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from console.core.errors import UsageError

Rows: TypeAlias = NDArray[np.float32]
Indices: TypeAlias = NDArray[np.int64]
Extent: TypeAlias = Callable[[Rows, Rows], NDArray[np.float32]]
"""From lowest and highest, shape (n, channels), to the size on the screen, px, shape (n,)."""

FACTOR = 16
LEVELS = 4
BLOCKS = 66
"""Blocks of 16**4 rows: 4.2 million rows stand, four hours at 290 a second."""


@dataclass(frozen=True, slots=True)
class Decimated:
    """A series as nodes in order, each of one row or of the extremes of several.

    Attributes
    ----------
    first, size : ndarray, shape (n,)
        Number of the node's first row, and how many rows it stands for.
    low, high : ndarray, shape (n, channels), float32
        Lowest and highest of each channel; NaN where every row was NaN.
    """

    first: Indices
    size: Indices
    low: Rows
    high: Rows

    def __len__(self) -> int:
        """Give the number of nodes."""
        return int(self.first.shape[0])


class Pyramid:
    """A bounded series with the extremes of its rows at every level.

    Parameters
    ----------
    channels : int
        Numbers in a row.
    levels : int
        Levels above the rows.
    blocks : int
        How many nodes of the top level fit; at least 4.
    """

    def __init__(self, channels: int, levels: int = LEVELS, blocks: int = BLOCKS) -> None:
        if channels < 1 or levels < 1 or blocks < 4:
            raise UsageError("a pyramid needs a channel, a level and four blocks")
        self._levels = levels
        self._block: int = FACTOR**levels
        self._capacity: int = blocks * self._block
        sizes = [self._capacity // FACTOR**k for k in range(levels + 1)]
        # Untouched pages of np.empty cost nothing: a short pass stays small in memory.
        self._low = [np.empty((size, channels), np.float32) for size in sizes]
        self._high = [self._low[0]]
        self._high += [np.empty((size, channels), np.float32) for size in sizes[1:]]
        self._count = 0

    def begin(self) -> Pyramid:
        """Give an empty view of this one's rows, which ends where ``end_at`` says.

        Nothing is copied: it is for those who read a history up to a place in it.
        """
        view = Pyramid.__new__(Pyramid)
        vars(view).update(vars(self), _count=0)
        return view

    def end_at(self, count: int) -> None:
        """End a view after so many rows; the whole must hold them."""
        self._count = count

    @property
    def count(self) -> int:
        """Number of rows ever appended."""
        return self._count

    @property
    def first(self) -> int:
        """Number of the oldest row that may still be read."""
        return self._first_of(self._count)

    @property
    def capacity(self) -> int:
        """Most rows held at a time, two blocks of them out of readers' reach."""
        return self._capacity

    def append(self, values: Sequence[float]) -> None:
        """Add one row; NaN stands for an unknown value. Costs the same however long the series."""
        n = self._count
        self._low[0][n % self._capacity] = values
        n += 1
        level, size = 0, FACTOR
        while level < self._levels and n % size == 0:
            self._fold(level, n)
            level += 1
            size *= FACTOR
        self._count = n

    def clear(self) -> None:
        """Forget every row."""
        self._count = 0

    def rows(self, start: int, stop: int) -> Rows:
        """Give rows ``start`` to before ``stop`` as appended, those no longer held left out."""
        start, stop = self._clip(start, stop)
        taken: Rows = self._low[0].take(np.arange(start, stop) % self._capacity, axis=0)
        return taken

    def query(self, start: int, stop: int, pixels: int) -> Decimated:
        """Give the extremes of rows ``start`` to before ``stop``, in at most ``pixels`` nodes.

        Rows no longer held are left out. With ``pixels`` rows or fewer each row is a node.
        """
        start, stop = self._clip(start, stop)
        pixels = max(pixels, 1)
        length = stop - start
        fine = self._nodes(start, stop, max_size=max(length // pixels, 1))
        if len(fine) <= pixels:
            return fine
        column = (fine.first - start) * pixels // length
        heads = np.flatnonzero(np.diff(column, prepend=-1))
        return Decimated(
            fine.first[heads],
            np.add.reduceat(fine.size, heads),
            np.fmin.reduceat(fine.low, heads, axis=0),
            np.fmax.reduceat(fine.high, heads, axis=0),
        )

    def refine(
        self, start: int, stop: int, extent: Extent, finest_px: float = 1.0, budget: int = 8192
    ) -> Decimated:
        """Give rows ``start`` to before ``stop``, split only where the screen shows it.

        Parameters
        ----------
        extent : callable
            Size of each node on the screen, px; 0 for one that is not on it. A node larger than
            ``finest_px`` is split until it is not, or is a single row.
        budget : int
            Most nodes wanted; where more would be needed the largest on the screen are split
            first, and the rest stay boxes of their extremes.

        Notes
        -----
        Unlike `query` this suits a series drawn against one of its own channels, where an hour
        may fall on one pixel and the next minute on a thousand.
        """
        start, stop = self._clip(start, stop)
        waiting = self._cover(start, stop)
        done: list[Decimated] = []
        kept = 0
        open_nodes = sum(nodes.shape[0] for nodes in waiting)
        for level in range(self._levels, 0, -1):
            nodes = self._gather(level, waiting[level])
            split = _worth_splitting(
                extent(nodes.low, nodes.high), finest_px, budget - kept - open_nodes
            )
            keep = ~split
            done.append(_pick(nodes, keep))
            children = waiting[level][split, None] * FACTOR + np.arange(FACTOR)
            waiting[level - 1] = np.concatenate([waiting[level - 1], children.ravel()])
            kept += int(keep.sum())
            open_nodes += (FACTOR - 1) * int(split.sum()) - int(keep.sum())
        done.append(self._gather(0, waiting[0]))
        return _in_order(done)

    def _nodes(self, start: int, stop: int, max_size: int) -> Decimated:
        """Give the coarsest aligned nodes of at most ``max_size`` rows that tile the rows."""
        top = 0
        while top < self._levels and FACTOR ** (top + 1) <= max_size:
            top += 1
        cover = self._cover(start, stop, top)
        return _in_order([self._gather(level, cover[level]) for level in range(top + 1)])

    def _cover(self, start: int, stop: int, top: int | None = None) -> list[Indices]:
        """Give node numbers by level that tile the rows, as coarse as their ends allow."""
        top = self._levels if top is None else top
        cover: list[Indices] = []
        low, high = start, stop
        for level in range(top + 1):
            if level == top:
                cover.append(np.arange(low, high))
                break
            up, down = -(-low // FACTOR), high // FACTOR
            if up >= down:
                cover.append(np.arange(low, high))
                cover += [np.arange(0)] * (top - level)
                break
            ragged = (np.arange(low, up * FACTOR), np.arange(down * FACTOR, high))
            cover.append(np.concatenate(ragged))
            low, high = up, down
        return cover

    def _gather(self, level: int, nodes: Indices) -> Decimated:
        size: int = FACTOR**level
        place = nodes % (self._capacity // size)
        low = self._low[level].take(place, axis=0)
        high = low if level == 0 else self._high[level].take(place, axis=0)
        return Decimated(nodes * size, np.full(nodes.shape, size, np.int64), low, high)

    def _fold(self, level: int, n: int) -> None:
        """Make the node above the last ``FACTOR`` nodes of a level."""
        size = FACTOR**level
        length = self._capacity // size
        stop = (n // size - 1) % length + 1
        start = stop - FACTOR
        above = (n // (size * FACTOR) - 1) % (length // FACTOR)
        self._low[level + 1][above] = np.fmin.reduce(self._low[level][start:stop], axis=0)
        self._high[level + 1][above] = np.fmax.reduce(self._high[level][start:stop], axis=0)

    def _first_of(self, count: int) -> int:
        return max(0, (count // self._block + 2) * self._block - self._capacity)

    def _clip(self, start: int, stop: int) -> tuple[int, int]:
        count = self._count
        start = max(start, self._first_of(count))
        return start, max(start, min(stop, count))


def _worth_splitting(
    size_px: NDArray[np.float32], finest_px: float, room: int
) -> NDArray[np.bool_]:
    """Mark the nodes too large to be one mark, the largest first where room is short."""
    split: NDArray[np.bool_] = size_px > finest_px
    most = max(room // (FACTOR - 1), 0)
    if int(split.sum()) > most:
        largest = np.argsort(np.where(split, size_px, -1.0), kind="stable")[::-1][:most]
        chosen = np.zeros_like(split)
        chosen[largest] = True
        split &= chosen
    return split


def _pick(nodes: Decimated, keep: NDArray[np.bool_]) -> Decimated:
    return Decimated(nodes.first[keep], nodes.size[keep], nodes.low[keep], nodes.high[keep])


def _in_order(parts: Sequence[Decimated]) -> Decimated:
    first = np.concatenate([p.first for p in parts])
    order = np.argsort(first, kind="stable")
    return Decimated(
        first[order],
        np.concatenate([p.size for p in parts])[order],
        np.concatenate([p.low for p in parts])[order],
        np.concatenate([p.high for p in parts])[order],
    )
