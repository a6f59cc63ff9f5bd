"""``leadmark bench``: the limits bench on a set of passes, in the window or as a table."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from console.app.bench_desk import desk_of_files
from console.app.input_file import load_limits, load_setup
from console.app.screen import require_screen
from console.archive.places import recordings_folder
from console.archive.recording import is_being_written
from console.archive.shipped import shipped
from console.bench.compare import Comparer, Comparison
from console.bench.labels import Label, LabelBook
from console.bench.pass_set import PASS_SUFFIXES, PassSet, load_passes, pass_files
from console.bench.ready_pass import ReadyOrder, rules_of
from console.bench.rejudge import Rejudge
from console.core.errors import InputError
from console.envelope.limits import Level, LimitsFile
from console.present.bench_rows import change_line, under_way_words
from console.present.bench_summary import summary_rows
from console.present.opener import Opener
from console.present.text import count

if TYPE_CHECKING:
    from PySide6.QtWidgets import QWidget

DONE, REFUSED = 0, 2


@dataclass(frozen=True, slots=True)
class BenchOrder:
    """What is asked for.

    Attributes
    ----------
    passes : tuple of Path
        Files and folders.
    limits, setup : Path or None
        None: the shipped limits; a recording's own setup or the defaults.
    jobs : int
        Processes for loading.
    """

    passes: tuple[Path, ...]
    limits: Path | None = None
    setup: Path | None = None
    jobs: int = 2

    def ready(self) -> ReadyOrder:
        """Read limits and setup; raises InputError where they are not right."""
        setup = None if self.setup is None else load_setup(self.setup)
        return ReadyOrder(load_limits(self.limits), setup)


def passes_at_hand() -> tuple[Path, ...]:
    """Give where passes are looked for when none are named: own recordings, else the shipped.

    Where all recordings are still being written, both: they are told to be left out.
    """
    folder, others = recordings_folder(), shipped("replay_data", "passes")
    own = [p for p in folder.glob("*") if p.suffix in PASS_SUFFIXES]
    if not own:
        return (others,)
    return (folder, others) if all(map(is_being_written, own)) else (folder,)


def bench_view(opener: Opener, order: BenchOrder | None = None) -> QWidget:
    """Give the Bench view, loading its passes in the background.

    Parameters
    ----------
    opener : Opener
        Shows a pass in Watch.
    order : BenchOrder, optional
        By default the passes at hand under the shipped limits.

    Raises
    ------
    InputError
        Limits or setup are not right, or hold no limit.
    """
    from console.window.bench_view import BenchView

    order = order or BenchOrder(passes_at_hand())
    ready = order.ready()
    if not ready.limits.limits:
        name = "limits" if order.limits is None else order.limits.name
        raise InputError.of(name, "", "no [[limit]] in it", "the bench needs at least one")
    desk = desk_of_files(order.passes, ready, order.limits, order.jobs, opener)
    return BenchView(desk.start())


def run(order: BenchOrder, *, theme: str = "dark") -> int:
    """Open the window with the bench in front.

    Raises
    ------
    InputError
        No window can be opened, or limits, setup or a folder are not right.
    """
    if not any(path.exists() for path in order.passes):
        raise InputError.of(str(order.passes[0]), "", "no such file or folder", "check the name")
    pass_files(order.passes)
    order.ready()
    require_screen("bench")
    from console.app.desk_build import Texts, bench_desk, theme_named
    from console.window.run import application, run_window

    chosen = theme_named(theme)
    application(chosen)
    desk = bench_desk(
        lambda opener: bench_view(opener, order),
        texts=Texts(order.limits, order.setup),
        theme=chosen,
        title="Limits bench",
    )
    return run_window(desk.window)


# ------------------------------------------------------------------ without a window


def run_headless(order: BenchOrder, draft: Path | None, say: Callable[[str], None]) -> int:
    """Judge every pass under the limits and under a draft; say what that changes.

    Returns
    -------
    int
        0, or 2 where a pass was refused; the others are judged all the same.

    Raises
    ------
    InputError
        Limits, draft, setup, labels or a folder are not right.
    """
    ready = order.ready()
    after_limits = ready.limits if draft is None else load_limits(draft)
    files = pass_files(order.passes)
    before = after = load_passes(files, ready, jobs=order.jobs)
    if rules_of(after_limits) != before.rules:
        again = load_passes(files, ReadyOrder(after_limits, ready.setup), jobs=order.jobs)
        before, after = _in_both(before, again)
    for refused in before.refused:
        sys.stderr.write(f"leadmark: {refused.reason}\n")
    book = LabelBook(one.path for one in before.passes)
    labels = [book.of(one.path) for one in before.passes]
    judged = Rejudge(before)
    judged_before = judged.judge(ready.limits)
    judged_after = (judged if after is before else Rejudge(after)).judge(after_limits)
    comparer = Comparer(judged_before, before.passes, labels, Level.WARNING)
    found = comparer.against(judged_after, None if after is before else after.passes)
    shown = (ready.limits, None if draft is None else after_limits)
    for line in report_lines(found, shown, before, labels):
        say(line)
    return REFUSED if before.refused else DONE


def report_lines(
    found: Comparison,
    files: tuple[LimitsFile, LimitsFile | None],
    passes: PassSet,
    labels: Sequence[Label | None],
) -> Iterator[str]:
    """Give the table of before and after, then each pass that changes.

    Without a second file: what the first says, then each pass of which it says anything.
    """
    opened, draft = files
    yield f"{count(len(passes), 'pass', 'passes')}, {_named(opened)}"
    if passes.under_way:
        yield under_way_words(passes.under_way)
    if draft is not None:
        yield f"draft: {_named(draft)}"
    rows = summary_rows(found) if draft is not None else summary_rows(found)[:-1]
    name = max(len(row.name) for row in rows)
    wide = max(max(len(row.before), len(row.after)) for row in rows)
    for row in rows:
        line = f"  {row.name:<{name}}  {row.before:>{wide}}"
        yield line if draft is None else f"{line}  {row.after:>{wide}}  {row.change:>8}"
    for change in found.passes:
        if change.changes or (draft is None and change.after.raised):
            yield "  " + change_line(passes, labels, change)


def _named(limits: LimitsFile) -> str:
    return f"{limits.title} r{limits.revision} {limits.sha256[:12]}"


def _in_both(before: PassSet, after: PassSet) -> tuple[PassSet, PassSet]:
    """Leave out what either side refused, such as a file taken away between the two readings."""
    refused = {one.path: one for one in (*after.refused, *before.refused)}
    first, second = (
        replace(
            side,
            passes=tuple(one for one in side.passes if one.path not in refused),
            refused=tuple(refused.values()),
        )
        for side in (before, after)
    )
    return first, second
