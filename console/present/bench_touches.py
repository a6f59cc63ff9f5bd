"""Where, on the curve's plane, exceedances are gained and lost: the points at their peaks."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from console.bench.pass_set import PassSet
from console.bench.rejudge import LimitRun
from console.envelope.limits import Basis
from console.judging.exceedance import Exceedance
from console.present.bench_curve import MOST_MARKS, Touch
from console.present.bench_port import Answer


def gained_and_lost(
    answer: Answer, passes: PassSet, limit_id: str
) -> tuple[tuple[Touch, ...], tuple[Touch, ...]]:
    """Give the peaks of one limit's exceedances that only the draft, or only the opened file, has.

    An exceedance has a counterpart where the other side's stood at the same time. At most as many
    are given as are drawn.
    """
    before, after = answer.before.run(limit_id), answer.after.run(limit_id)
    if before is None or after is None or before is after:
        return (), ()
    return tuple(_only(after, before, passes)), tuple(_only(before, after, passes))


def _only(mine: LimitRun, other: LimitRun, passes: PassSet) -> Iterator[Touch]:
    given = 0
    for number, records in mine.records.items():
        theirs = other.of(number)
        for record in records:
            if any(_meets(record, one) for one in theirs):
                continue
            touch = _touch(mine, passes, number, record)
            if touch is not None:
                yield touch
                given += 1
            if given >= MOST_MARKS:
                return


def _meets(a: Exceedance, b: Exceedance) -> bool:
    return (a.cleared is None or a.cleared >= b.onset) and (
        b.cleared is None or b.cleared >= a.onset
    )


def _touch(run: LimitRun, passes: PassSet, number: int, record: Exceedance) -> Touch | None:
    columns = passes.passes[number].columns
    if record.peak is None or record.peak_t is None:
        return None
    is_estimated = run.limit.basis is Basis.ESTIMATED
    ranges_m = columns.range_est_m if is_estimated else columns.range_m
    at = min(int(np.searchsorted(columns.t, record.peak_t)), len(ranges_m) - 1)
    return Touch(float(ranges_m[at]), record.peak)
