"""Whether a recording is being written at this moment, by whatever program on this machine.

Theory of operation
-------------------
The writer holds a shared lock on the write-ahead log, which the system takes back when the program
ends, however it ends; so a killed recording is not taken for one under way. It is a lock of the
open file (``flock``), which is also seen from the same program, and it is on the log because there
SQLite takes no locks of its own that closing a handle would let go. Where the system has no such
lock nothing is told to be under way.
"""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from pathlib import Path

if sys.platform != "win32":
    import fcntl


def hold(path: Path) -> int | None:
    """Mark a recording as being written; give the handle to close in the end, None without one."""
    if sys.platform == "win32":
        return None
    with suppress(OSError):
        handle = os.open(f"{path}-wal", os.O_RDONLY)
        with suppress(OSError):  # a disk without locks; its recordings are not told apart
            fcntl.flock(handle, fcntl.LOCK_SH | fcntl.LOCK_NB)
        return handle
    return None


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
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    except OSError:
        return False
    finally:
        os.close(handle)
    return False
