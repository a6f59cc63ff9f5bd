"""Give back what can still be read of a damaged recording, as a new recording.

The rows are taken from the pages themselves and told apart by number and kind of their columns,
so a cut file, a lost first page or a garbled stretch in the middle costs only the rows that stood
there. What is missing between frames that were found is noted in the table ``gaps``.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from contextlib import closing, suppress
from dataclasses import dataclass
from itertools import islice, pairwise
from pathlib import Path

import msgspec

from console.approach.action import AnyAction
from console.archive.recording.pages import PageFile, Value
from console.archive.recording.schema import (
    APPLICATION_ID,
    COLUMNS,
    TABLES,
    VERSION,
    insert_of,
)
from console.core.errors import InputError, one_line
from console.core.utc import format_utc

BATCH_ROWS = 10_000
DAMAGED = "damaged"
LONGEST_REASON = 240

_WHOLE = (int,)
_NUMBER = (int, float)
_TEXT = (str,)
_DATA = (str, bytes)
_ROWID = (type(None),)
# The kinds of the columns that tell a table; the rest is told by their number.
_SHAPES: tuple[tuple[str, tuple[tuple[type, ...], ...]], ...] = (
    ("meta", (_TEXT, _TEXT)),
    ("frames", (_ROWID, _NUMBER, _DATA, (bytes,))),
    ("actions", (_ROWID, _WHOLE, _NUMBER, _TEXT)),
    ("ends", (_ROWID, _NUMBER)),
    ("unfed", (_ROWID,)),
    ("gaps", (_ROWID, _WHOLE, _WHOLE, _WHOLE)),
    ("samples", (_ROWID, _WHOLE, _TEXT, _WHOLE, _NUMBER)),
    ("capture", (_ROWID, _WHOLE, _TEXT, _WHOLE, _NUMBER)),
    ("events", (_ROWID, _WHOLE, _TEXT)),
    ("notes", (_ROWID, _NUMBER, _TEXT, _TEXT, _TEXT)),
    ("rejects", (_ROWID, _WHOLE, _NUMBER, _TEXT, _TEXT, (bytes,))),
)


@dataclass(frozen=True, slots=True)
class Damage:
    """What a damaged recording still gave.

    Attributes
    ----------
    reason : str
        How the damage showed.
    frames : int
        Frames read.
    missing : int
        Frames missing before the last one read; how many came after is not known.
    t_first, t_last : float or None
        Receive times of the first and last frame read.
    other_rows : int
        Rows of other tables read.
    unread_cells : int
        Rows seen that could not be read.
    has_facts : bool
        Whether the watch's facts, limits included, were among what was read.
    """

    reason: str
    frames: int
    missing: int
    t_first: float | None
    t_last: float | None
    other_rows: int
    unread_cells: int
    has_facts: bool

    @property
    def words(self) -> str:
        """One line for a person: how much, from when to when."""
        if self.t_first is None or self.t_last is None:
            rest = f"no frame could be read, {self.other_rows} rows of other tables"
            return f"damaged ({self.reason}): {rest}"
        span = f"{format_utc(self.t_first)} to {format_utc(self.t_last)}"
        lost = f", {self.missing} missing before the last" if self.missing else ""
        facts = "" if self.has_facts else "; its limits and other facts are lost"
        return f"damaged ({self.reason}): {self.frames} frames read, {span}{lost}{facts}"


def salvage(damaged: Path, target: Path, reason: str = "asked for") -> Damage:
    """Write what can be read of a recording into a new one.

    Parameters
    ----------
    damaged : Path
        Only read.
    target : Path
        Must not exist.

    Raises
    ------
    InputError
        The file cannot be read at all, or the target cannot be written.
    """
    try:
        pages = PageFile(damaged)
        if target.exists():
            raise InputError.of(str(target), "", "stands already", "give another name")
        with closing(sqlite3.connect(target, isolation_level=None)) as connection:
            connection.execute(f"PRAGMA application_id={APPLICATION_ID}")
            connection.execute(f"PRAGMA user_version={VERSION}")
            connection.executescript("PRAGMA synchronous=OFF; BEGIN;" + TABLES)
            _copy(pages, connection)
            damage = _measured(connection, pages, one_line(reason, LONGEST_REASON))
            connection.execute("COMMIT")
    except (OSError, sqlite3.Error) as error:
        raise InputError.of(
            str(damaged), "", f"cannot be salvaged: {error}", "copy it elsewhere and try again"
        ) from None
    return damage


def table_of(values: tuple[Value, ...]) -> str | None:
    """Tell the table a row comes from, or None for a row of none that is salvaged."""
    for table, shape in _SHAPES:
        if len(values) == len(COLUMNS[table]) and all(
            isinstance(value, kinds) for value, kinds in zip(values, shape, strict=False)
        ):
            return table
    return None


def _copy(pages: PageFile, connection: sqlite3.Connection) -> None:
    rows = pages.rows()
    while batch := list(islice(rows, BATCH_ROWS)):
        sorted_out: dict[str, list[tuple[Value, ...]]] = {}
        for rowid, values in batch:
            table = table_of(values)
            if table == "actions" and not _is_action(values[-1]):
                pages.unread += 1
            elif table is not None:
                full = values if values[0] is not None else (rowid, *values[1:])
                sorted_out.setdefault(table, []).append(full)
        for table, found in sorted_out.items():
            _insert(connection, table, found)


def _is_action(body: Value) -> bool:
    try:
        msgspec.json.decode(str(body), type=AnyAction)
    except msgspec.MsgspecError:
        return False
    return True


def _insert(connection: sqlite3.Connection, table: str, rows: Iterable[tuple[Value, ...]]) -> None:
    statement = insert_of(table).replace("INSERT INTO", "INSERT OR IGNORE INTO")
    for row in rows:
        with suppress(sqlite3.Error, OverflowError):
            connection.execute(statement, row)


def _measured(connection: sqlite3.Connection, pages: PageFile, reason: str) -> Damage:
    numbers = [row[0] for row in connection.execute("SELECT id FROM frames ORDER BY id")]
    missing = 0
    known = "SELECT 1 FROM gaps WHERE first <= ? AND last >= ?"  # never recorded: no damage
    for before, after in pairwise([0, *numbers]):
        if (
            after != before + 1
            and not connection.execute(known, (before + 1, after - 1)).fetchone()
        ):
            missing += after - before - 1
            gap = (None, before + 1, after - 1, after - before - 1, None, None, DAMAGED)
            connection.execute(insert_of("gaps"), gap)
    ends = "SELECT t_received FROM frames ORDER BY id {} LIMIT 1"
    first = connection.execute(ends.format("ASC")).fetchone()
    last = connection.execute(ends.format("DESC")).fetchone()
    others = [table for table, _ in _SHAPES if table not in {"frames", "meta", "gaps"}]
    counts = [connection.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in others]
    facts = connection.execute("SELECT count(*) FROM meta WHERE key = 'limits_text'").fetchone()[0]
    return Damage(
        reason=reason,
        frames=len(numbers),
        missing=missing,
        t_first=first[0] if first else None,
        t_last=last[0] if last else None,
        other_rows=sum(counts),
        unread_cells=pages.unread,
        has_facts=facts > 0,
    )
