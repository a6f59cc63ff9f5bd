"""What the commands' arguments share: their kinds of number, and the one way to say a line."""

from __future__ import annotations

import argparse
import contextlib
import errno
import os
import sys
from typing import NoReturn, TypeAlias

REFUSED = 2


class Parser(argparse.ArgumentParser):
    """Refuses in one line, as every other refusal is."""

    def error(self, message: str) -> NoReturn:
        """Say what was wrong with the command line, and end."""
        self.exit(REFUSED, f"{self.prog}: {message} (see {self.prog} --help)\n")


Commands: TypeAlias = "argparse._SubParsersAction[Parser]"  # noqa: SLF001 - it has no public name


def say(line: str) -> None:
    """Print a line at once."""
    print(line, flush=True)


class _Unbuffered:
    """Standard output past Python's buffer: a thread that blocks there would spoil the exit.

    A line that failed half way and is said again goes on where it stopped, so that it comes whole.
    """

    def __init__(self) -> None:
        self._failed: str | None = None
        self._left = b""

    def __call__(self, line: str) -> None:
        """Print a line.

        Raises
        ------
        OSError
            It cannot be written; BrokenPipeError where nobody reads it, BlockingIOError where the
            output is set not to block and has no room.
        """
        out = sys.stdout
        if out is None:  # closed by whoever started us: as print does, nothing is said
            return
        raw = getattr(out.buffer, "raw", out.buffer)
        if line != self._failed:
            self._left = f"{line}\n".encode(out.encoding, "replace")
        self._failed = None
        try:
            while self._left:
                count = raw.write(self._left)
                if count is None:
                    raise BlockingIOError(errno.EAGAIN, os.strerror(errno.EAGAIN))
                self._left = self._left[count:]
        except OSError as error:
            self._failed = line
            error.filename = "standard output"
            raise


say_unbuffered = _Unbuffered()


def say_watching(line: str) -> None:
    """Print a line of a watch; where nobody reads it, tell that the watch has not ended."""
    try:
        say_unbuffered(line)
    except BrokenPipeError:
        words = "leadmark: nothing reads these lines any more; the watch goes on (Ctrl+C ends it)"
        with contextlib.suppress(OSError):
            print(words, file=sys.stderr, flush=True)
        raise


def positive(text: str) -> float:
    """Read a number above 0."""
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0.0 < value < float("inf"):
        raise argparse.ArgumentTypeError(f"{text!r} is not a number above 0")
    return value


def not_negative(text: str) -> int:
    """Read a whole number of 0 or more."""
    if not text.isdigit():
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number of 0 or more")
    return int(text)


def at_least_one(text: str) -> int:
    """Read a whole number of 1 or more."""
    value = not_negative(text)
    if value < 1:
        raise argparse.ArgumentTypeError("at least 1")
    return value
