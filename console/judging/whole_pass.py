"""The same judge over whole passes, as arrays: for scoring and tuning over many passes.

Curve and comparisons are those of the judge of single samples (:func:`interpolate
<console.envelope.limits.interpolate>` and :mod:`console.judging.threshold`), so both give the
same records to the last bit; a property test holds them equal. What differs is only the order of
work: first a test on blocks of samples that rules out most limits of most passes, then exact
comparisons over all samples, then a walk over the few runs of violating and clearing samples that
last long enough to raise or clear.
"""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from console.envelope.limits import Allow, Basis, Curve, Limit, LimitsFile, interpolate
from console.judging.columns import Flags, Floats, PassColumns
from console.judging.exceedance import Exceedance
from console.judging.screen import Blocks, Screen
from console.judging.threshold import has_lasted, is_clearing, is_longer, is_violating

Indices: TypeAlias = NDArray[np.intp]


class PassJudge:
    """Judge whole passes against a limits file.

    Parameters
    ----------
    limits : LimitsFile
        What is judged.
    """

    def __init__(self, limits: LimitsFile) -> None:
        self._stale_after_s = limits.data.stale_after_s
        self._screens = tuple(Screen(limit) for limit in limits.limits)

    def judge(self, columns: PassColumns) -> list[Exceedance]:
        """Judge a pass.

        Returns
        -------
        list of Exceedance
            Those a :class:`~console.judging.judge.Judge` fed the same samples would have made,
            in order of onset, then id.
        """
        if not len(columns.t):
            return []
        records: list[Exceedance] = []
        blocks = {
            Basis.MEASURED: Blocks(columns.range_m),
            Basis.ESTIMATED: Blocks(columns.range_est_m),
        }
        steps = _Steps(columns, self._stale_after_s)
        for screen in self._screens:
            limit = screen.limit
            is_estimated = limit.basis is Basis.ESTIMATED
            values = (columns.estimated if is_estimated else columns.measured).get(limit.quantity)
            ranges_m = columns.range_est_m if is_estimated else columns.range_m
            if values is not None and screen.may_be_broken(values, ranges_m, blocks[limit.basis]):
                records += _Walk(limit, columns.t, values, ranges_m, steps).records()
        records.sort(key=lambda record: (record.onset, record.id))
        return records


def _edges(curve: Curve, ranges_m: Floats) -> tuple[Floats, Flags]:
    """Give the limit at each range, and whether the curve reaches it."""
    pieces = np.array([(p.low, p.rise, p.r0, p.span) for p in curve.pieces()])
    first_m, last_m = curve.ranges_m[0], curve.ranges_m[-1]
    covered = (ranges_m >= first_m) & (ranges_m <= last_m)
    within_m = ranges_m if covered.all() else np.where(covered, ranges_m, first_m)
    at = np.searchsorted(curve.ranges_m[1:-1], within_m, side="right")
    low, rise, r0, span = pieces.T[:, at]
    return interpolate(low, rise, r0, span, within_m), covered


def _runs(flags: Flags, breaks: Flags) -> tuple[Indices, Indices]:
    """Give first and last index of each unbroken run of set flags."""
    joined = flags[1:] & flags[:-1] & ~breaks
    begins, ends = flags.copy(), flags.copy()
    begins[1:] &= ~joined
    ends[:-1] &= ~joined
    return np.flatnonzero(begins), np.flatnonzero(ends)


class _Steps:
    """From judged sample to judged sample: where both timers restart."""

    def __init__(self, columns: PassColumns, stale_after_s: float) -> None:
        self._t = columns.t
        self._stale_after_s = stale_after_s
        self._changes = (
            np.cumsum(columns.restarts, dtype=np.intp) if columns.restarts.any() else None
        )
        self._in_front = columns.range_m > 0.0
        self._all: Flags | None = None

    def judged(self, values: Floats, ranges_m: Floats) -> slice | Indices:
        """Give the rows that are judged for a limit."""
        known = ~np.isnan(values + ranges_m)
        known &= self._in_front
        return slice(None) if known.all() else np.flatnonzero(known)

    def breaks(self, rows: slice | Indices) -> Flags:
        """Tell of each judged row but the first whether timers restart at it."""
        if isinstance(rows, slice):
            if self._all is None:
                self._all = self._between(self._t, self._changes)
            return self._all
        changes = None if self._changes is None else self._changes[rows]
        return self._between(self._t[rows], changes)

    def _between(self, t: Floats, changes: Indices | None) -> Flags:
        breaks = is_longer(t[1:] - t[:-1], self._stale_after_s)
        return breaks if changes is None else breaks | (changes[1:] > changes[:-1])


class _Walk:
    """One limit over one pass, from the comparisons to the records."""

    def __init__(
        self, limit: Limit, t: Floats, values: Floats, ranges_m: Floats, steps: _Steps
    ) -> None:
        rows = steps.judged(values, ranges_m)
        self._limit = limit
        self._t, self._values = t[rows], values[rows]
        self._edges, self._covered = _edges(limit.curve, ranges_m[rows])
        self._breaks = steps.breaks(rows)
        sign = 1.0 if limit.allow is Allow.BELOW else -1.0
        self._x, self._edge = sign * self._values, sign * self._edges

    def records(self) -> list[Exceedance]:
        """Go from raising to clearing to raising."""
        limit, covered = self._limit, self._covered
        violating = is_violating(self._x, self._edge) & covered
        raising_runs = self._lasting(violating, limit.on_delay_s)
        if not len(raising_runs[0]):
            return []
        clearing = is_clearing(self._x, self._edge, limit.deadband) | ~covered
        clearing_runs = self._lasting(clearing, limit.off_delay_s)
        records: list[Exceedance] = []
        free = 0
        while (raising := self._next(raising_runs, free, limit.on_delay_s)) is not None:
            onset, raised = raising
            cleared = self._next(clearing_runs, raised, limit.off_delay_s)
            records.append(
                self._record(len(records) + 1, onset, raised, cleared[1] if cleared else None)
            )
            if cleared is None:
                break
            free = cleared[1]
        return records

    def _lasting(self, flags: Flags, delay_s: float) -> tuple[Indices, Indices]:
        """Give the runs that last for a delay."""
        first, last = _runs(flags, self._breaks)
        enough = has_lasted(self._t[last] - self._t[first], delay_s)
        return first[enough], last[enough]

    def _next(
        self, runs: tuple[Indices, Indices], begin: int, delay_s: float
    ) -> tuple[int, int] | None:
        """Give start of the next run, at or after an index, and where it reaches the delay."""
        at = int(np.searchsorted(runs[0], begin))
        if at == len(runs[0]):
            return None
        first, last = int(runs[0][at]), int(runs[1][at])
        elapsed_s = self._t[first : last + 1] - self._t[first]
        return first, first + int(np.argmax(has_lasted(elapsed_s, delay_s)))

    def _record(self, number: int, onset: int, raised: int, cleared: int | None) -> Exceedance:
        limit = self._limit
        newest = len(self._t) - 1 if cleared is None else cleared
        span = slice(onset, newest + 1)
        excess = np.where(self._covered[span], self._x[span] - self._edge[span], -np.inf)
        peak = onset + int(np.argmax(excess))
        return Exceedance(
            key=f"{limit.id}#{number}",
            id=limit.id,
            level=limit.level,
            onset=float(self._t[onset]),
            raised=float(self._t[raised]),
            quantity=limit.quantity,
            action=limit.action,
            cleared=None if cleared is None else float(self._t[cleared]),
            value=float(self._values[newest]),
            limit=float(self._edges[newest]) if self._covered[newest] else None,
            peak=float(self._values[peak]),
            peak_limit=float(self._edges[peak]),
            peak_t=float(self._t[peak]),
        )
