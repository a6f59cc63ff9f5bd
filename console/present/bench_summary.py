"""The bench's headline and its table of before, after and change."""

from __future__ import annotations

from dataclasses import dataclass

from console.approach.words import DECIMALS
from console.bench.compare import Comparison, Share, Tally
from console.envelope.limits import Level, Limit, LimitsFile
from console.envelope.quantity import UNIT
from console.present.bench_draft import Draft
from console.present.bench_port import Answer, Loading
from console.present.text import UNKNOWN, count, decimals_of, number, signed
from console.present.tone import Tone, mark_of


@dataclass(frozen=True, slots=True)
class HeadlineView:
    """What the headline says.

    Attributes
    ----------
    title, revision : str
        Of the limits file; "revision 7 → draft" once something is changed.
    limit, figures : str
        The limit worked on, its delays and dead band.
    passes : str
        How many, how many were refused, how long judging took.
    """

    title: str
    revision: str
    limit: str
    figures: str
    passes: str

    @property
    def spoken(self) -> str:
        """All of it in words."""
        return ". ".join((f"{self.title}, {self.revision}", self.limit, self.figures, self.passes))


@dataclass(frozen=True, slots=True)
class SummaryRow:
    """One line: what is counted (at length, and in one word or two), before, after, change."""

    name: str
    short: str
    before: str
    after: str
    change: str
    tone: Tone = Tone.PLAIN


@dataclass(frozen=True, slots=True)
class SummaryView:
    """Before and after at one look.

    Attributes
    ----------
    scope : str
        What counts: all of a level, or one limit.
    notes : tuple of str
        What the draft contradicts that the opened file did not.
    """

    before_head: str
    rows: tuple[SummaryRow, ...]
    scope: str
    notes: tuple[str, ...] = ()

    @property
    def spoken(self) -> str:
        """All of it in words."""
        rows = [f"{r.name}: {r.before}, draft {r.after}, change {r.change}" for r in self.rows]
        return ". ".join((*rows, self.scope, *self.notes))


def headline(
    draft: Draft, loading: Loading, passes: int | None, refused: int, took_s: float | None
) -> HeadlineView:
    """Word the headline."""
    file, limit = draft.opened, draft.limit
    revision = f"revision {file.revision}"
    return HeadlineView(
        file.title,
        f"{revision} → draft" if draft.is_changed else revision,
        f"{mark_of(limit.level)} {limit.id}",
        figures_of(limit, draft.opened_limit),
        _passes_words(loading, passes, refused, took_s),
    )


def figures_of(limit: Limit, opened: Limit) -> str:
    """Word a limit's delays and dead band; what differs from the opened file shows both."""
    unit = UNIT[limit.quantity]
    on = _both(opened.on_delay_s, limit.on_delay_s)
    off = _both(opened.off_delay_s, limit.off_delay_s)
    band = _both(opened.deadband, limit.deadband)
    return f"{limit.level.word}  ·  on {on} s  ·  off {off} s  ·  dead band {band} {unit}"


def summary(answer: Answer, notes: tuple[str, ...] = ()) -> SummaryView:
    """Word the summary."""
    found = answer.comparison
    question = answer.question
    limit = question.draft.limits[question.limit]
    said = _said(found.level)
    scope = f"Counted: {limit.id} alone" if question.only else f"Counted: every {said}"
    return SummaryView(
        f"revision {answer.before.limits.revision}", summary_rows(found), scope, notes
    )


def summary_rows(found: Comparison) -> tuple[SummaryRow, ...]:
    """Word what is counted on both sides."""
    before, after, said = found.before, found.after, _said(found.level)
    level = Tone.WARNING if found.level is Level.WARNING else Tone.CAUTION
    nuisance = _share_row(
        "nuisance (marked good)", "nuisance", before.nuisance, after.nuisance, level
    )
    missed = _share_row("missed (bad, fault)", "missed", before.missed, after.missed, level)
    return (
        SummaryRow(
            f"passes with a {said}",
            "passes told",
            number(before.warned.count, 0),
            number(after.warned.count, 0),
            signed(after.warned.count - before.warned.count, 0),
        ),
        nuisance,
        missed,
        _delay_row(before, after),
        SummaryRow(
            "alarms in 10 min, worst pass",
            "in 10 min, worst",
            number(before.alarms_10_min, 0),
            number(after.alarms_10_min, 0),
            signed(after.alarms_10_min - before.alarms_10_min, 0),
        ),
        SummaryRow(
            "exceedances lost, gained",
            "lost, gained",
            number(found.lost, 0),
            number(found.gained, 0),
            signed(found.gained - found.lost, 0),
        ),
    )  # fmt: skip


def share_words(share: Share) -> str:
    """Write a share as ``7 of 280   2.5 % (1.2–5.1)``, its bounds Wilson's for 95 %."""
    if not share.of:
        return "none marked"
    low, high = (100.0 * bound for bound in share.bounds)
    value = 100.0 * (share.share or 0.0)
    return f"{share.count} of {share.of}  {value:.1f} % ({low:.1f}–{high:.1f})"


def _share_row(name: str, short: str, before: Share, after: Share, worse: Tone) -> SummaryRow:
    grown = after.count - before.count
    tone = worse if grown > 0 else Tone.PLAIN
    change = signed(grown, 0) if after.of else UNKNOWN
    return SummaryRow(name, short, share_words(before), share_words(after), change, tone)


def _delay_row(before: Tally, after: Tally) -> SummaryRow:
    was, becomes = before.median_delay_s, after.median_delay_s
    both = was is not None and becomes is not None
    change = (
        f"{signed(becomes - was, 1)} s"
        if both and was is not None and becomes is not None
        else UNKNOWN
    )
    return SummaryRow(
        "median delay from fault", "median delay", _seconds(was), _seconds(becomes), change
    )


def _seconds(value: float | None) -> str:
    return UNKNOWN if value is None else f"{number(value, 1)} s"


def _said(level: Level) -> str:
    return "warning" if level is Level.WARNING else "caution or warning"


def _both(before: float, after: float) -> str:
    text = number(after, decimals_of(after))
    return text if before == after else f"{number(before, decimals_of(before))} → {text}"


def _passes_words(loading: Loading, passes: int | None, refused: int, took_s: float | None) -> str:
    if loading.fault:
        return loading.fault
    if passes is None:
        return f"loaded {loading.done} of {loading.of} passes" if loading.of else "loading"
    words = count(passes, "pass", "passes")
    if refused:
        words += f"  ·  {refused} refused"
    if took_s is not None:
        words += f"  ·  re-judged in {number(took_s, 3 if took_s < 0.1 else 2)} s"
    return words


def limit_names(file: LimitsFile) -> tuple[str, ...]:
    """Name every limit for the list to choose from, with its level's shape."""
    return tuple(f"{mark_of(limit.level)} {limit.id}" for limit in file.limits)


def value_words(limit: Limit, value: float) -> str:
    """Write a value of a limit with its unit."""
    return f"{number(value, DECIMALS[limit.quantity])} {UNIT[limit.quantity]}"
