"""The commands on recorded passes."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from console import CAUTION_TEXT
from console.cli.arguments import Commands, at_least_one, say
from console.cli.mapping import add_mapping, mapping_in

if TYPE_CHECKING:  # imported when a command is known
    from console.app.score import ScoreResult


def add(commands: Commands) -> None:
    """Add them to the command line."""
    _add_score(commands)


def _add_score(commands: Commands) -> None:
    score = commands.add_parser("score", help="headless judging of CSV, Parquet or recordings")
    score.add_argument("passes", nargs="+", type=Path, metavar="PASS")
    score.add_argument("--limits", type=Path, metavar="FILE")
    score.add_argument("--setup", type=Path, metavar="FILE")
    score.add_argument("--json", metavar="FILE or -")
    score.add_argument("--source", metavar="NAME")
    score.add_argument("--trace", type=Path, metavar="FILE.csv or .parquet")
    score.add_argument("--report", type=Path, metavar="FILE.html or .pdf")
    add_mapping(score)
    score.add_argument("--jobs", type=at_least_one, default=1, metavar="N")
    score.set_defaults(run=_score)


def _score(options: argparse.Namespace) -> int:
    from console.app.rehearse_lines import rehearsal_lines
    from console.app.report import check_report_name
    from console.app.score import (
        ScoreOrder,
        check_targets,
        exit_status,
        report_lines,
        score_files,
    )

    check_targets(options.json, options.trace)
    if options.report is not None:
        check_report_name(options.report)
    order = ScoreOrder(
        limits=options.limits,
        setup=options.setup,
        source=options.source,
        wants_trace=options.trace is not None,
        wants_report=options.report is not None,
        mapping=mapping_in(options),
    )
    results = score_files(options.passes, order, options.jobs)
    for result in results:
        if result.refusal:
            print(f"leadmark: {result.refusal}", file=sys.stderr)
    _write(options, results)
    if options.json != "-":
        for line in (*report_lines(results), *rehearsal_lines(options.passes)):
            say(line)
        say(CAUTION_TEXT)
    return exit_status(results)


def _write(options: argparse.Namespace, results: list[ScoreResult]) -> None:
    """Write what was asked for into files."""
    from console.app.report import report_scored
    from console.app.score import write_json, write_trace

    if options.json is not None:
        write_json(results, options.json)
    if options.trace is not None:
        write_trace(results, options.trace)
    if options.report is not None:
        report_scored(results, options.report)
