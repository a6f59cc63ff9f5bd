"""``leadmark limits alarms`` and ``sweep``: a limits file over passes on file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from console import CAUTION_TEXT
from console.app.input_file import load_limits, load_setup
from console.bench.alarm_figures import alarm_figures, alarms_of
from console.bench.alarm_targets import figure_lines
from console.bench.compare import Share
from console.bench.labels import LabelBook
from console.bench.pass_set import PassSet, load_passes
from console.bench.ready_pass import ReadyOrder
from console.bench.rejudge import Rejudge
from console.bench.sweep import Knob, SweepPoint, neutral_value, sweep, varied
from console.core.errors import InputError, UsageError
from console.envelope.limits import Limit, LimitsFile


@dataclass(frozen=True, slots=True)
class PassesCall:
    """Which limits over which passes.

    Attributes
    ----------
    passes : tuple of Path
        Files, and folders of files.
    setup : Path or None
        None: a recording's own, or the defaults.
    """

    limits: Path
    passes: tuple[Path, ...]
    setup: Path | None = None
    jobs: int = 1


@dataclass(frozen=True, slots=True)
class SweepCall:
    """What is varied, from where to where, in how many points."""

    limit: str
    knob: Knob
    first: float
    last: float
    steps: int = 9


def alarm_lines(call: PassesCall) -> Iterator[str]:
    """Give the alarm figures of a limits file over passes, line by line.

    Raises
    ------
    InputError
        The limits, or every pass, are refused.
    """
    limits = load_limits(call.limits)
    passes = _loaded(call, limits)
    yield f"{limits.title}, revision {limits.revision}, sha256 {limits.sha256}"
    yield from _refusals(passes)
    yield from figure_lines(alarm_figures(alarms_of(passes, Rejudge(passes).judge(limits))))
    yield CAUTION_TEXT


def sweep_lines(call: PassesCall, asked: SweepCall) -> Iterator[str]:
    """Give a sweep of one limit over passes, line by line.

    Raises
    ------
    InputError
        As for :func:`alarm_lines`; or there is no such limit, or a value none could have.
    """
    limits = load_limits(call.limits)
    limit = _limit_of(limits, asked, call.limits.name)
    passes = _loaded(call, limits)
    book = LabelBook([one.path for one in passes.passes])
    labels = [book.of(one.path) for one in passes.passes]
    points = sweep(Rejudge(passes), limits, labels, limit.id, asked.knob, _values(limit, asked))
    yield (
        f"{limit.id} of {limits.title} r{limits.revision}: {asked.knob.value} varied over "
        f"{len(passes)} passes, {sum(label is not None for label in labels)} of them labelled"
    )
    yield from _refusals(passes)
    yield (
        f"  {asked.knob.value:>10}  {'nuisance (good passes)':<32}{'missed (bad passes)':<32}"
        "median delay"
    )
    for point in points:
        yield _point(point, is_now=point.value == neutral_value(limit, asked.knob))
    yield "* no other point is as good in all three and better in one; choosing is yours."
    yield CAUTION_TEXT


def _limit_of(limits: LimitsFile, asked: SweepCall, name: str) -> Limit:
    for limit in limits.limits:
        if limit.id != asked.limit:
            continue
        for end in (asked.first, asked.last):
            try:
                varied(limit, asked.knob, end)
            except UsageError as error:
                raise InputError.of("sweep", "", str(error), "choose other ends") from None
        return limit
    known = ", ".join(limit.id for limit in limits.limits)
    raise InputError.of(name, "--limit", f"no limit {asked.limit}", f"one of {known}")


def _values(limit: Limit, asked: SweepCall) -> list[float]:
    """Spread the points evenly, the present setting among them where it lies between the ends."""
    step = (asked.last - asked.first) / max(asked.steps - 1, 1)
    values = [asked.first + step * number for number in range(asked.steps)]
    now = neutral_value(limit, asked.knob)
    if min(values) <= now <= max(values):
        nearest = min(range(len(values)), key=lambda place: abs(values[place] - now))
        if abs(values[nearest] - now) < 1e-9 * max(abs(now), 1.0):
            values[nearest] = now
        else:
            values = sorted([*values, now])
    return values


def _loaded(call: PassesCall, limits: LimitsFile) -> PassSet:
    setup = None if call.setup is None else load_setup(call.setup)
    passes = load_passes(call.passes, ReadyOrder(limits, setup), jobs=call.jobs)
    if not len(passes):
        reason = passes.refused[0].reason if passes.refused else "no pass"
        raise InputError.of("passes", "", reason, "give at least one pass that can be read")
    return passes


def _refusals(passes: PassSet) -> Iterator[str]:
    for one in passes.refused:
        yield f"refused: {one.reason}"


def _point(point: SweepPoint, *, is_now: bool) -> str:
    mark = "*" if point.is_unbeaten else " "
    delay = "–" if point.delay_s is None else f"{point.delay_s:.1f} s"
    now = "  (as it is)" if is_now else ""
    return (
        f"{mark} {point.value:>10.4g}  {_share(point.nuisance):<32}{_share(point.missed):<32}"
        f"{delay}{now}"
    )


def _share(share: Share) -> str:
    if share.share is None:
        return "no such pass"
    low, high = share.bounds
    return f"{share.count}/{share.of} {share.share:.0%} ({low:.0%} … {high:.0%})"
