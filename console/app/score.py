"""``leadmark score``: judge passes without a window, write what they came to."""

from __future__ import annotations

import csv
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import Future
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TextIO

import msgspec

from console.app.input_file import load_limits, load_residuals, load_setup
from console.app.pass_rules import PassRules, rules_of
from console.app.target_file import check_ending, check_target
from console.approach.words import not_kept_words
from console.archive.mapping import Mapping
from console.archive.passes import read_pass
from console.archive.recorded_pass import Pass
from console.bench.outcome import has_warning, outside_of
from console.bench.scoring import score_pass
from console.bench.trace import COLUMNS, Cell
from console.bench.worker_pool import WorkerPool
from console.core.errors import InputError
from console.core.ids import SourceId
from console.debrief.review import Debrief, review_pass

TEXT_COLUMNS = ("pass", "source", "phase", "coasted")
TRACE_ENDINGS = (".csv", ".parquet")
DONE, WARNING_STOOD, REFUSED = 0, 1, 2
MORE_MEMORY = "end other programs, or give fewer --jobs"


@dataclass(frozen=True, slots=True)
class ScoreOrder:
    """What is asked for.

    Attributes
    ----------
    limits, setup : Path or None
        None: a recording's own, or the shipped limits and the defaults.
    source : str or None
        Judge this source alone.
    wants_trace : bool
        Also give the trace's rows.
    wants_report : bool
        Also gather what a report says.
    mapping : Mapping or None
        For tables with columns of their own; None takes one that stands beside a table.
    """

    limits: Path | None = None
    setup: Path | None = None
    source: str | None = None
    wants_trace: bool = False
    wants_report: bool = False
    mapping: Mapping | None = None


@dataclass(frozen=True, slots=True)
class ScoreResult:
    """One pass's object for the JSON list, its trace, and the line for standard error."""

    outcome: dict[str, Any]
    trace: list[tuple[Cell, ...]]
    refusal: str = ""
    debrief: Debrief | None = None


def score_one(path: Path, order: ScoreOrder) -> ScoreResult:
    """Judge one file; one that cannot be read gives an object with ``error``, and never raises."""
    try:
        one = read_pass(path, order.mapping)
        rules = rules_of(one, order.limits, order.setup)
        source = None if order.source is None else SourceId(order.source)
        if order.wants_report:
            return _reviewed(one, order, rules)
        scored = score_pass(
            one,
            rules.limits,
            rules.setup,
            source=source,
            wants_trace=order.wants_trace,
            archive=load_residuals() if order.wants_trace else None,
            procedure=rules.procedure,
            surroundings=rules.surroundings,
        )
    except InputError as error:
        return _refused(path, error)
    except MemoryError:
        return _refused(path, InputError.of(path.name, "", "the memory is used up", MORE_MEMORY))
    return ScoreResult(scored.outcome, scored.trace)


def _refused(path: Path, error: InputError) -> ScoreResult:
    return ScoreResult({"pass": path.name, "error": str(error)}, [], str(error))


def _reviewed(one: Pass, order: ScoreOrder, rules: PassRules) -> ScoreResult:
    """Judge a pass once for everything: outcome, trace and report."""
    debrief, trace = review_pass(
        one,
        rules.limits,
        rules.setup,
        archive=load_residuals(),
        source=None if order.source is None else SourceId(order.source),
        procedure=rules.procedure,
        surroundings=rules.surroundings,
        limits_are_own=_has_own_limits(one) and order.limits is None,
        wants_trace=order.wants_trace,
    )
    return ScoreResult(debrief.outcome, trace, debrief=debrief)


def _has_own_limits(one: Pass) -> bool:
    return one.recording is not None and bool(one.recording.meta.limits_text)


def score_files(paths: Sequence[Path], order: ScoreOrder, jobs: int) -> list[ScoreResult]:
    """Judge files in the order given, in ``jobs`` processes."""
    if order.limits is not None:
        load_limits(order.limits)
    if order.setup is not None:
        load_setup(order.setup)
    if jobs <= 1 or len(paths) <= 1:
        return [score_one(path, order) for path in paths]
    results: dict[int, ScoreResult] = {}
    waiting = list(range(len(paths)))
    while waiting:
        # who dies takes down all that are not done: they are begun again as long as some get done
        found = _judged_apart([paths[n] for n in waiting], order, jobs)
        done = {n: result for n, result in zip(waiting, found, strict=True) if result is not None}
        results.update(done)
        waiting = [n for n in waiting if n not in done]
        if not done:
            break
    results.update({n: _judged_alone(paths[n], order) for n in waiting})
    return [results[n] for n in range(len(paths))]


def _judged_apart(paths: Sequence[Path], order: ScoreOrder, jobs: int) -> list[ScoreResult | None]:
    """Judge files in processes; None where one died before a file was done."""
    with WorkerPool(min(jobs, len(paths))) as pool:
        futures: list[Future[ScoreResult] | None] = []
        for path in paths:
            try:
                futures.append(pool.submit(score_one, path, order))
            except BrokenProcessPool:
                futures.append(None)
        return [None if future is None else _result(future) for future in futures]


def _result(future: Future[ScoreResult]) -> ScoreResult | None:
    try:
        return future.result()
    except BrokenProcessPool:
        return None


def _judged_alone(path: Path, order: ScoreOrder) -> ScoreResult:
    (result,) = _judged_apart([path], order, 1)
    if result is not None:
        return result
    error = InputError.of(
        path.name, "", "the process that judged it was killed", "look whether memory runs out"
    )
    return _refused(path, error)


def exit_status(results: Sequence[ScoreResult]) -> int:
    """Give 2 where a file was refused, 1 where a limit's warning stood, else 0."""
    if any(result.refusal for result in results):
        return REFUSED
    return WARNING_STOOD if any(has_warning(r.outcome) for r in results) else DONE


def json_text(results: Sequence[ScoreResult]) -> str:
    """Give the outcomes as JSON: an object for one pass, a list for several."""
    outcomes = [result.outcome for result in results]
    encoded = msgspec.json.encode(outcomes[0] if len(outcomes) == 1 else outcomes)
    return msgspec.json.format(encoded, indent=2).decode() + "\n"


def write_json(results: Sequence[ScoreResult], target: str) -> None:
    """Write the outcomes to a file, or to standard output for ``-``."""
    with _opened(target) as stream:
        stream.write(json_text(results))


def check_targets(json: str | None, trace: Path | None) -> None:
    """Look at the files that are to be written before the work is done.

    Raises
    ------
    InputError
        One cannot be written, or a trace's name does not say its form.
    """
    if json is not None and json != "-":
        check_target(Path(json), "--json")
    if trace is not None:
        check_ending(trace, "--trace", TRACE_ENDINGS)
        check_target(trace, "--trace")


def write_trace(results: Sequence[ScoreResult], path: Path) -> None:
    """Write the traces as CSV or Parquet, by the file's ending."""
    rows = [row for result in results for row in result.trace]
    check_ending(path, "--trace", TRACE_ENDINGS)
    if path.suffix.lower() == ".parquet":
        _write_parquet(rows, path)
        return
    with _opened(str(path)) as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(COLUMNS)
        writer.writerows([_cell(value) for value in row] for row in rows)


def _cell(value: Cell) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return value if isinstance(value, str) else repr(value)


def _write_parquet(rows: list[tuple[Cell, ...]], path: Path) -> None:
    import pandas as pd

    frame = pd.DataFrame.from_records(rows, columns=list(COLUMNS))
    # a column without a single value is a column of numbers all the same
    frame = frame.astype({name: "float64" for name in COLUMNS if name not in TEXT_COLUMNS})
    try:
        frame.to_parquet(path, index=False)
    except OSError as error:
        raise _cannot_write(str(path), error) from None


@contextmanager
def _opened(target: str) -> Iterator[TextIO]:
    if target == "-":
        yield sys.stdout
        return
    try:
        with Path(target).open("w", encoding="utf-8", newline="") as stream:
            yield stream
    except OSError as error:
        raise _cannot_write(target, error) from None


def _cannot_write(target: str, error: OSError) -> InputError:
    reason = error.strerror or str(error)
    return InputError.of(target, "", reason, "give a place that can be written to")


def report_lines(results: Sequence[ScoreResult]) -> Iterator[str]:
    """Give the plain text of the outcomes, for a terminal."""
    for result in results:
        outcome = result.outcome
        if "error" in outcome:
            yield f"{outcome['pass']}: refused: {outcome['error']}"
            continue
        yield (
            f"{outcome['pass']}: {outcome['samples']} samples, {outcome['lost']} lost, "
            f"{outcome['rejected']} rejected, source {outcome['source']}, "
            f"limits {outcome['limits']['title']} r{outcome['limits']['revision']} "
            f"{outcome['limits']['sha256'][:12]}"
        )
        contact = outcome["contact"]
        if contact is not None:
            verdict = (
                "within limits"
                if contact["within_limits"]
                else not_kept_words(
                    [(q.value, value) for q, value in outside_of(contact)],
                    "OUTSIDE: ",
                )
            )
            yield f"  contact {contact['t']:.3f}, {verdict}"
        for e in outcome["exceedances"]:
            cleared = "stands" if e["cleared"] is None else f"{e['cleared'] - e['raised']:.1f} s"
            yield (
                f"  {e['level']:<8} {e['id']}: peak {e['peak']:.4g} against "
                f"{e['peak_limit']:.4g}, {cleared}"
            )
