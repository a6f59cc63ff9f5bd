"""The command line. Imports wait until a command is known, so that ``--help`` is instant."""

from __future__ import annotations

import contextlib
import os
import signal
import sys
from collections.abc import Sequence

from console import CAUTION_TEXT, __version__
from console.cli import bench, campaign, live, passes, replay, texts
from console.cli.arguments import REFUSED, Parser
from console.core.errors import InputError


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


def _parser() -> Parser:
    parser = Parser(
        prog="leadmark",
        description="Follow a visiting vehicle's final approach to a docking port.",
        epilog=CAUTION_TEXT,
    )
    parser.add_argument("--version", action="version", version=f"leadmark {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")
    for group in (live, replay, passes, bench, campaign, texts):
        group.add(commands)
    return parser
