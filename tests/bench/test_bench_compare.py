"""Before and after, counted by hand on a handful of made-up passes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from console.app.input_file import load_limits
from console.bench.compare import Comparison, compare, most_within
from console.bench.labels import Label, Mark
from console.bench.pass_set import PassSet
from console.bench.ready_pass import DataAlarm, ReadyPass
from console.bench.rejudge import Rejudge
from console.core.ids import LimitId
from console.envelope.limits import Allow, Basis, Curve, Level, Limit, LimitsFile
from console.envelope.quantity import Quantity
from console.judging.columns import PassColumns
from tests.fakes.changed import replace

T0 = 1_932_100_000.0
GOOD = Label(Mark.GOOD, "MK", "quiet")
BAD = Label(Mark.BAD, "MK", "hit")


def fault(after_s: float) -> Label:
    """Give a known fault that began so long after the start."""
    return Label(Mark.KNOWN_FAULT, "MK", "thruster", T0 + after_s)


def limit_at(value: float, level: Level = Level.WARNING, name: str = "roll-high") -> Limit:
    """Give a level limit on measured roll, without delays."""
    return Limit(
        LimitId(name), Quantity.ROLL, Basis.MEASURED, level, Allow.BELOW,
        Curve((0.0, 200.0), (value, value)), 0.0, 0.0, 0.0,
    )  # fmt: skip


def limits_of(*limits: Limit) -> LimitsFile:
    """Give a file with these limits."""
    return replace(load_limits(None), limits=limits)


def pass_of(values: list[float], step_s: float = 1.0, alarms: tuple = ()) -> ReadyPass:
    """Make a pass of a sample a second, closing 0.1 m each, with these rolls."""
    n = len(values)
    t = T0 + step_s * np.arange(n)
    range_m = 20.0 - 0.1 * np.arange(n)
    none = np.zeros(n, dtype=np.bool_)
    columns = PassColumns(t, range_m, range_m, {Quantity.ROLL: np.array(values)}, {}, none)
    return ReadyPass(Path("x.csv"), "x.csv", columns, data_alarms=alarms)


#        second: 0  1  2  3  4  5  6  7
PASSES = (
    pass_of([1, 1, 1, 1, 1, 1, 1, 1]),  # quiet under both
    pass_of([1, 3, 1, 1, 3, 1, 1, 1]),  # two short ones, under the tighter limit only
    pass_of([1, 5, 5, 1, 1, 3, 3, 1]),  # one under both, one under the tighter only
    pass_of([1, 1, 3, 1, 1, 1, 5, 1]),  # a fault from second 5; before it a small one
    pass_of([1, 1, 1, 3, 3, 1, 1, 1]),  # a fault from second 2, only the tighter limit tells
    pass_of([1, 1, 3, 1, 1, 1, 1, 1]),  # a fault from second 4 that nothing tells
)
LABELS = (GOOD, GOOD, GOOD, fault(5.0), fault(2.0), fault(4.0))


def compared(level: Level = Level.WARNING, only: str | None = None) -> Comparison:
    """Tighten the limit from 4 to 2 deg."""
    before, after = limits_of(limit_at(4.0)), limits_of(limit_at(2.0))
    rejudge = Rejudge(PassSet.of(PASSES, before))
    return compare(rejudge.judge(before), rejudge.judge(after), PASSES, LABELS, level, only)


def test_counts_over_all_passes_are_those_counted_by_hand() -> None:
    """Passes with a warning, nuisance of the good, missed of the faulty, delays, alarms."""
    found = compared()
    # limit 4: passes 2 and 3 are warned of; limit 2: all but the first
    assert [(s.before.raised, s.after.raised) for s in found.passes] == [
        (0, 0), (0, 2), (1, 2), (1, 2), (0, 1), (0, 1),
    ]  # fmt: skip
    assert (found.before.warned.count, found.before.warned.of) == (2, 6)
    assert (found.after.warned.count, found.after.warned.of) == (5, 6)
    assert (found.before.nuisance.count, found.before.nuisance.of) == (1, 3)
    assert (found.after.nuisance.count, found.after.nuisance.of) == (2, 3)
    # limit 4 tells of the first fault only; limit 2 of the first two, the third only before it
    assert (found.before.missed.count, found.before.missed.of) == (2, 3)
    assert (found.after.missed.count, found.after.missed.of) == (1, 3)
    assert found.before.delays_s == (1.0,)
    assert found.after.delays_s == (1.0, 1.0)
    assert found.after.median_delay_s == 1.0
    assert (found.before.alarms_10_min, found.after.alarms_10_min) == (1, 2)


def test_gained_and_lost_are_those_without_a_counterpart() -> None:
    """What merely begins earlier or lasts longer is neither; the way back swaps the two."""
    found = compared()
    assert [(c.gained, c.lost) for c in found.passes] == [
        (0, 0), (2, 0), (1, 0), (1, 0), (1, 0), (1, 0),
    ]  # fmt: skip
    assert (found.gained, found.lost) == (6, 0)
    assert [c.changes for c in found.passes] == [False, True, True, True, True, True]
    before, after = limits_of(limit_at(2.0)), limits_of(limit_at(4.0))
    rejudge = Rejudge(PassSet.of(PASSES, before))
    back = compare(rejudge.judge(before), rejudge.judge(after), PASSES, LABELS)
    assert (back.gained, back.lost) == (0, 6)


def test_a_warning_before_a_fault_began_does_not_tell_of_it() -> None:
    """The sixth pass is warned of, and missed all the same."""
    last = compared().passes[5].after
    assert (last.raised, last.delay_s, last.is_missed) == (1, None, True)


def test_bounds_are_wilson_s() -> None:
    """1 of 3 and none at all; both from published formula values, wilson(1, 3) by hand."""
    nuisance = compared().before.nuisance
    # Wilson, JASA 22 (1927), z = 1.959964: worked out with decimal arithmetic for 1 of 3
    assert nuisance.bounds == pytest.approx((0.0615, 0.7923), abs=5e-5)
    assert nuisance.share == pytest.approx(1 / 3)


def test_without_labels_nothing_is_nuisance_or_missed() -> None:
    """What nobody said is not guessed; shares of no pass are unknown."""
    file = limits_of(limit_at(2.0))
    judged = Rejudge(PassSet.of(PASSES, file)).judge(file)
    found = compare(judged, judged, PASSES, [None] * len(PASSES)).after
    assert (found.nuisance.count, found.nuisance.of, found.nuisance.share) == (0, 0, None)
    assert (found.missed.of, found.median_delay_s) == (0, None)


def test_a_bad_pass_is_missed_only_where_nothing_is_said() -> None:
    """Without a time of a fault any warning counts, and no delay is told."""
    file = limits_of(limit_at(4.0))
    judged = Rejudge(PassSet.of(PASSES, file)).judge(file)
    found = compare(judged, judged, PASSES, [BAD] * len(PASSES)).after
    assert (found.missed.count, found.missed.of, found.delays_s) == (4, 6, ())


def test_the_level_looked_at_decides_what_counts() -> None:
    """Cautions count from the level of caution on; one limit alone can be counted."""
    file = limits_of(limit_at(4.0), limit_at(2.0, Level.CAUTION, "roll-caution"))
    judged = Rejudge(PassSet.of(PASSES, file)).judge(file)

    def warned(level: Level, only: str | None = None) -> int:
        return compare(judged, judged, PASSES, LABELS, level, only).after.warned.count

    assert warned(Level.WARNING) == 2
    assert warned(Level.CAUTION) == 5
    assert warned(Level.CAUTION, "roll-high") == 2
    assert warned(Level.WARNING, "roll-caution") == 0
    # alarms of every level and of the data count for the worst ten minutes
    alarms = (DataAlarm("data:stale", "caution", T0), DataAlarm("data:stale", "warning", T0 + 4))
    loud = [replace(one, data_alarms=alarms) for one in PASSES]
    most = compare(judged, judged, loud, LABELS).after
    assert most.alarms_10_min == 5  # pass 3: cautions at 1 and 5, a warning at 1, data twice


def test_most_within_counts_a_window_open_at_its_beginning() -> None:
    """The published chatter example, and a raising on the boundary."""
    assert most_within([0.0, 20.0, 40.0, 130.0, 300.0], 60.0) == 3
    assert most_within([0.0, 30.0, 60.0], 60.0) == 2
    assert most_within([], 60.0) == 0
