"""The commands on the texts an engineer writes: limits and procedures."""

from __future__ import annotations

import argparse
from pathlib import Path

from console.cli.arguments import Commands, at_least_one, say


def add(commands: Commands) -> None:
    """Add them to the command line."""
    _add_limits(commands)
    _add_procedures(commands)


def _add_limits(commands: Commands) -> None:
    limits = commands.add_parser("limits", help="check a limits file, compare two")
    actions = limits.add_subparsers(title="actions", metavar="ACTION", required=True)
    check = actions.add_parser(
        "check",
        help="say what is wrong, and what does not hang together",
        epilog="Exit status: 0 nothing or only advisories found, 1 the file contradicts itself, "
        "2 it is refused.",
    )
    check.add_argument("file", type=Path, metavar="FILE")
    check.set_defaults(run=_limits_check)
    diff = actions.add_parser("diff", help="say what another file changes, and show both curves")
    diff.add_argument("old", type=Path, metavar="A")
    diff.add_argument("new", type=Path, metavar="B")
    diff.set_defaults(run=_limits_diff)
    _add_over_passes(actions)


def _add_over_passes(actions: Commands) -> None:
    alarms = actions.add_parser("alarms", help="alarm figures of a limits file over passes")
    sweep = actions.add_parser("sweep", help="vary one limit: nuisance, miss and delay")
    for one in (alarms, sweep):
        one.add_argument("file", type=Path, metavar="FILE")
        one.add_argument("passes", nargs="+", type=Path, metavar="PASS")
        one.add_argument("--setup", type=Path, metavar="FILE")
        one.add_argument("--jobs", type=at_least_one, default=1, metavar="N")
    sweep.add_argument("--limit", required=True, metavar="ID")
    sweep.add_argument(
        "--vary", required=True, choices=("scale", "offset", "on_delay", "deadband")
    )
    sweep.add_argument("--from", required=True, type=float, dest="first", metavar="VALUE")
    sweep.add_argument("--to", required=True, type=float, dest="last", metavar="VALUE")
    sweep.add_argument("--steps", type=at_least_one, default=9, metavar="N")
    alarms.set_defaults(run=_limits_alarms)
    sweep.set_defaults(run=_limits_sweep)


def _add_procedures(commands: Commands) -> None:
    procedure = commands.add_parser("procedure", help="check a procedure file")
    actions = procedure.add_subparsers(title="actions", metavar="ACTION", required=True)
    check = actions.add_parser("check", help="read it and say what is wrong")
    check.add_argument("file", type=Path, metavar="FILE")
    check.set_defaults(run=_procedure_check)


def _limits_check(options: argparse.Namespace) -> int:
    from console.app.limits_text import check_lines

    lines, status = check_lines(options.file)
    for line in lines:
        say(line)
    return status


def _limits_diff(options: argparse.Namespace) -> int:
    from console.app.limits_text import diff_lines

    for line in diff_lines(options.old, options.new):
        say(line)
    return 0


def _limits_alarms(options: argparse.Namespace) -> int:
    from console.app.limits_passes import PassesCall, alarm_lines

    call = PassesCall(options.file, tuple(options.passes), options.setup, options.jobs)
    for line in alarm_lines(call):
        say(line)
    return 0


def _limits_sweep(options: argparse.Namespace) -> int:
    from console.app.limits_passes import PassesCall, SweepCall, sweep_lines
    from console.bench.sweep import Knob

    call = PassesCall(options.file, tuple(options.passes), options.setup, options.jobs)
    asked = SweepCall(
        options.limit, Knob(options.vary), options.first, options.last, options.steps
    )
    for line in sweep_lines(call, asked):
        say(line)
    return 0


def _procedure_check(options: argparse.Namespace) -> int:
    from console.app.input_file import load_procedure

    procedure = load_procedure(options.file)
    say(
        f"{options.file.name}: {procedure.title}, revision {procedure.revision}, "
        f"{len(procedure.steps)} steps, {len(procedure.polls)} polls, "
        f"sha256 {procedure.sha256}"
    )
    return 0
