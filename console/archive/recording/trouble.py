"""Why a recording cannot be written just now, in words for the screen, and what may mend it."""

from __future__ import annotations

import errno
import sqlite3
from dataclasses import dataclass
from enum import Enum


class Mend(Enum):
    """What to try at the next attempt."""

    AGAIN = "the same file again"
    RESTORE = "write the whole file anew under a free name"
    CONTINUE = "go on in a new file"


@dataclass(frozen=True, slots=True)
class Trouble:
    """One reason, as shown after ``recording stopped:``."""

    reason: str
    mend: Mend = Mend.AGAIN


REMOVED = Trouble("the file was removed or replaced", Mend.RESTORE)

_FULL = "the disk is full"
_NO_WRITE = "the folder cannot be written"
DAMAGED = Trouble("the file was damaged from outside", Mend.CONTINUE)

_BY_NAME = {
    "SQLITE_READONLY_DBMOVED": REMOVED,
    "SQLITE_FULL": Trouble(_FULL),
    "SQLITE_READONLY": Trouble("the file or its folder cannot be written"),
    "SQLITE_PERM": Trouble(_NO_WRITE),
    "SQLITE_CANTOPEN": Trouble(_NO_WRITE),
    "SQLITE_BUSY": Trouble("another program holds the file"),
    "SQLITE_LOCKED": Trouble("another program holds the file"),
    "SQLITE_CORRUPT": DAMAGED,
    "SQLITE_NOTADB": DAMAGED,
    "SQLITE_ERROR": DAMAGED,  # its tables are gone
}
_BY_NUMBER = {
    errno.ENOSPC: _FULL,
    errno.EDQUOT: "the disk quota is used up",
    errno.EACCES: _NO_WRITE,
    errno.EPERM: _NO_WRITE,
    errno.EROFS: "the disk is read-only",
    errno.ENOENT: "the folder is gone",
    errno.ENOTDIR: "its folder is a file",
    errno.EEXIST: "its folder is a file",
}


def trouble_of(error: sqlite3.Error | OSError) -> Trouble:
    """Give the trouble behind an error of SQLite or of the system."""
    if isinstance(error, OSError):
        reason = _BY_NUMBER.get(error.errno or 0)
        return Trouble(reason or f"the system says: {error.strerror or error}")
    name = getattr(error, "sqlite_errorname", "") or ""
    # Extended names, such as SQLITE_IOERR_WRITE, begin with the plain ones.
    for plain, trouble in _BY_NAME.items():
        if name.startswith(plain):
            return trouble
    if name.startswith("SQLITE_IOERR"):
        return Trouble("the disk does not take the data")
    return Trouble(f"the database says: {error}")
