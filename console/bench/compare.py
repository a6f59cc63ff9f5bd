"""Before and after: what another limits file would have said on every pass.

What is counted follows from the level looked at. For a limit that warns, only warnings count; for
one that cautions, cautions and warnings do. A pass is a nuisance if it is marked good and
something counted was raised in it; it is missed if it is marked bad and nothing was. Of a known
fault with a time, what was raised before that time says nothing about it: it is missed unless
something was raised at that time or later, and the delay is counted to the first of those.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import zip_longest
from statistics import median

from console.bench.alarm_figures import PERIOD_S
from console.bench.labels import Label, Mark
from console.bench.proportion import Interval, wilson
from console.bench.ready_pass import ReadyPass
from console.bench.rejudge import Judged
from console.envelope.limits import Level
from console.judging.exceedance import Exceedance


@dataclass(frozen=True, slots=True)
class Share:
    """How many passes of how many, with Wilson's 95 % bounds."""

    count: int
    of: int

    @property
    def share(self) -> float | None:
        """The share itself, None where there is no pass to count."""
        return self.count / self.of if self.of else None

    @property
    def bounds(self) -> Interval:
        """Bounds of the share that these passes speak of."""
        return wilson(self.count, self.of)


@dataclass(frozen=True, slots=True)
class Side:
    """What one limits file says of one pass.

    Attributes
    ----------
    raised : int
        Exceedances counted.
    first : Exceedance or None
        The first of them; where a fault's time is known, the first raised from then on.
    delay_s : float or None
        From a known fault to the first counted raised at or after it.
    is_nuisance, is_missed : bool
    alarms_10_min : int
        Most alarms within any ten minutes: cautions and warnings of every limit and of the data.
    """

    raised: int
    first: Exceedance | None
    delay_s: float | None
    is_nuisance: bool
    is_missed: bool
    alarms_10_min: int


@dataclass(frozen=True, slots=True)
class PassChange:
    """One pass before and after.

    Attributes
    ----------
    number : int
        In the set.
    gained, lost : int
        Counted exceedances that have no counterpart on the other side: none of the same limit
        that stood at the same time.
    """

    number: int
    before: Side
    after: Side
    gained: int
    lost: int

    @property
    def changes(self) -> bool:
        """Whether the two files say different things of it."""
        return bool(self.gained or self.lost or self.before.raised != self.after.raised)


@dataclass(frozen=True, slots=True)
class Tally:
    """What one limits file says of all passes.

    Attributes
    ----------
    warned : Share
        Passes in which something counted was raised, of all.
    nuisance : Share
        Of the passes marked good.
    missed : Share
        Of the passes marked bad or known fault.
    delays_s : tuple of float
        Of the known faults that were told, ascending.
    alarms_10_min : int
        Most in any pass.
    """

    warned: Share
    nuisance: Share
    missed: Share
    delays_s: tuple[float, ...]
    alarms_10_min: int

    @property
    def median_delay_s(self) -> float | None:
        """Median of the delays, None without any."""
        return median(self.delays_s) if self.delays_s else None


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two limits files over the same passes."""

    level: Level
    passes: tuple[PassChange, ...]
    before: Tally
    after: Tally

    @property
    def gained(self) -> int:
        """Counted exceedances only the second file raises."""
        return sum(change.gained for change in self.passes)

    @property
    def lost(self) -> int:
        """Counted exceedances only the first file raises."""
        return sum(change.lost for change in self.passes)


class Comparer:
    """Holds other limits files against one, over the same passes.

    What the first file says is worked out once; of another file only the passes are looked at in
    which a limit that differs raised anything on either side.

    Parameters
    ----------
    before : Judged
        Of the set.
    passes, labels : sequence
        The set's passes, and what is known of each.
    level : Level
        The least level that counts.
    only : str, optional
        Count this limit alone.
    """

    def __init__(
        self,
        before: Judged,
        passes: Sequence[ReadyPass],
        labels: Sequence[Label | None],
        level: Level = Level.WARNING,
        only: str | None = None,
    ) -> None:
        self._before = before
        self._passes = passes
        self._labels = tuple(labels)
        self._level = level
        self._only = only
        self._sides = [self._side_of(before, one, n) for n, one in enumerate(passes)]
        self._same = [
            PassChange(number, side, side, 0, 0) for number, side in enumerate(self._sides)
        ]
        self._tally = tally(self._sides, self._labels)

    def against(self, after: Judged, passes: Sequence[ReadyPass] | None = None) -> Comparison:
        """Compare with another file.

        Parameters
        ----------
        after : Judged
            Of the same passes, in the same order.
        passes : sequence of ReadyPass, optional
            As made ready under the other file's rules, where those differ.
        """
        changes = self._same.copy()
        touched = self._touched(after) if passes is None else range(len(changes))
        for number in touched:
            changes[number] = self._change(after, number, passes or self._passes)
        sides = [change.after for change in changes]
        tally_after = tally(sides, self._labels) if touched else self._tally
        return Comparison(self._level, tuple(changes), self._tally, tally_after)

    def _touched(self, after: Judged) -> Sequence[int]:
        """Give the passes in which a limit that differs raised anything on either side."""
        pairs = list(zip_longest(self._before.runs, after.runs))
        differing = [run for pair in pairs if pair[0] is not pair[1] for run in pair]
        return sorted({number for run in differing if run is not None for number in run.records})

    def _change(self, after: Judged, number: int, passes: Sequence[ReadyPass]) -> PassChange:
        was, becomes = self._counted(self._before, number), self._counted(after, number)
        return PassChange(
            number,
            self._sides[number],
            self._side_of(after, passes[number], number),
            _unmatched(becomes, was),
            _unmatched(was, becomes),
        )

    def _side_of(self, judged: Judged, one: ReadyPass, number: int) -> Side:
        alarms = most_within(_alarm_times(judged, one, number))
        return _side(self._counted(judged, number), self._labels[number], alarms)

    def _counted(self, judged: Judged, number: int) -> list[Exceedance]:
        """Give what counts of a pass, in order of raising."""
        found = [
            record
            for run in judged.runs
            if run.limit.level >= self._level and self._only in (None, run.limit.id)
            for record in run.of(number)
        ]
        found.sort(key=lambda e: (e.raised, e.id))
        return found


def compare(
    before: Judged,
    after: Judged,
    passes: Sequence[ReadyPass],
    labels: Sequence[Label | None],
    level: Level = Level.WARNING,
    only: str | None = None,
) -> Comparison:
    """Hold two limits files against each other; parameters as for :class:`Comparer`."""
    return Comparer(before, passes, labels, level, only).against(after)


def tally(sides: Sequence[Side], labels: Sequence[Label | None]) -> Tally:
    """Count one limits file's sides over the passes."""
    good = sum(label is not None and label.mark is Mark.GOOD for label in labels)
    marked = sum(label is not None for label in labels)
    return Tally(
        Share(sum(side.raised > 0 for side in sides), len(sides)),
        Share(sum(side.is_nuisance for side in sides), good),
        Share(sum(side.is_missed for side in sides), marked - good),
        tuple(sorted(side.delay_s for side in sides if side.delay_s is not None)),
        max((side.alarms_10_min for side in sides), default=0),
    )


def most_within(times: Sequence[float], period_s: float = PERIOD_S) -> int:
    """Give the most times within any period, its beginning left out and its end counted.

    Parameters
    ----------
    times : sequence of float
        Ascending, s.
    """
    return max(
        (place + 1 - bisect_right(times, t - period_s) for place, t in enumerate(times)), default=0
    )


def _alarm_times(judged: Judged, one: ReadyPass, number: int) -> list[float]:
    """Give when cautions and warnings of every limit and of the data were raised in a pass."""
    times = [alarm.raised for alarm in one.data_alarms]
    for run in judged.runs:
        times += [record.raised for record in run.of(number)]
    times.sort()
    return times


def _side(records: Sequence[Exceedance], label: Label | None, alarms: int) -> Side:
    first = records[0] if records else None
    if label is None:
        return Side(len(records), first, None, False, False, alarms)
    if label.mark is Mark.GOOD:
        return Side(len(records), first, None, bool(records), False, alarms)
    if label.fault_t is None:
        return Side(len(records), first, None, False, not records, alarms)
    fault_t = label.fault_t
    told = next((record for record in records if record.raised >= fault_t), None)
    delay_s = None if told is None else told.raised - fault_t
    return Side(len(records), told or first, delay_s, False, told is None, alarms)


def _unmatched(mine: Sequence[Exceedance], others: Sequence[Exceedance]) -> int:
    """Count the records that no record of the same limit overlaps in time."""
    return sum(not any(_overlap(record, other) for other in others) for record in mine)


def _overlap(a: Exceedance, b: Exceedance) -> bool:
    if a.id != b.id:
        return False
    a_ends = a.cleared is None or a.cleared >= b.onset
    b_ends = b.cleared is None or b.cleared >= a.onset
    return a_ends and b_ends
