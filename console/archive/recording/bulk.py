"""All decoded samples of a recording as arrays: sealed blocks in bulk, then the last rows."""

from __future__ import annotations

import sqlite3
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from console.archive.recording.rows import BLOCK_COLUMNS, pack_block, unpack_block
from console.archive.recording.schema import COLUMNS, SAMPLE_STATE
from console.core.ids import SourceId
from console.wire.columns import RelativeColumns

_PLACE = {name: index for index, name in enumerate(BLOCK_COLUMNS)}


def sample_columns(connection: sqlite3.Connection) -> RelativeColumns:
    """Read the table ``samples`` in the order taken; ``row`` holds each sample's frame number."""
    codes = {name: code for code, name in connection.execute("SELECT code, name FROM sources")}
    (sealed,) = connection.execute("SELECT coalesce(sum(rows), 0) FROM blocks").fetchone()
    wanted = ", ".join(COLUMNS["samples"][1:])
    query = f"SELECT {wanted} FROM samples WHERE id > ? ORDER BY id"
    tail = connection.execute(query, (_last_sealed(connection),)).fetchall()
    for row in tail:
        codes.setdefault(row[1], max(codes.values(), default=-1) + 1)
    table = np.empty((len(BLOCK_COLUMNS), sealed + len(tail)), dtype="<f8")
    at = 0
    for rows, data in connection.execute("SELECT rows, data FROM blocks ORDER BY first"):
        table[:, at : at + rows] = unpack_block(data, rows)
        at += rows
    if tail:
        table[:, at:] = unpack_block(pack_block(tail, codes), len(tail))
    return _columns(table, codes)


def _last_sealed(connection: sqlite3.Connection) -> int:
    row = connection.execute(
        "SELECT first + rows - 1 FROM blocks ORDER BY first DESC LIMIT 1"
    ).fetchone()
    return cast("int", row[0]) if row else 0


def _columns(table: NDArray[Any], codes: dict[str, int]) -> RelativeColumns:
    whole = table.view("<i8")
    names = sorted(codes, key=lambda name: codes[name])
    return RelativeColumns(
        row=whole[_PLACE["frame"]],
        sources=tuple(SourceId(name) for name in names),
        source_code=whole[_PLACE["source_code"]].astype(np.int32),
        seq=whole[_PLACE["seq"]],
        t=table[_PLACE["t"]],
        values={name: table[_PLACE[name]] for name in SAMPLE_STATE},
        valid=whole[_PLACE["valid"]] != 0,
    )
