"""A campaign's figures as plain text, for a terminal and a file."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from console import CAUTION_TEXT
from console.bench.campaign_figures import (
    Chance,
    Columns,
    HandsOffRange,
    Quantiles,
    contact_chances,
    exceedance_chances,
    hands_off_range,
    stop_at_hands_off,
    stop_figures,
    warned_chances,
)
from console.bench.campaign_order import CampaignOrder
from console.bench.proportion import runs_needed
from console.envelope.limits import LimitsFile


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the figures are held against.

    Attributes
    ----------
    chances : tuple of float
        That a called stop helps: a hands-off range is given for each.
    below : float
        Chance that something rare is to be shown to lie under.
    confidence : float
        Of all bounds.
    """

    chances: tuple[float, ...] = (0.9, 0.95, 0.99, 0.999)
    below: float = 0.01
    confidence: float = 0.95

    def with_chance(self, chance: float) -> Wanted:
        """Give the same with one more chance that a called stop helps."""
        return replace(self, chances=tuple(sorted({*self.chances, chance})))


def report_lines(
    order: CampaignOrder, limits: LimitsFile, title: str, columns: Columns, wanted: Wanted
) -> Iterator[str]:
    """Give the report, line by line."""
    yield f"Campaign of {order.runs} runs, seed {order.seed}: {title}"
    yield f"Limits {limits.title} r{limits.revision} {limits.sha256[:12]}"
    yield f"Order {order.sha256}"
    yield f"Bounds are exact binomial, {wanted.confidence:.0%} two-sided; the run is the unit."
    yield ""
    yield from _table("Contact", contact_chances(limits, columns, wanted.confidence))
    yield from _table("Raised in a pass", exceedance_chances(limits, columns, wanted.confidence))
    yield from _table("Warnings", warned_chances(columns, wanted.confidence))
    yield f"{'Hands-off and stop calls':<50}{'runs':>13}{'5 %':>10}{'50 %':>10}{'95 %':>10}"
    for figure in stop_figures(limits, columns):
        yield _quantiles(figure)
    yield ""
    yield from _table("Stop call", [stop_at_hands_off(limits, columns, wanted.confidence)])
    yield "Hands-off range for a wanted chance that a called stop still helps"
    found = [hands_off_range(columns, chance, wanted.confidence) for chance in wanted.chances]
    for one in found:
        yield _hands_off(one, wanted, order.runs)
    yield ""
    yield from _sizes(contact_chances(limits, columns, wanted.confidence)[0], wanted)
    yield ""
    yield CAUTION_TEXT


def _table(title: str, chances: Sequence[Chance]) -> Iterator[str]:
    yield f"{title:<50}{'runs':>13}  {'chance':>8}  {'bounds':>17}"
    for chance in chances:
        yield _chance(chance)
    yield ""


def _chance(chance: Chance) -> str:
    counted = f"{chance.k}/{chance.n}"
    if not chance.n:
        return f"  {chance.name:<48}{counted:>13}  nothing to count"
    low, high = chance.bounds
    return f"  {chance.name:<48}{counted:>13}  {chance.share:>8.3%}  {low:>7.3%} … {high:.3%}"


def _quantiles(figure: Quantiles) -> str:
    cells = "".join(f"{value:>10.3f}" for value in (figure.low, figure.middle, figure.high))
    return f"  {figure.name:<48}{figure.n:>13}{cells}"


def _hands_off(one: HandsOffRange, wanted: Wanted, runs: int) -> str:
    if one.range_m is None:
        return f"  {one.chance:>7.2%}: not from {runs} runs; it takes {one.runs_needed}"
    return (
        f"  {one.chance:>7.2%}: {one.range_m:.2f} m, with {wanted.confidence:.0%} confidence "
        f"(distribution-free)"
    )


def _sizes(outside: Chance, wanted: Wanted) -> Iterator[str]:
    """Say how many runs would show that contact outside its limits is rarer than wanted."""
    none = runs_needed(wanted.below, wanted.confidence)
    yield (
        f"To show a chance below {wanted.below:.2%} with {wanted.confidence:.0%} confidence takes "
        f"{none} runs without a case, {runs_needed(wanted.below, wanted.confidence, 1)} with one, "
        f"{runs_needed(wanted.below, wanted.confidence, 3)} with three."
    )
    if outside.n and outside.share < wanted.below:
        needed = runs_needed(wanted.below, wanted.confidence, outside.k)
        told = "enough" if outside.n >= needed else f"not enough: it takes {needed}"
        yield (
            f"Contact outside its limits came {outside.k} times in {outside.n}: "
            f"for that this is {told}."
        )
