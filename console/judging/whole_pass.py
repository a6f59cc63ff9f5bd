"""The same judge over whole passes, as arrays: for scoring and tuning over many passes.

Curve and comparisons are those of the judge of single samples (:func:`interpolate
<console.envelope.limits.interpolate>` and :mod:`console.judging.threshold`), so both give the
same records to the last bit; a property test holds them equal. What differs is only the order of
work: first a test on blocks of samples that rules out most limits of most passes, then exact
comparisons of the samples that leaves, then, in the passes in which a violation lasts long enough
to raise, a walk over the few runs of violating and clearing samples from there on.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from itertools import pairwise
from typing import TypeAlias

import numpy as np

from console.envelope.limits import Allow, Curve, Limit, LimitsFile, interpolate
from console.judging.columns import Flags, Floats, PassColumns
from console.judging.exceedance import Exceedance
from console.judging.screen import Screen
from console.judging.stack import Indices, PassStack, StackColumn
from console.judging.threshold import has_lasted, is_clearing, is_longer, is_violating

TOGETHER = 32
"""Passes walked through together."""
_FIRST = np.zeros(1, dtype=np.intp)
_Runs: TypeAlias = tuple[list[int], list[int]]
"""First and last place of each run."""


class PassJudge:
    """Judge whole passes against a limits file.

    Parameters
    ----------
    limits : LimitsFile
        What is judged.
    """

    def __init__(self, limits: LimitsFile) -> None:
        stale_after_s = limits.data.stale_after_s
        self._judges = tuple(LimitJudge(limit, stale_after_s) for limit in limits.limits)

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
        (records,) = self.judge_all(PassStack.of([columns]))
        return records

    def judge_all(self, stack: PassStack) -> list[list[Exceedance]]:
        """Judge many passes; give each one's records in order of onset, then id."""
        records: list[list[Exceedance]] = [[] for _ in range(len(stack))]
        for judge in self._judges:
            for number, found in judge.judge(stack).items():
                records[number] += found
        for mine in records:
            mine.sort(key=lambda record: (record.onset, record.id))
        return records


class LimitJudge:
    """Judge one limit over many passes at once.

    Parameters
    ----------
    limit : Limit
        What is judged.
    stale_after_s : float
        The longest step between judged samples that timers survive.
    """

    def __init__(self, limit: Limit, stale_after_s: float) -> None:
        self.limit = limit
        self.stale_after_s = stale_after_s
        self.sign = 1.0 if limit.allow is Allow.BELOW else -1.0
        self._screen = Screen(limit)
        self._edges = _Edges(limit.curve)

    def judge(self, stack: PassStack) -> dict[int, list[Exceedance]]:
        """Give the records of the passes that have any, by the pass's number, each in time order.

        Records are those of the judge of single samples, to the last bit.
        """
        column = stack.column(self.limit.basis, self.limit.quantity)
        if column is None:
            return {}
        records: dict[int, list[Exceedance]] = {}
        for blocks in _by_passes(column, self._screen.suspects(column)):
            records |= self._judged(column, blocks)
        return records

    def _judged(self, column: StackColumn, blocks: Indices) -> dict[int, list[Exceedance]]:
        """Judge the passes that some suspect blocks lie in."""
        suspects = self._screen.beyond(column, blocks)
        onsets = self._onsets(column, suspects) if len(suspects) else suspects
        if not len(onsets):
            return {}
        numbers = column.stack.pass_at(onsets)
        first = np.concatenate((_FIRST, np.flatnonzero(numbers[1:] > numbers[:-1]) + 1))
        return _Walk(self, column, numbers[first], onsets[first]).records()

    def compare(self, column: StackColumn, rows: slice | Indices) -> tuple[Floats, Floats, Flags]:
        """Give mirrored values and limits of rows, and whether the curve reaches each."""
        edges, covered = self._edges.at(column.ranges_m[rows])
        return self.sign * column.values[rows], self.sign * edges, covered

    def least_margins(self, stack: PassStack) -> tuple[Floats, Indices]:
        """Give the least margin of each pass and the row where it was.

        Returns
        -------
        margins : ndarray, shape (passes,)
            Unit of the quantity, positive inside; NaN where nothing was judged within the curve.
        rows : ndarray of int, shape (passes,)
            The earliest of equals; -1 where there is none.

        Notes
        -----
        Only blocks of samples whose bound lies below the best found in the pass's most suspect
        block are compared; the answer is that of comparing every sample.
        """
        margins, rows = np.full(len(stack), np.inf), np.full(len(stack), -1, dtype=np.intp)
        column = stack.column(self.limit.basis, self.limit.quantity)
        if column is not None:
            bounds = self._screen.room(column)
            bounds[np.isnan(bounds)] = np.inf
            of_pass = stack.pass_at(column.blocks.starts)
            best = np.full(len(stack), np.inf)
            np.minimum.at(best, of_pass, bounds)
            self._take_least(column, np.flatnonzero(bounds <= best[of_pass]), margins, rows)
            self._take_least(column, np.flatnonzero(bounds <= margins[of_pass]), margins, rows)
        margins[rows < 0] = np.nan
        return margins, rows

    def _take_least(
        self, column: StackColumn, chosen: Indices, margins: Floats, least_rows: Indices
    ) -> None:
        """Lower the margins of passes to the least in chosen blocks."""
        rows = column.blocks.rows(chosen)
        if column.known is not None:
            rows = rows[column.known[rows]]
        x, edge, covered = self.compare(column, rows)
        rows, margin = rows[covered], (edge - x)[covered]
        if not len(rows):
            return
        of_pass = column.stack.pass_at(rows)
        numbers, first = np.unique(of_pass, return_index=True)
        least = np.minimum.reduceat(margin, first)
        places = np.flatnonzero(margin == np.repeat(least, np.diff(np.append(first, len(rows)))))
        at_pass, at = np.unique(of_pass[places], return_index=True)
        margins[numbers] = least
        least_rows[at_pass] = rows[places[at]]

    def _onsets(self, column: StackColumn, suspects: Indices) -> Indices:
        """Give the rows at which violations begin that last for the on-delay."""
        x, edge, covered = self.compare(column, suspects)
        violating = is_violating(x, edge) & covered
        if column.known is not None:
            violating &= column.known[suspects]
        rows = suspects[violating]
        if not len(rows):
            return rows
        first, last = self.runs(column, rows)
        t = column.stack.t
        begins = rows[first]
        return begins[has_lasted(t[rows[last]] - t[begins], self.limit.on_delay_s)]

    def runs(self, column: StackColumn, rows: Indices) -> tuple[Indices, Indices]:
        """Give first and last place of each run of judged rows that no timer restart breaks."""
        stack, rank = column.stack, column.rank
        before, after = rows[:-1], rows[1:]
        joined = (after - before if rank is None else rank[after] - rank[before]) == 1
        joined &= ~is_longer(stack.t[after] - stack.t[before], self.stale_after_s)
        if stack.changes is not None:
            joined &= stack.changes[after] == stack.changes[before]
        apart = np.flatnonzero(~joined)
        return np.concatenate((_FIRST, apart + 1)), np.concatenate((apart, (len(rows) - 1,)))


class _Edges:
    """A curve, ready to be evaluated at many ranges by its own formula."""

    def __init__(self, curve: Curve) -> None:
        pieces = curve.pieces()
        self._parts = np.array([(p.low, p.rise, p.r0, p.span) for p in pieces]).T.copy()
        self._inner_m = np.array(curve.ranges_m[1:-1])
        self._first_m, self._last_m = curve.ranges_m[0], curve.ranges_m[-1]

    def at(self, ranges_m: Floats) -> tuple[Floats, Flags]:
        """Give the limit at each range, and whether the curve reaches it."""
        covered = (ranges_m >= self._first_m) & (ranges_m <= self._last_m)
        within_m = ranges_m if covered.all() else np.where(covered, ranges_m, self._first_m)
        low, rise, r0, span = self._parts[:, np.searchsorted(self._inner_m, within_m, "right")]
        return interpolate(low, rise, r0, span, within_m), covered


class _Walk:
    """One limit over the rest of some passes from an onset each, from comparisons to records.

    Rows of all these passes stand end to end; places are counted in them.
    """

    def __init__(
        self, judge: LimitJudge, column: StackColumn, numbers: Indices, onsets: Indices
    ) -> None:
        self._judge, self._column, self._limit = judge, column, judge.limit
        self._numbers = numbers.tolist()
        rows, self._bounds = column.rest(onsets, column.stack.starts[numbers + 1])
        self._rows = np.arange(rows.start, rows.stop) if isinstance(rows, slice) else rows
        self._t = column.stack.t[rows]
        self._x, self._edge, self._covered = judge.compare(column, rows)

    def records(self) -> dict[int, list[Exceedance]]:
        """Go through each pass from raising to clearing to raising."""
        limit, x, edge, covered = self._limit, self._x, self._edge, self._covered
        raising = self._lasting(is_violating(x, edge) & covered, limit.on_delay_s)
        clearing = self._lasting(
            is_clearing(x, edge, limit.deadband) | ~covered, limit.off_delay_s
        )
        return {
            number: self._of_pass(begin, end, raising, clearing)
            for number, (begin, end) in zip(self._numbers, pairwise(self._bounds), strict=True)
        }

    def _of_pass(self, begin: int, end: int, raising: _Runs, clearing: _Runs) -> list[Exceedance]:
        limit = self._limit
        records: list[Exceedance] = []
        while (run := _next(raising, begin, end)) is not None:
            onset, raised = run[0], self._reached(run, limit.on_delay_s)
            run = _next(clearing, raised, end)
            cleared = None if run is None else self._reached(run, limit.off_delay_s)
            records.append(self._record(len(records) + 1, onset, raised, cleared, end))
            if cleared is None:
                break
            begin = cleared
        return records

    def _lasting(self, flags: Flags, delay_s: float) -> _Runs:
        """Give the runs that last for a delay."""
        (places,) = flags.nonzero()
        if not len(places):
            return [], []
        first, last = self._judge.runs(self._column, self._rows[places])
        begins, ends = places[first], places[last]
        enough = has_lasted(self._t[ends] - self._t[begins], delay_s)
        return begins[enough].tolist(), ends[enough].tolist()

    def _reached(self, run: tuple[int, int], delay_s: float) -> int:
        """Give where a lasting run reaches a delay."""
        first, last = run
        elapsed_s = self._t[first : last + 1] - self._t[first]
        return first + int(has_lasted(elapsed_s, delay_s).argmax())

    def _record(
        self, number: int, onset: int, raised: int, cleared: int | None, end: int
    ) -> Exceedance:
        limit, sign = self._limit, self._judge.sign
        newest = end - 1 if cleared is None else cleared
        span = slice(onset, newest + 1)
        excess = self._x[span] - self._edge[span]
        covered = self._covered[span]
        peak = onset + int(
            (excess if covered.all() else np.where(covered, excess, -np.inf)).argmax()
        )
        return Exceedance(
            key=f"{limit.id}#{number}",
            id=limit.id,
            level=limit.level,
            onset=float(self._t[onset]),
            raised=float(self._t[raised]),
            quantity=limit.quantity,
            action=limit.action,
            cleared=None if cleared is None else float(self._t[cleared]),
            value=sign * float(self._x[newest]),
            limit=sign * float(self._edge[newest]) if self._covered[newest] else None,
            peak=sign * float(self._x[peak]),
            peak_limit=sign * float(self._edge[peak]),
            peak_t=float(self._t[peak]),
        )


def _by_passes(column: StackColumn, blocks: Indices) -> Iterator[Indices]:
    """Part blocks so that each part holds some passes whole: few enough to stay in the cache."""
    if len(column.stack) <= TOGETHER or not len(blocks):
        if len(blocks):
            yield blocks
        return
    numbers = column.stack.pass_at(column.blocks.starts[blocks])
    rank = np.cumsum(np.append(False, numbers[1:] > numbers[:-1])) // TOGETHER
    yield from np.split(blocks, np.flatnonzero(rank[1:] > rank[:-1]) + 1)


def _next(runs: _Runs, begin: int, end: int) -> tuple[int, int] | None:
    """Give the first run that starts at or after a place, before another."""
    at = bisect_left(runs[0], begin)
    return (runs[0][at], runs[1][at]) if at < len(runs[0]) and runs[0][at] < end else None
