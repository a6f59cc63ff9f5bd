"""The command line. Imports wait until a command is known, so that ``--help`` is instant."""

from __future__ import annotations

import argparse
import contextlib
import os
import signal
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn

from console import CAUTION_TEXT, __version__
from console.core.errors import InputError

REFUSED = 2


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command; give its exit status: 0 done, 1 a warning stood, 2 input refused."""
    parser = _parser()
    options = parser.parse_args(argv)
    run = getattr(options, "run", None)
    if run is None:
        parser.print_help()
        return 0
    with contextlib.suppress(ValueError):  # not the main thread: somebody else's signals
        # ended by the system like by Ctrl+C: what was received is drained, the file closed
        signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        status: int = run(options)
    except InputError as error:
        print(f"leadmark: {error}", file=sys.stderr)
        return REFUSED
    except KeyboardInterrupt:
        return 0
    except BrokenPipeError:
        # a reader such as `head` went away: not a fault of ours, and nothing more can be said
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as error:
        place = error.filename or ""
        print(f"leadmark: {place}: {error.strerror or error}", file=sys.stderr)
        return REFUSED
    return status


class _Parser(argparse.ArgumentParser):
    """Refuses in one line, as every other refusal is."""

    def error(self, message: str) -> NoReturn:
        """Say what was wrong with the command line, and end."""
        self.exit(REFUSED, f"{self.prog}: {message} (see {self.prog} --help)\n")


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="leadmark",
        description="Follow a visiting vehicle's final approach to a docking port.",
        epilog=CAUTION_TEXT,
    )
    parser.add_argument("--version", action="version", version=f"leadmark {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")
    _add_demo(commands)
    _add_watch(commands)
    _add_feed(commands)
    _add_score(commands)
    _add_limits(commands)
    _add_procedures(commands)
    _add_keys(commands)
    return parser


_Commands = argparse._SubParsersAction  # noqa: SLF001 - argparse gives its type no public name


def _add_demo(commands: _Commands[_Parser]) -> None:
    demo = commands.add_parser(
        "demo", help="simulated approach, published on loopback, recorded, shown live"
    )
    demo.add_argument("--scenario", default="nominal", metavar="NAME")
    demo.add_argument(
        "--from",
        dest="from_range",
        type=_positive,
        metavar="RANGE",
        help="true range at the start, m (default: the scenario's own, mostly 20)",
    )
    demo.add_argument("--speed", type=_positive, default=1.0, metavar="X")
    demo.add_argument("--seed", type=_not_negative, default=1, metavar="N")
    demo.add_argument("--limits", type=Path, metavar="FILE")
    demo.add_argument("--setup", type=Path, metavar="FILE")
    demo.add_argument("--coverage", type=Path, metavar="FILE", help="link coverage plan, CSV")
    demo.add_argument("--record", type=Path, metavar="FILE")
    demo.add_argument("--theme", choices=("dark", "light"), default="dark")
    _add_procedure(demo)
    demo.add_argument(
        "--crew",
        choices=("all", "others", "none"),
        help="which of the demo's people answer polls and do steps by themselves "
        "(default: all in text, all others but you in the window)",
    )
    demo.add_argument("--headless", action="store_true", help="calls and exceedances as text")
    demo.set_defaults(run=_demo)


def _add_procedure(command: argparse.ArgumentParser) -> None:
    command.add_argument("--procedure", type=Path, metavar="FILE", help="steps and polls, TOML")
    command.add_argument(
        "--speak", action="store_true", help="calls and warnings aloud, if there is a voice"
    )


def _add_watch(commands: _Commands[_Parser]) -> None:
    watch = commands.add_parser("watch", help="live console")
    watch.add_argument("endpoints", nargs="+", metavar="ENDPOINT")
    watch.add_argument("--limits", type=Path, metavar="FILE")
    watch.add_argument("--setup", type=Path, metavar="FILE")
    watch.add_argument("--coverage", type=Path, metavar="FILE", help="link coverage plan, CSV")
    watch.add_argument("--record", type=Path, metavar="FILE")
    watch.add_argument("--keys", type=Path, metavar="DIR", help="CURVE keys of this console")
    watch.add_argument(
        "--insecure",
        action="store_true",
        help="allow an endpoint outside loopback without keys",
    )
    watch.add_argument("--theme", choices=("dark", "light"), default="dark")
    _add_procedure(watch)
    watch.add_argument("--headless", action="store_true", help="calls and exceedances as text")
    watch.set_defaults(run=_watch)


def _add_feed(commands: _Commands[_Parser]) -> None:
    feed = commands.add_parser("feed", help="publish a pass on a socket for consoles to watch")
    what = feed.add_mutually_exclusive_group(required=True)
    what.add_argument("one", nargs="?", type=Path, metavar="PASS")
    what.add_argument("--scenario", metavar="NAME")
    feed.add_argument("--bind", default="tcp://127.0.0.1:5556", metavar="ENDPOINT")
    feed.add_argument("--speed", type=_positive, default=1.0, metavar="X")
    feed.add_argument("--seed", type=_not_negative, default=1, metavar="N")
    feed.add_argument("--from", dest="from_range", type=_positive, metavar="RANGE")
    feed.add_argument("--setup", type=Path, metavar="FILE")
    feed.add_argument("--keys", type=Path, metavar="DIR")
    feed.add_argument("--insecure", action="store_true")
    feed.set_defaults(run=_feed)


def _add_score(commands: _Commands[_Parser]) -> None:
    score = commands.add_parser("score", help="headless judging of CSV, Parquet or recordings")
    score.add_argument("passes", nargs="+", type=Path, metavar="PASS")
    score.add_argument("--limits", type=Path, metavar="FILE")
    score.add_argument("--setup", type=Path, metavar="FILE")
    score.add_argument("--json", metavar="FILE or -")
    score.add_argument("--source", metavar="NAME")
    score.add_argument("--trace", type=Path, metavar="FILE.csv or .parquet")
    score.add_argument("--jobs", type=_at_least_one, default=1, metavar="N")
    score.set_defaults(run=_score)


def _add_limits(commands: _Commands[_Parser]) -> None:
    limits = commands.add_parser("limits", help="check a limits file")
    actions = limits.add_subparsers(title="actions", metavar="ACTION", required=True)
    check = actions.add_parser("check", help="read it and say what is wrong")
    check.add_argument("file", type=Path, metavar="FILE")
    check.set_defaults(run=_limits_check)


def _add_procedures(commands: _Commands[_Parser]) -> None:
    procedure = commands.add_parser("procedure", help="check a procedure file")
    actions = procedure.add_subparsers(title="actions", metavar="ACTION", required=True)
    check = actions.add_parser("check", help="read it and say what is wrong")
    check.add_argument("file", type=Path, metavar="FILE")
    check.set_defaults(run=_procedure_check)


def _add_keys(commands: _Commands[_Parser]) -> None:
    keys = commands.add_parser("keys", help="make a CURVE key pair")
    keys.add_argument("folder", type=Path, metavar="DIR")
    keys.set_defaults(run=_keys)


def _demo(options: argparse.Namespace) -> int:
    from console.app.demo import DemoOrder, demo_headless, demo_in_window
    from console.app.demo_crew import Crew
    from console.app.screen import require_screen

    if not options.headless:
        require_screen("demo")
    order = DemoOrder(
        scenario=options.scenario,
        from_range_m=options.from_range,
        speed=options.speed,
        seed=options.seed,
        limits=options.limits,
        setup=options.setup,
        coverage=options.coverage,
        record=options.record,
        procedure=options.procedure,
        crew=Crew(options.crew or ("all" if options.headless else "others")),
        speak=options.speak,
    )
    return demo_headless(order, _say) if options.headless else demo_in_window(order, options.theme)


def _watch(options: argparse.Namespace) -> int:
    from console.app.around import around_of
    from console.app.clock import SystemClock
    from console.app.input_file import load_limits, load_procedure, load_setup
    from console.app.screen import require_screen
    from console.app.watching import WatchOrder, subscribe, watch_headless, watch_in_window

    if not options.headless:
        require_screen("watch")
    limits, setup = load_limits(options.limits), load_setup(options.setup)
    procedure = None if options.procedure is None else load_procedure(options.procedure)
    clock = SystemClock()
    source = subscribe(options.endpoints, clock, keys=options.keys, insecure=options.insecure)
    order = WatchOrder(
        mode="Live",
        endpoints=options.endpoints,
        limits=limits,
        setup=setup,
        around=around_of(setup, options.setup, options.coverage),
        record=options.record,
        insecure=source.is_insecure,
        procedure=procedure,
        speak=options.speak,
    )
    if not options.headless:
        return watch_in_window(order, clock, source, theme_name=options.theme)
    watch_headless(order, clock, source, lambda: False, _say)
    return 0


def _feed(options: argparse.Namespace) -> int:
    from console.app.feed import FeedOrder, feed

    order = FeedOrder(
        bind=options.bind,
        speed=options.speed,
        one=options.one,
        scenario=options.scenario,
        seed=options.seed,
        from_range_m=options.from_range,
        setup=options.setup,
        keys=options.keys,
        insecure=options.insecure,
    )
    return feed(order, _say)


def _score(options: argparse.Namespace) -> int:
    from console.app.score import (
        ScoreOrder,
        check_trace_name,
        exit_status,
        report_lines,
        score_files,
        write_json,
        write_trace,
    )

    if options.trace is not None:
        check_trace_name(options.trace)
    order = ScoreOrder(options.limits, options.setup, options.source, options.trace is not None)
    results = score_files(options.passes, order, options.jobs)
    for result in results:
        if result.refusal:
            print(f"leadmark: {result.refusal}", file=sys.stderr)
    if options.json is not None:
        write_json(results, options.json)
    if options.trace is not None:
        write_trace(results, options.trace)
    if options.json != "-":
        for line in report_lines(results):
            _say(line)
        _say(CAUTION_TEXT)
    return exit_status(results)


def _limits_check(options: argparse.Namespace) -> int:
    from console.app.input_file import load_limits

    limits = load_limits(options.file)
    _say(
        f"{options.file.name}: {limits.title}, revision {limits.revision}, "
        f"{len(limits.limits)} limits, {len(limits.contact_limits)} contact limits, "
        f"sha256 {limits.sha256}"
    )
    return 0


def _procedure_check(options: argparse.Namespace) -> int:
    from console.app.input_file import load_procedure

    procedure = load_procedure(options.file)
    _say(
        f"{options.file.name}: {procedure.title}, revision {procedure.revision}, "
        f"{len(procedure.steps)} steps, {len(procedure.polls)} polls, "
        f"sha256 {procedure.sha256}"
    )
    return 0


def _keys(options: argparse.Namespace) -> int:
    from console.link.curve import make_keys

    for path in make_keys(options.folder):
        _say(f"wrote {path}")
    return 0


def _say(line: str) -> None:
    print(line, flush=True)


def _positive(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0.0 < value < float("inf"):
        raise argparse.ArgumentTypeError(f"{text!r} is not a number above 0")
    return value


def _not_negative(text: str) -> int:
    if not text.isdigit():
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number of 0 or more")
    return int(text)


def _at_least_one(text: str) -> int:
    value = _not_negative(text)
    if value < 1:
        raise argparse.ArgumentTypeError("at least 1")
    return value
