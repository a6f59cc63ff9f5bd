"""What must hold of any reader, and where its files stand while it is fuzzed."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

from console.core.errors import InputError

LONGEST_LINE = 3000
"""Characters of a refusal, with up to four of its faults told in full."""


class BrokenError(AssertionError):
    """A property does not hold."""


def require(holds: bool, words: str) -> None:
    """Raise unless something holds; unlike ``assert`` it also does when optimised."""
    if not holds:
        raise BrokenError(words)


def check_refusal(error: InputError, name: str) -> None:
    """Hold that a refusal is one line a terminal can show, with file, fault and mend."""
    line = str(error)
    require(name in line, f"the file is not named: {line!r}")
    require(len(line.splitlines()) == 1, f"more than one line: {line!r}")
    require(line.isprintable(), f"not printable: {line!r}")
    require(len(line) <= LONGEST_LINE, f"{len(line)} characters: {line[:200]!r}")
    require(bool(error.faults), "no fault in it")
    for fault in error.faults:
        require(bool(fault.found.strip()), f"not said what was found: {line!r}")
        require(bool(fault.mend.strip()), f"not said how to mend it: {line!r}")


@cache
def folder() -> Path:
    """Give a folder for the files of a run, in memory where the system has such a place."""
    shared = Path("/dev/shm")
    where = str(shared) if shared.is_dir() else None
    made = tempfile.TemporaryDirectory(prefix="fuzzed-", dir=where)
    _kept.append(made)
    return Path(made.name)


_kept: list[tempfile.TemporaryDirectory[str]] = []  # gone with the process
