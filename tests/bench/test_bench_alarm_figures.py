"""Alarm figures: the worked examples, case by case, and each figure beside its target.

The cases are worked by hand from the definitions of IEC 62682 / ISA-18.2 as public summaries give
them; the chatter index is that of Kondaveeti et al. 2013 (from memory).
"""

from __future__ import annotations

import pytest

from console.bench.alarm_figures import (
    Alarm,
    AlarmRules,
    PassAlarms,
    alarm_figures,
    chatter_index,
    chattering,
    floods,
    is_fleeting,
    is_stale,
    period_counts,
)
from console.bench.alarm_targets import figure_lines, held_against_targets
from console.envelope.limits import Level

RULES = AlarmRules()


def alarm(raised: float, cleared: float | None = None, name: str = "a", level=Level.CAUTION):
    """Make an alarm; by default it clears after a minute."""
    return Alarm(name, level, raised, raised + 60.0 if cleared is None else cleared)


def passing(counts: list[int], begin: float = 1000.0) -> PassAlarms:
    """Make a pass with so many alarms in each ten minutes, each of a limit of its own."""
    alarms = [
        alarm(begin + 600.0 * place + 30.0 * n, name=f"{place}-{n}")
        for place, count in enumerate(counts)
        for n in range(count)
    ]
    return PassAlarms("p", begin, begin + 600.0 * len(counts), tuple(alarms))


def test_case_1_rates_periods_and_a_flood() -> None:
    """60 min with 1, 0, 12, 7, 4, 0: 4.0 in 10 min, one period of six too busy, 33 % in flood."""
    one = passing([1, 0, 12, 7, 4, 0])
    figures = alarm_figures([one])
    assert period_counts(one) == [1, 0, 12, 7, 4, 0]
    assert (figures.count, figures.average, figures.peak) == (24, 4.0, 12)
    assert figures.busy_share == pytest.approx(1 / 6)
    assert figures.flood_share == pytest.approx(1 / 3)
    assert floods([1, 0, 12, 7, 4, 0]) == [(2, 3, 19, 12)]


def test_case_2_boundaries_of_a_flood() -> None:
    """10 begins none, 11 does, 5 does not end it, 4 does."""
    assert floods([10, 10, 11, 5, 4]) == [(2, 3, 16, 11)]
    assert floods([11, 11]) == [(0, 1, 22, 11)]
    assert floods([]) == []


def test_case_3_shares_the_worst_first() -> None:
    """12, 6, 4 and 2 of 24: the two worst have three quarters."""
    alarms = [
        alarm(30.0 * n, name=name)
        for name, count in (("C", 4), ("A", 12), ("D", 2), ("B", 6))
        for n in range(count)
    ]
    alarms.sort(key=lambda one: one.raised)
    limits = alarm_figures([PassAlarms("p", 0.0, 3600.0, tuple(alarms))]).limits
    assert [(one.id, one.count) for one in limits] == [("A", 12), ("B", 6), ("C", 4), ("D", 2)]
    assert limits[0].share + limits[1].share == pytest.approx(0.75)


def test_case_4_split_by_level() -> None:
    """22 cautions and 2 warnings: warnings are 8.33 %, more than the 5 % that is published."""
    alarms = [alarm(10.0 * n, name=str(n)) for n in range(22)]
    alarms += [alarm(900.0 + n, name=f"w{n}", level=Level.WARNING) for n in range(2)]
    figures = alarm_figures([PassAlarms("p", 0.0, 3600.0, tuple(alarms))])
    assert figures.by_level == {Level.CAUTION: 22, Level.WARNING: 2}
    held = next(one for one in held_against_targets(figures) if "warnings" in one.what)
    assert (held.value, held.is_met) == ("8.3%", False)


def test_case_5_chattering_by_count() -> None:
    """0, 20, 40, 130, 300: the one at 40 is the third in a minute. 0, 30, 60: none, 0 is out."""
    assert chattering([0, 20, 40, 130, 300]) == 1
    assert chattering([0, 30, 60]) == 0


def test_case_6_chatter_index() -> None:
    """Run lengths 20, 20, 90, 170 give 0.02925; five seconds apart 0.2; twenty 0.05."""
    assert chatter_index([0, 20, 40, 130, 300]) == pytest.approx(0.02925, abs=5e-6)
    assert chatter_index([0, 5, 10, 15]) == pytest.approx(0.2)
    assert chatter_index([0, 20, 40, 60]) == pytest.approx(0.05)
    assert chatter_index([7]) == 0.0


def test_case_7_stale_is_longer_than() -> None:
    """Exactly a day is not stale, a second more is; one that never cleared stands to the end."""
    assert not is_stale(alarm(0.0, 86_400.0), 1e6, 86_400.0)
    assert is_stale(alarm(0.0, 86_401.0), 1e6, 86_400.0)
    assert is_stale(Alarm("a", Level.CAUTION, 0.0, None), 100.0, 99.0)


def test_case_8_fleeting() -> None:
    """On 100, off 104: next at 170 it fleets, next at 150 it repeats; slow to clear is neither."""
    one = alarm(100.0, 104.0)
    assert is_fleeting(one, 170.0, RULES)
    assert is_fleeting(one, None, RULES)
    assert not is_fleeting(one, 150.0, RULES)
    assert not is_fleeting(alarm(100.0, 111.0), None, RULES)
    assert not is_fleeting(Alarm("a", Level.CAUTION, 100.0, None), None, RULES)


def test_passes_are_pooled_and_the_last_period_counts_as_it_is() -> None:
    """15 min are two periods; two passes together give one average; nothing gives nothing."""
    short = PassAlarms("s", 0.0, 900.0, (alarm(899.0), alarm(900.0, name="b")))
    assert period_counts(short) == [0, 2]
    figures = alarm_figures([short, passing([0, 1])])
    assert (figures.passes, figures.minutes, figures.count) == (2, 35.0, 3)
    assert figures.average == pytest.approx(3 / 3.5)
    empty = alarm_figures([])
    assert (empty.count, empty.average, empty.peak, empty.flood_share) == (0, 0.0, 0, 0.0)
    assert all(one.is_met for one in held_against_targets(empty))


def test_lines_mark_what_misses_its_target_and_name_sources() -> None:
    """A figure beyond its target has a mark; every target says whose it is."""
    lines = list(figure_lines(alarm_figures([passing([12, 0])])))
    busy = next(line for line in lines if "more than 10" in line)
    assert busy.startswith("◧")
    assert all("ISA-18.2" in line for line in lines[2:10])
    assert lines[-1].split()[2] == "1"
