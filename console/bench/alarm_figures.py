"""Alarm figures of a limits file over passes, each held against its published target.

Definitions and targets are those of alarm management in the process industries (IEC 62682,
ANSI/ISA-18.2, EEMUA 191). A pass is far shorter than the month these standards look at, so passes
are pooled: periods of ten minutes are counted from each pass's beginning, the last one as it is,
and what they call stale (longer than a day) is here longer than a share of the pass. The standards
leave the numbers behind chattering and fleeting to the site: they are parameters and are printed.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, NamedTuple

from console.bench.pass_set import PassSet
from console.bench.rejudge import Judged
from console.envelope.limits import Level

PERIOD_S: Final = 600.0
"""Alarms are counted over ten minutes, the period of the alarm-management standards."""
FLOOD_ABOVE: Final = 10
FLOOD_ENDS_BELOW: Final = 5
CHATTER_COUNT: Final = 3
CHATTER_S: Final = 60.0


class Alarm(NamedTuple):
    """One raising: what, how bad, from when until when (None: to the end), s."""

    id: str
    level: Level
    raised: float
    cleared: float | None


@dataclass(frozen=True, slots=True)
class PassAlarms:
    """The alarms of one pass, in order of raising, and the time it spans."""

    name: str
    begin: float
    end: float
    alarms: tuple[Alarm, ...]


@dataclass(frozen=True, slots=True)
class AlarmRules:
    """What the standards leave open.

    Attributes
    ----------
    fleeting_s, apart_s : float
        Fleeting: cleared within the first, and not raised again within the second.
    stale_share : float
        Stale: stands longer than this share of its pass.
    """

    fleeting_s: float = 10.0
    apart_s: float = 60.0
    stale_share: float = 0.5


class Flood(NamedTuple):
    """A flood: first and last period, counted from 0, alarms in it, most in one period."""

    first: int
    last: int
    alarms: int
    peak: int


@dataclass(frozen=True, slots=True)
class LimitAlarms:
    """The alarms of one limit over all passes.

    Attributes
    ----------
    count, passes : int
        Raisings, and passes with one.
    share : float
        Of all raisings.
    chattering : int
        Raisings that were the third or a later one within a minute.
    chatter_index : float
        Mean of one over the seconds between successive raisings, 1/s: 0.05 is three a minute.
    fleeting, stale : int
    """

    id: str
    level: Level
    count: int
    passes: int
    share: float
    chattering: int
    chatter_index: float
    fleeting: int
    stale: int


@dataclass(frozen=True, slots=True)
class AlarmFigures:
    """Alarm figures of one limits file over passes.

    Attributes
    ----------
    minutes : float
        Of all passes together.
    average, peak : float, int
        Alarms in ten minutes: on average, and most in one period.
    busy_share : float
        Of the periods, with more than ten alarms.
    flood_share : float
        Of the periods, in a flood.
    by_level : mapping
        How many of each level.
    limits : tuple of LimitAlarms
        Those with alarms, the worst first.
    """

    passes: int
    minutes: float
    count: int
    average: float
    peak: int
    busy_share: float
    flood_share: float
    by_level: Mapping[Level, int]
    limits: tuple[LimitAlarms, ...]
    rules: AlarmRules = AlarmRules()


def alarms_of(passes: PassSet, judged: Judged) -> tuple[PassAlarms, ...]:
    """Give the alarms a limits file raises in each pass: its own, not those of the data."""
    found = []
    for number, one in enumerate(passes.passes):
        t = one.columns.t
        begin, end = (float(t[0]), float(t[-1])) if len(t) else (0.0, 0.0)
        records = sorted(judged.of(number), key=lambda record: record.raised)
        alarms = tuple(Alarm(r.id, r.level, r.raised, r.cleared) for r in records)
        found.append(PassAlarms(one.name, begin, end, alarms))
    return tuple(found)


def alarm_figures(passes: Sequence[PassAlarms], rules: AlarmRules | None = None) -> AlarmFigures:
    """Work the figures out.

    Parameters
    ----------
    passes : sequence of PassAlarms
        Pooled.
    rules : AlarmRules, optional
        What the standards leave open.
    """
    rules = rules or AlarmRules()
    counts = [period_counts(one) for one in passes]
    periods = sum(len(mine) for mine in counts)
    total = sum(sum(mine) for mine in counts)
    minutes = sum(one.end - one.begin for one in passes) / 60.0
    flooded = sum(f.last - f.first + 1 for mine in counts for f in floods(mine))
    busy = sum(count > FLOOD_ABOVE for mine in counts for count in mine)
    levels = Counter(alarm.level for one in passes for alarm in one.alarms)
    return AlarmFigures(
        passes=len(passes),
        minutes=minutes,
        count=total,
        average=total / minutes * PERIOD_S / 60.0 if minutes else 0.0,
        peak=max((count for mine in counts for count in mine), default=0),
        busy_share=busy / periods if periods else 0.0,
        flood_share=flooded / periods if periods else 0.0,
        by_level={level: levels[level] for level in (Level.CAUTION, Level.WARNING)},
        limits=_by_limit(passes, rules, total),
        rules=rules,
    )


def period_counts(one: PassAlarms, period_s: float = PERIOD_S) -> list[int]:
    """Count the alarms of a pass in fixed periods from its beginning, the last as it is."""
    counts = [0] * max(math.ceil((one.end - one.begin) / period_s), 1)
    for alarm in one.alarms:
        counts[min(int((alarm.raised - one.begin) // period_s), len(counts) - 1)] += 1
    return counts


def floods(counts: Sequence[int]) -> list[Flood]:
    """Find floods: from a period with more than ten alarms to the last before one with under five.

    A flood spans neighbouring periods (ISA-18.2-2016, 16.4, as reported in public summaries).
    """
    found: list[Flood] = []
    begun: int | None = None
    for place, count in enumerate([*counts, 0]):
        if begun is None and count > FLOOD_ABOVE and place < len(counts):
            begun = place
        elif begun is not None and count < FLOOD_ENDS_BELOW:
            mine = counts[begun:place]
            found.append(Flood(begun, place - 1, sum(mine), max(mine)))
            begun = None
    return found


def chattering(raised: Sequence[float]) -> int:
    """Count raisings that were the third or a later one in the minute before, its end counted.

    Parameters
    ----------
    raised : sequence of float
        Times of one limit's raisings in one pass, ascending, s. The window is (t - 60 s, t].
    """
    return sum(
        sum(t - CHATTER_S < other <= t for other in raised) >= CHATTER_COUNT for t in raised
    )


def chatter_index(raised: Sequence[float]) -> float:
    """Give the mean of one over the run lengths between raisings, 1/s; 0 under two raisings.

    Notes
    -----
    psi = sum_r P_r / r (Kondaveeti, Izadi, Shah, Black, Chen, "Quantification of alarm
    chatter based on run length distributions", 2013; from memory); 0.05 is three a minute.
    """
    return _mean_inverse([later - earlier for earlier, later in pairwise(raised)])


def _mean_inverse(runs_s: Sequence[float]) -> float:
    known = [run for run in runs_s if run > 0.0]
    return sum(1.0 / run for run in known) / len(known) if known else 0.0


def is_fleeting(alarm: Alarm, next_raised: float | None, rules: AlarmRules) -> bool:
    """Tell whether an alarm clears within seconds and does not come back at once."""
    if alarm.cleared is None or alarm.cleared - alarm.raised > rules.fleeting_s:
        return False
    return next_raised is None or next_raised - alarm.cleared > rules.apart_s


def is_stale(alarm: Alarm, end: float, longest_s: float) -> bool:
    """Tell whether an alarm stands longer than it should; exactly as long is not."""
    return (end if alarm.cleared is None else alarm.cleared) - alarm.raised > longest_s


def _by_limit(
    passes: Sequence[PassAlarms], rules: AlarmRules, total: int
) -> tuple[LimitAlarms, ...]:
    ids = {alarm.id: alarm.level for one in passes for alarm in one.alarms}
    found = [_of_limit(name, level, passes, rules, total) for name, level in ids.items()]
    return tuple(sorted(found, key=lambda one: (-one.count, one.id)))


def _of_limit(
    name: str, level: Level, passes: Sequence[PassAlarms], rules: AlarmRules, total: int
) -> LimitAlarms:
    count = with_one = chatter = fleeting = stale = 0
    runs_s: list[float] = []
    for one in passes:
        mine = [alarm for alarm in one.alarms if alarm.id == name]
        raised = [alarm.raised for alarm in mine]
        following = [*raised[1:], None]
        count += len(mine)
        with_one += bool(mine)
        chatter += chattering(raised)
        runs_s += [later - earlier for earlier, later in pairwise(raised)]
        fleeting += sum(
            is_fleeting(alarm, then, rules) for alarm, then in zip(mine, following, strict=False)
        )
        longest_s = rules.stale_share * (one.end - one.begin)
        stale += sum(is_stale(alarm, one.end, longest_s) for alarm in mine)
    share = count / total if total else 0.0
    index = _mean_inverse(runs_s)
    return LimitAlarms(name, level, count, with_one, share, chatter, index, fleeting, stale)
