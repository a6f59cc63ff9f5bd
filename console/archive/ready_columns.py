"""Passes made ready for judging, kept beside the user's data so that they are made once.

A file holds a line of facts as JSON and a table of numbers that is mapped into memory, not read:
what nobody asks for costs nothing. It is found by its key, which names everything its content
follows from; a file that is damaged or of another form is as good as none.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
from numpy.typing import NDArray

from console.archive.places import data_folder
from console.archive.whole_file import whole_file
from console.core.errors import InputError

FOLDER = "ready passes"
SUFFIX = ".columns"
MAGIC = b"leadmark columns 1\n"
ALIGNED = 64
MOST_BYTES = 8 * 2**30
"""Beyond this the files not used for longest are removed."""

Table = NDArray[np.float64]


def ready_folder() -> Path:
    """Give the folder of ready passes, not yet made."""
    return data_folder() / FOLDER


def read_ready(key: str) -> tuple[dict[str, Any], Table] | None:
    """Give facts and table kept under a key, None where there is no good file of it.

    Returns
    -------
    facts : dict
    table : ndarray, shape (columns, n)
        Mapped, read only.
    """
    path = ready_folder() / f"{key}{SUFFIX}"
    try:
        with path.open("rb") as file:
            if file.readline() != MAGIC:
                return None
            facts = msgspec.json.decode(file.readline(), type=dict)
            shape = (int(facts.pop("columns")), int(facts.pop("rows")))
            offset = _aligned(file.tell())
        os.utime(path)
        if path.stat().st_size != offset + 8 * shape[0] * shape[1]:
            return None
        if not shape[1]:
            return facts, np.zeros(shape)
        return facts, np.memmap(path, np.float64, "r", offset, shape)
    except (OSError, ValueError, KeyError, msgspec.MsgspecError):
        return None


def keep_ready(key: str, facts: dict[str, Any], table: Table) -> bool:
    """Keep a pass under a key; tell whether that was possible (a full disk is no fault here)."""
    path = ready_folder() / f"{key}{SUFFIX}"
    columns, rows = table.shape
    head = MAGIC + msgspec.json.encode({**facts, "columns": columns, "rows": rows}) + b"\n"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with whole_file(path) as part, part.open("wb") as file:
            file.write(head.ljust(_aligned(len(head)), b"\0"))
            file.write(np.ascontiguousarray(table, np.float64).tobytes())
    except (OSError, InputError):
        return False
    return True


def prune_ready(in_use: Sequence[str] = (), most_bytes: int = MOST_BYTES) -> int:
    """Remove the files not used for longest until the rest is within bounds; count them."""
    used = {f"{key}{SUFFIX}" for key in in_use}
    found = []
    with suppress(OSError):
        for path in ready_folder().glob(f"*{SUFFIX}"):
            with suppress(OSError):
                about = path.stat()
                found.append((about.st_mtime, about.st_size, path))
    total, removed = sum(size for _, size, _ in found), 0
    for _, size, path in sorted(found):
        if total <= most_bytes:
            break
        if path.name not in used:
            with suppress(OSError):
                path.unlink()
                total, removed = total - size, removed + 1
    return removed


def _aligned(length: int) -> int:
    return -(-length // ALIGNED) * ALIGNED
