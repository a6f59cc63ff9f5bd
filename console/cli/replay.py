"""The command that opens a recorded pass."""

from __future__ import annotations

import argparse
import math
from pathlib import Path

from console.cli.arguments import Commands, positive, say_unbuffered
from console.cli.mapping import add_mapping, mapping_in

FULL_SPEED = "max"


def add(commands: Commands) -> None:
    """Add it to the command line."""
    replay = commands.add_parser("replay", help="open a recorded pass in the window, or as text")
    replay.add_argument("one", type=Path, metavar="PASS")
    replay.add_argument(
        "--limits", type=Path, metavar="FILE", help="judge by these instead of the pass's own"
    )
    replay.add_argument("--setup", type=Path, metavar="FILE")
    replay.add_argument(
        "--at",
        default="",
        metavar="PLACE",
        help="begin at a range (15m), a UTC time (09:31:07) or a time from the begin (+2:00)",
    )
    replay.add_argument(
        "--speed",
        type=_speed,
        default=1.0,
        metavar="X",
        help=f"pass seconds a second; {FULL_SPEED}",
    )
    replay.add_argument(
        "--overlay", type=Path, metavar="PASS2", help="a second pass laid over the lanes"
    )
    add_mapping(replay)
    replay.add_argument("--theme", choices=("dark", "light"), default="dark")
    replay.add_argument("--headless", action="store_true", help="calls and exceedances as text")
    replay.set_defaults(run=_replay)


def _speed(text: str) -> float:
    return math.inf if text == FULL_SPEED else positive(text)


def _replay(options: argparse.Namespace) -> int:
    from console.app.replay_headless import ReplayOrder, replay_headless
    from console.app.screen import require_screen

    if not options.headless:
        require_screen("replay")
    order = ReplayOrder(
        path=options.one,
        limits=options.limits,
        setup=options.setup,
        mapping=mapping_in(options),
        at=options.at,
        speed=options.speed,
        overlay=options.overlay,
    )
    if options.headless:
        replay_headless(order, say_unbuffered)
        return 0
    from console.app.replay_window import replay_in_window

    return replay_in_window(order, options.theme)
