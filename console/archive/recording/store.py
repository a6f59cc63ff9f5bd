"""The SQLite side of a recording: make it, write batches, bring it back, end it. No threads.

A batch is one transaction with ``synchronous=FULL`` in write-ahead mode: what is committed is on
the disk, and a kill at any moment leaves a file that opens and holds every committed batch.
"""

from __future__ import annotations

import ctypes
import os
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from itertools import chain
from pathlib import Path

from console.archive.places import COMPANIONS, free_path
from console.archive.recording import under_way
from console.archive.recording.meta import RecordingMeta
from console.archive.recording.pages import LOG_MAGICS, MAGIC
from console.archive.recording.rows import Row, pack_block
from console.archive.recording.schema import (
    APPLICATION_ID,
    BLOCK_ROWS,
    TABLES,
    VERSION,
    insert_of,
)
from console.core.errors import InputError

BUSY_S = 1.0
INDEX_SPARE_BYTE = 120
"""In the log's index: one of those SQLite keeps for locks and neither reads nor writes (SQLite's
wal.c, ``WalCkptInfo.aLock`` behind two headers of 48 bytes)."""
SYNCHRONOUS = "FULL"
# Inputs last: an event or sample is never committed before the frame it comes from.
_ORDER = ("events", "samples", "capture", "rejects", "notes", "unfed", "actions", "ends", "gaps")
TABLE_ORDER = (*_ORDER, "meta", "frames")
# Each statement hands Python's lock to the other threads and must get it back: rows that come in
# crowds go in by so many a statement, or a flood would wait for that lock at every row.
ROWS_A_STATEMENT = 50
_NUMBERED_BY_SQLITE = frozenset({"events", "capture", "rejects", "notes", "actions", "gaps"})
# A row that cannot be stored, whatever the state of the disk.
_BAD_ROW = (
    sqlite3.IntegrityError,
    sqlite3.InterfaceError,
    sqlite3.ProgrammingError,
    OverflowError,
    UnicodeError,
)


class Store:
    """One recording's file, open for writing.

    Attributes
    ----------
    path : Path
        Where it stands.
    refused_rows : int
        Rows that could not be stored and were left away, such as a number beyond 64 bits.
    """

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self.refused_rows = 0
        self._connection = connection
        self._identity = _identity(path)
        # Held open as long as the connection: closing any handle to the file lets go SQLite's
        # locks on it, by the rules of POSIX.
        self._handle = os.open(path, os.O_RDONLY) if hasattr(os, "pread") else None
        try:
            self._index = os.open(f"{path}-shm", os.O_RDWR) if hasattr(os, "pwrite") else None
        except OSError:
            if self._handle is not None:
                os.close(self._handle)
            raise
        self._mark = under_way.hold(path)
        self._next_sample = 1
        self._codes: dict[str, int] = {}
        self._unsealed: list[Row] = []

    @classmethod
    def create(cls, path: Path, meta: RecordingMeta, synchronous: str = SYNCHRONOUS) -> Store:
        """Make a new recording.

        Raises
        ------
        InputError
            Something stands at the path: a recording is never overwritten, and two consoles
            never write to one file.
        OSError, sqlite3.Error
            It cannot be made just now.
        """
        path.parent.mkdir(parents=True, exist_ok=True)
        if free_path(path) != path:
            raise _taken(path)
        try:
            # Claims the name against a second console that starts at the same moment.
            os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o644))
        except FileExistsError:
            raise _taken(path) from None
        with _new_connection(path) as connection:
            _set_up(connection, synchronous)
            connection.execute("BEGIN IMMEDIATE")
            _run_script(connection, TABLES)
            connection.executemany(insert_of("meta"), meta.rows())
            connection.execute("COMMIT")
            return cls(path, connection)

    def is_intact(self) -> bool:
        """Tell whether the file still stands where it was made (and is no other file)."""
        return _identity(self.path) == self._identity

    def is_overwritten(self) -> bool:
        """Tell whether somebody else wrote over the begin of the file or of its log, or cut it.

        SQLite itself would find out only when it reads there again, and write on until then.
        """
        if self._handle is None:
            return False
        if os.pread(self._handle, len(MAGIC), 0) != MAGIC:
            return True
        try:
            with Path(f"{self.path}-wal").open("rb") as log:
                head = log.read(len(LOG_MAGICS[0]))
        except FileNotFoundError:
            return False
        return bool(head) and head not in LOG_MAGICS

    def ask_disk(self) -> None:
        """Ask whether the log's index can be written, which SQLite does in mapped memory.

        On a disk that has turned read-only that gives no error: it ends the process (SIGBUS).

        Raises
        ------
        OSError
            It cannot; nothing may be asked of SQLite, not even to close.
        """
        if self._index is not None:
            os.pwrite(self._index, b"\0", INDEX_SPARE_BYTE)

    def write(self, batch: Mapping[str, Sequence[Row]]) -> None:
        """Write rows of tables in one transaction.

        Parameters
        ----------
        batch : mapping of str to sequence of tuple
            Rows by table; those of ``samples``, ``capture``, ``events``, ``actions``, ``notes``,
            ``rejects`` and ``gaps`` without their id.

        Raises
        ------
        OSError, sqlite3.Error
            Nothing was written; the same batch may be tried again.
        """
        self.ask_disk()
        try:
            self._write(batch, one_by_one=False)
        except _BAD_ROW:
            self._write(batch, one_by_one=True)

    def restored(self) -> Store:
        """Write everything this store holds to a new file, under a free name beside the old.

        The open connection still reads the removed file, so nothing committed is lost.

        Raises
        ------
        OSError, sqlite3.Error
            It cannot be done just now, or what was committed is no longer readable.
        """
        path = free_path(self.path)
        path.parent.mkdir(parents=True, exist_ok=True)
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o644))
        with _new_connection(path) as target:
            self._connection.backup(target)
            _set_up(target, SYNCHRONOUS)
            made = Store(path, target)
        made.refused_rows = self.refused_rows
        made._next_sample = self._next_sample
        made._codes = self._codes
        made._unsealed = self._unsealed
        self.abandon()
        return made

    def finish(self) -> None:
        """Move everything into the one file and leave write-ahead mode, so that it reads anywhere.

        Where a reader holds the file the log stays beside it, which is as good.
        """
        with suppress(sqlite3.Error, OSError):
            self.ask_disk()
            self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
            self._connection.execute("PRAGMA journal_mode=DELETE").fetchall()
        self.abandon()

    def abandon(self) -> None:
        """Close without further ado; SQLite leaves a moved file's companions alone.

        Where the disk takes nothing the file is left open for good: closing would write there.
        """
        try:
            self.ask_disk()
        except OSError:
            ctypes.pythonapi.Py_IncRef(ctypes.py_object(self._connection))
            return
        with suppress(sqlite3.Error):
            self._connection.close()
        if self._mark is not None:
            under_way.let_go(self._mark)
            self._mark = None
        for handle in (self._handle, self._index):
            if handle is not None:
                os.close(handle)
        self._handle = self._index = None

    def _write(self, batch: Mapping[str, Sequence[Row]], *, one_by_one: bool) -> None:
        connection = self._connection
        codes = dict(self._codes)
        unsealed = list(self._unsealed)
        next_sample = self._next_sample
        refused = 0
        connection.execute("BEGIN IMMEDIATE")
        try:
            for table in TABLE_ORDER:
                rows = batch.get(table, ())
                if not rows:
                    continue
                stored, bad = self._insert(table, rows, next_sample, one_by_one=one_by_one)
                refused += bad
                if table == "samples":
                    next_sample += len(stored)
                    unsealed = self._seal([*unsealed, *stored], codes, next_sample)
            connection.execute("COMMIT")
        except BaseException:
            with suppress(sqlite3.Error):
                connection.execute("ROLLBACK")
            raise
        self._codes, self._unsealed = codes, unsealed
        self._next_sample = next_sample
        self.refused_rows += refused

    def _insert(
        self, table: str, rows: Sequence[Row], next_sample: int, *, one_by_one: bool
    ) -> tuple[Sequence[Row], int]:
        """Insert rows; give those that were stored and how many could not be."""
        statement = insert_of(table)
        if not one_by_one:
            full = _with_ids(table, rows, next_sample)
            crowd = len(full) - len(full) % ROWS_A_STATEMENT
            if crowd:
                self._connection.executemany(
                    insert_of(table, ROWS_A_STATEMENT), _crowds(full[:crowd])
                )
            self._connection.executemany(statement, full[crowd:])
            return rows, 0
        stored: list[Row] = []
        for row in rows:
            full = _with_ids(table, [row], next_sample + len(stored))
            try:
                self._connection.executemany(statement, full)
            except _BAD_ROW:
                continue
            stored.append(row)
        return stored, len(rows) - len(stored)

    def _seal(self, rows: list[Row], codes: dict[str, int], next_sample: int) -> list[Row]:
        """Write the full blocks there are, give the rows that are left for the next."""
        first = next_sample - len(rows)
        start = 0
        while len(rows) - start >= BLOCK_ROWS:
            part = rows[start : start + BLOCK_ROWS]
            for name in dict.fromkeys(str(row[1]) for row in part):
                if name not in codes:
                    codes[name] = len(codes)
                    self._connection.execute(insert_of("sources"), (codes[name], name))
            block = (first + start, BLOCK_ROWS, pack_block(part, codes))
            self._connection.execute(insert_of("blocks"), block)
            start += BLOCK_ROWS
        return rows[start:]


def _crowds(rows: Sequence[Row]) -> Iterator[list[object]]:
    """Give the values of each :data:`ROWS_A_STATEMENT` rows one after the other."""
    for start in range(0, len(rows), ROWS_A_STATEMENT):
        yield list(chain.from_iterable(rows[start : start + ROWS_A_STATEMENT]))


def _with_ids(table: str, rows: Sequence[Row], first: int) -> list[Row]:
    if table == "samples":
        return [(first + index, *row) for index, row in enumerate(rows)]
    if table in _NUMBERED_BY_SQLITE:
        return [(None, *row) for row in rows]
    return list(rows)


@contextmanager
def _new_connection(path: Path) -> Iterator[sqlite3.Connection]:
    """Connect to a file just made, and take it away again if what follows fails."""
    # Made in one thread, used in another, never in two at once.
    connection = sqlite3.connect(
        path, timeout=BUSY_S, isolation_level=None, check_same_thread=False
    )
    try:
        yield connection
    except BaseException:
        with suppress(sqlite3.Error):
            connection.close()
        for tail in (*COMPANIONS, ""):
            with suppress(OSError):
                Path(f"{path}{tail}").unlink()
        raise


def _set_up(connection: sqlite3.Connection, synchronous: str) -> None:
    # Before write-ahead mode, so that they stand in the file itself from the first moment.
    connection.execute(f"PRAGMA application_id={APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version={VERSION}")
    connection.execute("PRAGMA journal_mode=WAL").fetchall()
    connection.execute(f"PRAGMA synchronous={synchronous}")
    # Fewer, larger checkpoints: a fifth less time at a thousand samples a transaction.
    connection.execute("PRAGMA wal_autocheckpoint=4000").fetchall()
    connection.execute("PRAGMA journal_size_limit=33554432").fetchall()


def _run_script(connection: sqlite3.Connection, script: str) -> None:
    # executescript would commit the transaction it stands in.
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            connection.execute(statement)
            statement = ""


def _identity(path: Path) -> tuple[int, int] | None:
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_dev, status.st_ino


def _taken(path: Path) -> InputError:
    return InputError.of(
        str(path),
        "",
        "stands already, from an earlier watch or another console that records now",
        "give another name: recordings are never overwritten",
    )
