"""Find out what a file is and make it readable: as it stands, from a copy, or salvaged."""

from __future__ import annotations

import errno
import os
import shutil
import sqlite3
import tempfile
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

from console.archive.places import SUFFIX
from console.archive.recording.pages import MAGIC
from console.archive.recording.salvage import Damage, salvage
from console.archive.recording.schema import APPLICATION_ID, COLUMNS, VERSION
from console.core.errors import InputError

_APPLICATION_AT = slice(68, 72)
_VERSION_AT = slice(60, 64)
BUSY_S = 5.0


@dataclass(frozen=True, slots=True)
class Opened:
    """A file SQLite can read.

    Attributes
    ----------
    path : Path
        The recording itself, or a stand-in below ``folder``.
    folder : Path or None
        A temporary folder, for the caller to remove in the end.
    damage : Damage or None
        What was salvaged, where it had to be.
    """

    path: Path
    folder: Path | None = None
    damage: Damage | None = None


def is_recording(path: Path) -> bool:
    """Tell by its first bytes, or by its name, whether a file is taken for a recording."""
    with suppress(OSError), path.open("rb") as file:
        return file.read(16) == MAGIC or path.suffix == SUFFIX
    return path.suffix == SUFFIX


def connect(path: Path) -> sqlite3.Connection:
    """Connect for reading alone."""
    uri = f"{path.absolute().as_uri()}?mode=ro"
    return sqlite3.connect(
        uri, uri=True, timeout=BUSY_S, isolation_level=None, check_same_thread=False
    )


def open_file(path: Path) -> Opened:
    """Make a recording readable.

    Raises
    ------
    InputError
        No such file, empty, not a recording, made by a newer version, or so damaged that no
        frame can be read.
    """
    head = _head(path)
    if head[:16] == MAGIC:
        _check_kind(path, head)
        problem = _CANNOT_OPEN if _refuses_changes(path) else _problem(path)
        if problem is None:
            return Opened(path)
        if problem == _CANNOT_OPEN:
            # A log in a folder that cannot be written, of a killed watch or of this very program
            # on a disk that has turned so: SQLite needs to write there.
            copied = _copied(path)
            problem = _problem(copied.path)
            if problem is None:
                return copied
            remove_folder(copied.folder)
    else:
        problem = "its first page is not SQLite's"
    return _salvaged(path, problem)


_CANNOT_OPEN = "cannot be opened"


def _head(path: Path) -> bytes:
    name = str(path)
    try:
        with path.open("rb") as file:
            head = file.read(100)
    except FileNotFoundError:
        raise InputError.of(name, "", "no such file", "check the name") from None
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError.of(name, "", f"cannot be read: {reason}", "check its rights") from None
    if not head:
        raise InputError.of(name, "", "empty: nothing was recorded", "choose another file")
    if head[:16] != MAGIC and path.suffix != SUFFIX:
        raise InputError.of(name, "", "not a recording", "give a file made by this program")
    return head


def _check_kind(path: Path, head: bytes) -> None:
    name = str(path)
    version = int.from_bytes(head[_VERSION_AT], "big")
    if int.from_bytes(head[_APPLICATION_AT], "big") != APPLICATION_ID:
        raise InputError.of(
            name, "", "a SQLite file, but no recording", "give a file made by this program"
        )
    if version > VERSION:
        raise InputError.of(
            name,
            "",
            f"made by a newer version (format {version}, this one reads up to {VERSION})",
            "open it with that version",
        )


def _refuses_changes(path: Path) -> bool:
    """Tell whether the log's index is on a disk that takes nothing any more.

    Where this program records there it has the index in mapped memory, and SQLite's reading,
    which notes itself in it, would end the process instead of failing (see ``Store.ask_disk``).
    """
    try:
        os.utime(f"{path}-shm")  # not opened: closing it would let go SQLite's locks
    except OSError as error:
        return error.errno in (errno.EPERM, errno.EROFS, errno.EIO)
    return False


def _problem(path: Path) -> str | None:
    """Tell what is wrong with a file, or None."""
    try:
        with closing(connect(path)) as connection:
            (verdict,) = connection.execute("PRAGMA quick_check(1)").fetchone()
            tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_schema")}
    except sqlite3.DatabaseError as error:
        name = getattr(error, "sqlite_errorname", "") or ""
        unopened = name.startswith(("SQLITE_CANTOPEN", "SQLITE_READONLY"))
        return _CANNOT_OPEN if unopened else str(error)
    except UnicodeDecodeError:  # of the words SQLite has for it, or of a table's name
        return "its schema holds text that is not UTF-8"
    if verdict != "ok":
        return str(verdict).splitlines()[-1]
    if not tables.issuperset(COLUMNS):
        return "tables are missing"
    return None


def _copied(path: Path) -> Opened:
    folder = Path(tempfile.mkdtemp(prefix="leadmark-"))
    try:
        for tail in ("", "-wal"):
            part = Path(f"{path}{tail}")
            if part.is_file():
                shutil.copyfile(part, folder / f"{path.name}{tail}")
    except OSError as error:
        remove_folder(folder)
        raise InputError.of(
            str(path), "", f"cannot be copied to be read: {error.strerror}", "free some space"
        ) from None
    return Opened(folder / path.name, folder)


def _salvaged(path: Path, problem: str) -> Opened:
    folder = Path(tempfile.mkdtemp(prefix="leadmark-"))
    try:
        damage = salvage(path, folder / path.name, problem)
    except InputError:
        remove_folder(folder)
        raise
    if not damage.frames and not damage.other_rows:
        remove_folder(folder)
        raise InputError.of(
            str(path),
            "",
            f"not a recording, or damaged so that nothing can be read ({problem})",
            "restore it from a copy",
        )
    return Opened(folder / path.name, folder, damage)


def remove_folder(folder: Path | None) -> None:
    """Remove the temporary folder of a copy, where there is one."""
    if folder is not None:
        shutil.rmtree(folder, ignore_errors=True)
