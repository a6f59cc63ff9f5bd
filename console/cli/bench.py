"""The command for the limits bench."""

from __future__ import annotations

import argparse
from pathlib import Path

from console import CAUTION_TEXT
from console.cli.arguments import Commands, at_least_one, say


def add(commands: Commands) -> None:
    """Add it to the command line."""
    bench = commands.add_parser(
        "bench",
        help="tune limits over many passes",
        description="Open the limits bench on a set of passes; a folder stands for those in it.",
    )
    bench.add_argument("passes", nargs="+", type=Path, metavar="PASS")
    bench.add_argument("--limits", type=Path, metavar="FILE", help="default: the shipped ones")
    bench.add_argument("--setup", type=Path, metavar="FILE")
    bench.add_argument("--jobs", type=at_least_one, default=2, metavar="N")
    bench.add_argument("--theme", choices=("dark", "light"), default="dark")
    bench.add_argument(
        "--headless", action="store_true", help="print before and after instead of a window"
    )
    bench.add_argument(
        "--draft", type=Path, metavar="FILE", help="with --headless: limits to compare with"
    )
    bench.set_defaults(run=_bench)


def _bench(options: argparse.Namespace) -> int:
    from console.app.bench import BenchOrder, run, run_headless
    from console.core.errors import InputError

    order = BenchOrder(tuple(options.passes), options.limits, options.setup, options.jobs)
    if options.headless:
        status = run_headless(order, options.draft, say)
        say(CAUTION_TEXT)
        return status
    if options.draft is not None:
        raise InputError.of("--draft", str(options.draft), "without --headless", "add --headless")
    return run(order, theme=options.theme)
