"""Whether a recording is being written at this moment, by whatever program on this machine.

Theory of operation
-------------------
The writer holds an exclusive lock on the write-ahead log, which the system takes back when the
program ends, however it ends; so a killed recording is not taken for one under way. Whoever asks
tries for a shared one, so that two who ask never see each other; a writer that begins while
somebody asks tries again, for an asker has its lock for a moment only. It is a lock of the
open file (``flock``), which is also seen from the same program, and it is on the log because there
SQLite takes no locks of its own that closing a handle would let go. Where the system has no such
lock nothing is told to be under way.
"""

from __future__ import annotations

import os
import sys
import time
from contextlib import suppress
from pathlib import Path

if sys.platform != "win32":
    import fcntl

TRIES = 100
AGAIN_AFTER_S = 0.001
"""A writer tries so often for its lock, so long after one another."""


def hold(path: Path) -> int | None:
    """Mark a recording as being written; give the handle to close in the end, None without one."""
    if sys.platform == "win32":
        return None
    with suppress(OSError):
        # to write: on a disk of the network only such a handle may take an exclusive lock
        handle = os.open(f"{path}-wal", os.O_RDWR)
        with suppress(OSError):  # a disk without locks; its recordings are not told apart
            _lock(handle)
        return handle
    return None


def _lock(handle: int) -> None:
    for _ in range(TRIES):
        with suppress(BlockingIOError):
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return
        time.sleep(AGAIN_AFTER_S)


def let_go(handle: int) -> None:
    """Take the mark away, also from processes that were begun meanwhile."""
    if sys.platform != "win32":
        with suppress(OSError):
            fcntl.flock(handle, fcntl.LOCK_UN)
    os.close(handle)


def is_being_written(path: Path) -> bool:
    """Tell whether a recording is being written now; False for anything else."""
    if sys.platform == "win32":
        return False
    try:
        handle = os.open(f"{path}-wal", os.O_RDONLY)
    except OSError:
        return False
    try:
        fcntl.flock(handle, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    except OSError:
        return False
    finally:
        os.close(handle)
    return False
