"""The commands of a live approach: demo, watch, feed and keys."""

from __future__ import annotations

import argparse
from pathlib import Path

from console.cli.arguments import Commands, not_negative, positive, say, say_watching
from console.cli.mapping import add_mapping, mapping_in


def add(commands: Commands) -> None:
    """Add them to the command line."""
    _add_demo(commands)
    _add_watch(commands)
    _add_feed(commands)
    _add_keys(commands)


def _add_demo(commands: Commands) -> None:
    demo = commands.add_parser(
        "demo", help="simulated approach, published on loopback, recorded, shown live"
    )
    demo.add_argument("--scenario", default="nominal", metavar="NAME")
    demo.add_argument(
        "--from",
        dest="from_range",
        type=positive,
        metavar="RANGE",
        help="true range at the start, m (default: the scenario's own, mostly 20)",
    )
    demo.add_argument("--speed", type=positive, default=1.0, metavar="X")
    demo.add_argument("--seed", type=not_negative, default=1, metavar="N")
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


def _add_watch(commands: Commands) -> None:
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


def _add_feed(commands: Commands) -> None:
    feed = commands.add_parser("feed", help="publish a pass on a socket for consoles to watch")
    what = feed.add_mutually_exclusive_group(required=True)
    what.add_argument("one", nargs="?", type=Path, metavar="PASS")
    what.add_argument("--scenario", metavar="NAME")
    feed.add_argument("--bind", default="tcp://127.0.0.1:5556", metavar="ENDPOINT")
    feed.add_argument("--speed", type=positive, default=1.0, metavar="X")
    feed.add_argument("--seed", type=not_negative, default=1, metavar="N")
    feed.add_argument("--from", dest="from_range", type=positive, metavar="RANGE")
    feed.add_argument("--setup", type=Path, metavar="FILE")
    add_mapping(feed)
    feed.add_argument("--keys", type=Path, metavar="DIR")
    feed.add_argument("--insecure", action="store_true")
    feed.set_defaults(run=_feed)


def _add_keys(commands: Commands) -> None:
    keys = commands.add_parser("keys", help="make a CURVE key pair")
    keys.add_argument("folder", type=Path, metavar="DIR")
    keys.set_defaults(run=_keys)


def _add_procedure(command: argparse.ArgumentParser) -> None:
    command.add_argument("--procedure", type=Path, metavar="FILE", help="steps and polls, TOML")
    command.add_argument(
        "--speak", action="store_true", help="calls and warnings aloud, if there is a voice"
    )


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
    if options.headless:
        return demo_headless(order, say_watching)
    return demo_in_window(order, options.theme)


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
        limits_path=options.limits,
        setup_path=options.setup,
        record=options.record,
        insecure=source.is_insecure,
        procedure=procedure,
        speak=options.speak,
    )
    if not options.headless:
        return watch_in_window(order, clock, source, theme_name=options.theme)
    watch_headless(order, clock, source, lambda: False, say_watching)
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
        mapping=mapping_in(options),
    )
    return feed(order, say)


def _keys(options: argparse.Namespace) -> int:
    from console.link.curve import make_keys

    for path in make_keys(options.folder):
        say(f"wrote {path}")
    return 0
