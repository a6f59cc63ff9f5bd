"""Alarm figures held against their published targets, and as lines of text.

The standards themselves are sold, not published; the figures are those that public summaries of
them give, and each target says which.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from console.bench.alarm_figures import CHATTER_COUNT, CHATTER_S, AlarmFigures
from console.envelope.limits import Level

ISA: Final = "ISA-18.2-2016 16.4, by public summaries"
ISA_SPLIT: Final = "ISA-18.2-2016 16.4.8, three levels 80/15/5 %, by public summaries"
WARNING_SHARE: Final = 0.05
"""The published share of the highest of three priorities; with two, the rest is the lower."""


@dataclass(frozen=True, slots=True)
class Held:
    """One figure beside its target.

    Attributes
    ----------
    what, value, target : str
        In words, with units.
    is_met : bool
    source : str
        Of the target.
    """

    what: str
    value: str
    target: str
    is_met: bool
    source: str


def held_against_targets(figures: AlarmFigures) -> tuple[Held, ...]:
    """Hold each figure against its target."""
    warnings = figures.by_level.get(Level.WARNING, 0)
    share = warnings / figures.count if figures.count else 0.0
    chatter = sum(one.chattering for one in figures.limits)
    fleeting = sum(one.fleeting for one in figures.limits)
    stale = sum(one.stale for one in figures.limits)
    rules = figures.rules
    return (
        Held("alarms in 10 min, average", f"{figures.average:.2f}", "about 1, at most 2",
             figures.average <= 2.0, ISA),
        Held("alarms in 10 min, most", f"{figures.peak}", "at most 10", figures.peak <= 10, ISA),
        Held("10-min periods with more than 10", f"{figures.busy_share:.1%}", "under 1 %",
             figures.busy_share < 0.01, ISA),
        Held("time in flood", f"{figures.flood_share:.1%}", "under 1 %",
             figures.flood_share < 0.01, ISA),
        Held(f"chattering ({CHATTER_COUNT} in {CHATTER_S:.0f} s)", f"{chatter}", "0",
             chatter == 0, ISA),
        Held(f"fleeting (gone in {rules.fleeting_s:g} s, {rules.apart_s:g} s apart)",
             f"{fleeting}", "0", fleeting == 0, ISA),
        Held(f"stale (over {rules.stale_share:.0%} of the pass)", f"{stale}", "0",
             stale == 0, ISA),
        Held("warnings of all", f"{share:.1%}", "about 5 %, the rest cautions",
             share <= WARNING_SHARE, ISA_SPLIT),
    )  # fmt: skip


def figure_lines(figures: AlarmFigures) -> Iterator[str]:
    """Give the figures as lines: against their targets, then limit by limit, the worst first."""
    yield (
        f"{figures.count} alarms in {figures.passes} passes, {figures.minutes:.0f} min "
        f"(pooled; periods from each pass's beginning)"
    )
    yield f"  {'figure':<42}{'found':>9}  {'target':<29}source"
    for held in held_against_targets(figures):
        mark = " " if held.is_met else "◧"
        yield f"{mark} {held.what:<42}{held.value:>9}  {held.target:<29}{held.source}"
    if not figures.limits:
        return
    yield ""
    head = f"  {'limit':<30}{'level':<9}{'alarms':>7}{'share':>7}{'passes':>8}"
    yield f"{head}{'chatter':>9}{'index 1/s':>11}{'fleeting':>10}{'stale':>7}"
    for one in figures.limits:
        yield (
            f"  {one.id:<30}{one.level.word:<9}{one.count:>7}{one.share:>7.0%}{one.passes:>8}"
            f"{one.chattering:>9}{one.chatter_index:>11.4f}{one.fleeting:>10}{one.stale:>7}"
        )
