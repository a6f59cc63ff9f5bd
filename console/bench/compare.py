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
from statistics import median

from console.bench.labels import Label, Mark
from console.bench.proportion import Interval, wilson
from console.bench.ready_pass import ReadyPass
from console.bench.rejudge import Judged
from console.envelope.limits import Level
from console.judging.exceedance import Exceedance

PERIOD_S = 600.0
"""Alarms are counted over ten minutes, the period of the alarm-management standards."""


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


def compare(
    before: Judged,
    after: Judged,
    passes: Sequence[ReadyPass],
    labels: Sequence[Label | None],
    level: Level = Level.WARNING,
    only: str | None = None,
) -> Comparison:
    """Hold two limits files against each other over the same passes.

    Parameters
    ----------
    before, after : Judged
        Of the same set.
    passes, labels : sequence
        The set's passes, and what is known of each.
    level : Level
        The least level that counts.
    only : str, optional
        Count this limit alone.
    """
    counted_before = _counted(before, level, only)
    counted_after = counted_before if after is before else _counted(after, level, only)
    alarms_before = _alarms(before, passes)
    alarms_after = alarms_before if after is before else _alarms(after, passes)
    changes = []
    for number, label in enumerate(labels):
        was, becomes = counted_before.get(number, ()), counted_after.get(number, ())
        same = was == becomes
        changes.append(
            PassChange(
                number,
                _side(was, label, alarms_before[number]),
                _side(becomes, label, alarms_after[number]),
                0 if same else _unmatched(becomes, was),
                0 if same else _unmatched(was, becomes),
            )
        )
    sides_before = [change.before for change in changes]
    sides_after = [change.after for change in changes]
    return Comparison(
        level, tuple(changes), tally(sides_before, labels), tally(sides_after, labels)
    )


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


def _counted(judged: Judged, level: Level, only: str | None) -> dict[int, tuple[Exceedance, ...]]:
    """Give what counts, by pass, in order of raising."""
    found: dict[int, list[Exceedance]] = {}
    for run in judged.runs:
        if run.limit.level < level or (only is not None and run.limit.id != only):
            continue
        for number, records in run.records.items():
            found.setdefault(number, []).extend(records)
    return {
        number: tuple(sorted(records, key=lambda e: (e.raised, e.id)))
        for number, records in found.items()
    }


def _alarms(judged: Judged, passes: Sequence[ReadyPass]) -> list[int]:
    """Give the most alarms within ten minutes of each pass."""
    times: dict[int, list[float]] = {
        number: [alarm.raised for alarm in one.data_alarms]
        for number, one in enumerate(passes)
        if one.data_alarms
    }
    for run in judged.runs:
        for number, records in run.records.items():
            times.setdefault(number, []).extend(record.raised for record in records)
    most = [0] * len(passes)
    for number, mine in times.items():
        most[number] = most_within(sorted(mine))
    return most


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
