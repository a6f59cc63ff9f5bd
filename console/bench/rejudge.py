"""A set of passes judged again and again: only what changed is judged."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from console.bench.pass_set import PassSet
from console.bench.ready_pass import rules_of
from console.core.errors import UsageError
from console.envelope.limits import Limit, LimitsFile
from console.judging.columns import Floats
from console.judging.exceedance import Exceedance
from console.judging.stack import PassStack
from console.judging.whole_pass import LimitJudge

RUNS_KEPT = 400
"""Limits whose results are kept: a long dragging's, so that undoing it costs nothing."""


@dataclass(frozen=True)
class LimitRun:
    """One limit judged over every pass of a set.

    Attributes
    ----------
    limit : Limit
    records : mapping of int to tuple of Exceedance
        By the pass's number in the set, in order of time; passes without one are left out.
        Exactly those of the judge of single samples; only to be read.
    """

    limit: Limit
    records: Mapping[int, tuple[Exceedance, ...]]
    _stack: PassStack
    _judge: LimitJudge

    def of(self, number: int) -> tuple[Exceedance, ...]:
        """Give a pass's records."""
        return self.records.get(number, ())

    @cached_property
    def margins(self) -> tuple[Floats, Floats]:
        """Give each pass's least margin to this limit, and the range where it was, m.

        Both of shape (passes,), positive inside; NaN where nothing was judged within the curve.
        """
        margins, rows = self._judge.least_margins(self._stack)
        ranges_m = np.full(len(rows), np.nan)
        column = self._stack.column(self.limit.basis, self.limit.quantity)
        if column is not None:
            ranges_m[rows >= 0] = column.ranges_m[rows[rows >= 0]]
        return margins, ranges_m


@dataclass(frozen=True)
class Judged:
    """A limits file judged over every pass of a set; the runs stand in the file's order."""

    limits: LimitsFile
    runs: tuple[LimitRun, ...]

    def of(self, number: int) -> list[Exceedance]:
        """Give a pass's records in order of onset, then id."""
        records = [record for run in self.runs for record in run.of(number)]
        return sorted(records, key=lambda record: (record.onset, record.id))

    def run(self, limit_id: str) -> LimitRun | None:
        """Give a limit's run by its id."""
        return next((run for run in self.runs if run.limit.id == limit_id), None)


class Rejudge:
    """Judges limits over a set of passes and keeps what it found.

    Parameters
    ----------
    passes : PassSet
        Loaded once.
    kept : int
        Limits whose results are kept at most, those used last.
    """

    def __init__(self, passes: PassSet, kept: int = RUNS_KEPT) -> None:
        self.passes = passes
        self._kept = kept
        self._runs: OrderedDict[Limit, LimitRun] = OrderedDict()
        self.judged = 0
        """Limits judged so far, not counting what was still known."""

    def run(self, limit: Limit) -> LimitRun:
        """Judge a limit over every pass, or give what is known of it."""
        run = self._runs.get(limit)
        if run is None:
            judge = LimitJudge(limit, self.passes.stale_after_s)
            found = judge.judge(self.passes.stack)
            records = {number: tuple(mine) for number, mine in found.items() if mine}
            run = self._runs[limit] = LimitRun(limit, records, self.passes.stack, judge)
            self.judged += 1
            if len(self._runs) > self._kept:
                self._runs.popitem(last=False)
        else:
            self._runs.move_to_end(limit)
        return run

    def judge(self, limits: LimitsFile) -> Judged:
        """Judge a limits file over every pass.

        Raises
        ------
        UsageError
            Its other rules are not those the passes were made ready under: load them anew.
        """
        if rules_of(limits) != self.passes.rules:
            raise UsageError("the passes were made ready under other rules: load them again")
        return Judged(limits, tuple(self.run(limit) for limit in limits.limits))
