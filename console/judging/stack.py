"""Many passes end to end, as long arrays: what a limit is judged over at once.

What the rules need to know beside the values is worked out when it is first asked for and kept:
blocks of samples with the span of their ranges, the worst value of each block, which samples are
judged for a quantity. So judging a limit again, with another curve or another delay, does only
what the change asks for.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from itertools import accumulate
from typing import Protocol, TypeAlias

import numpy as np
from numpy.typing import NDArray

from console.envelope.limits import Basis
from console.envelope.quantity import Quantity
from console.judging.columns import Flags, Floats, PassColumns
from console.judging.screen import Blocks

Indices: TypeAlias = NDArray[np.intp]


class Values(Protocol):
    """The values of quantities; a mapping will do."""

    def get(self, quantity: Quantity, /) -> Floats | None:
        """Give a quantity's values, NaN where unknown; None where unknown throughout."""
        ...


class PassStack:
    """Passes end to end.

    Attributes
    ----------
    t, range_m, range_est_m : ndarray, shape (n,)
        Of all passes, one after the other.
    measured, estimated : Values
        Each quantity's values, shape (n,).
    restarts : ndarray of bool, shape (n,)
        Whether another source came into use just before the sample.
    starts : ndarray of int, shape (passes + 1,)
        Row at which each pass begins, and the number of rows.
    """

    def __init__(
        self,
        t: Floats,
        range_m: Floats,
        range_est_m: Floats,
        measured: Values,
        estimated: Values,
        restarts: Flags,
        starts: Sequence[int],
    ) -> None:
        self.t = t
        self.range_m = range_m
        self.range_est_m = range_est_m
        self.measured = measured
        self.estimated = estimated
        self.restarts = restarts
        self.starts: Indices = np.array(starts, dtype=np.intp)
        self._columns: dict[tuple[Basis, Quantity], StackColumn | None] = {}

    @classmethod
    def of(cls, passes: Sequence[PassColumns]) -> PassStack:
        """Put passes end to end; their values are joined when they are first asked for."""
        if len(passes) == 1:
            one = passes[0]
            return cls(
                one.t, one.range_m, one.range_est_m, one.measured, one.estimated, one.restarts,
                (0, len(one.t)),
            )  # fmt: skip
        return cls(
            _joined([one.t for one in passes]),
            _joined([one.range_m for one in passes]),
            _joined([one.range_est_m for one in passes]),
            _Joined(passes, Basis.MEASURED),
            _Joined(passes, Basis.ESTIMATED),
            _joined([one.restarts for one in passes]).astype(np.bool_),
            list(accumulate((len(one.t) for one in passes), initial=0)),
        )

    def __len__(self) -> int:
        return len(self.starts) - 1

    def column(self, basis: Basis, quantity: Quantity) -> StackColumn | None:
        """Give a quantity of all passes, None where none of them knows it."""
        key = (basis, quantity)
        column = self._columns.get(key)
        if column is None and key not in self._columns:
            column = self._columns[key] = self._column(basis, quantity)
        return column

    def pass_at(self, rows: Indices) -> Indices:
        """Give the number of the pass each row belongs to."""
        if len(self.starts) == 2:
            return np.zeros(len(rows), dtype=np.intp)
        return np.searchsorted(self.starts[1:], rows, side="right")

    @cached_property
    def blocks(self) -> Blocks:
        """The blocks of samples by range as measured; none reaches over a pass's end."""
        return Blocks(self.range_m, self.starts)

    @cached_property
    def blocks_est(self) -> Blocks:
        """The same by estimated range."""
        if self.range_est_m is self.range_m:
            return self.blocks
        return Blocks(self.range_est_m, self.starts)

    @cached_property
    def in_front(self) -> Flags:
        """Whether each sample was taken before the contact plane: none at 0 or below is judged."""
        return self.range_m > 0.0

    @cached_property
    def changes(self) -> Indices | None:
        """Count of timer restarts up to each row, None where there is none at all."""
        if len(self) <= 1 and not self.restarts.any():
            return None
        restarts = self.restarts.copy()
        begins = self.starts[1:-1]
        restarts[begins[begins < len(restarts)]] = True
        return np.cumsum(restarts, dtype=np.intp)

    def _column(self, basis: Basis, quantity: Quantity) -> StackColumn | None:
        if not len(self.t):
            return None
        if basis is Basis.ESTIMATED:
            values = self.estimated.get(quantity)
            ranges_m, blocks = self.range_est_m, self.blocks_est
        else:
            values = self.measured.get(quantity)
            ranges_m, blocks = self.range_m, self.blocks
        return None if values is None else StackColumn(self, values, ranges_m, blocks)


class StackColumn:
    """One quantity of all passes with the ranges it is judged at.

    Attributes
    ----------
    values, ranges_m : ndarray, shape (n,)
        NaN where unknown.
    blocks : Blocks
    """

    def __init__(self, stack: PassStack, values: Floats, ranges_m: Floats, blocks: Blocks) -> None:
        self.stack = stack
        self.values = values
        self.ranges_m = ranges_m
        self.blocks = blocks
        self._worst: dict[bool, Floats] = {}

    def worst(self, is_below: bool) -> Floats:
        """Give the worst value of each block, in the mirror for limits from below."""
        worst = self._worst.get(is_below)
        if worst is None:
            if is_below:
                worst = np.fmax.reduceat(self.values, self.blocks.starts)
            else:
                worst = -np.fmin.reduceat(self.values, self.blocks.starts)
            self._worst[is_below] = worst
        return worst

    @cached_property
    def known(self) -> Flags | None:
        """Whether each sample is judged: value and range known, range above 0; None: all are."""
        known: Flags = ~np.isnan(self.values + self.ranges_m)
        known &= self.stack.in_front
        return None if known.all() else known

    @cached_property
    def rank(self) -> Indices | None:
        """Count of judged samples up to each row, None where all are judged."""
        return None if self.known is None else np.cumsum(self.known, dtype=np.intp)

    def rest(self, begins: Indices, ends: Indices) -> tuple[slice | Indices, list[int]]:
        """Give the judged rows of some stretches end to end, and where each begins in them."""
        pairs = zip(begins.tolist(), ends.tolist(), strict=True)
        if self.known is None:
            if len(begins) == 1:
                return slice(int(begins[0]), int(ends[0])), [0, int(ends[0] - begins[0])]
            parts = [np.arange(begin, end) for begin, end in pairs]
        else:
            parts = [np.flatnonzero(self.known[begin:end]) + begin for begin, end in pairs]
        bounds = list(accumulate((len(part) for part in parts), initial=0))
        return np.concatenate(parts), bounds


class _Joined:
    """The values of several passes, joined when they are asked for."""

    def __init__(self, passes: Sequence[PassColumns], basis: Basis) -> None:
        self._passes = passes
        self._basis = basis

    def get(self, quantity: Quantity, /) -> Floats | None:
        """Give a quantity of all passes, NaN where a pass does not know it."""
        parts = [one.values(self._basis, quantity) for one in self._passes]
        if all(part is None for part in parts):
            return None
        return np.concatenate(
            [
                np.full(len(one.t), np.nan) if part is None else part
                for one, part in zip(self._passes, parts, strict=True)
            ]
        )


def _joined(parts: Sequence[NDArray]) -> NDArray:  # type: ignore[type-arg] # floats or flags
    return np.concatenate(parts) if parts else np.zeros(0)
