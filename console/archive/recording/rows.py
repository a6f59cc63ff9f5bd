"""Records, actions and events to rows of the tables, and blocks of samples for bulk reading."""

from __future__ import annotations

from collections.abc import Sequence
from operator import attrgetter
from typing import TypeAlias

import msgspec
import numpy as np
from numpy.typing import NDArray

from console.archive.recording.schema import SAMPLE_STATE
from console.core.records import CaptureStatus, RelativeSample

Row: TypeAlias = tuple[object, ...]

HEAD_BYTES = 64
# A block holds these columns one after the other, 8 bytes a value, little-endian: whole numbers
# as int64, the others as float64 with NaN for an absent rate.
BLOCK_COLUMNS = ("frame", "source_code", "seq", "t", *SAMPLE_STATE, "valid")
WHOLE_COLUMNS = frozenset({"frame", "source_code", "seq", "valid"})

_json = msgspec.json.Encoder()
_sample_fields = attrgetter("source", "seq", "t", *SAMPLE_STATE, "valid")


def sample_row(number: int, sample: RelativeSample) -> Row:
    """Give a row of ``samples`` without its id."""
    return (number, *_sample_fields(sample))


def capture_row(number: int, status: CaptureStatus) -> Row:
    """Give a row of ``capture`` without its id."""
    return (
        number,
        status.source,
        status.seq,
        status.t,
        status.contact,
        status.soft_capture,
        status.ring_extension,
        _list_text(status.ready_to_hook),
        _list_text(status.hooks),
        status.hard_capture,
        status.vestibule_kpa,
        status.vestibule_degc,
        status.rel_rate_mps,
        status.rel_rate_dps,
    )


def exact_text(data: bytes) -> str | bytes:
    """Give bytes as text where that loses nothing, so that SQL reads them; else as they are."""
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        return data
    return data if "\0" in text else text


def exact_bytes(value: str | bytes) -> bytes:
    """Undo :func:`exact_text`."""
    return value.encode("utf-8") if isinstance(value, str) else value


def pack_block(rows: Sequence[Row], codes: dict[str, int]) -> bytes:
    """Pack rows of ``samples`` (without id) into a block.

    Parameters
    ----------
    rows : sequence of tuple
        As :func:`sample_row` makes them.
    codes : dict of str to int
        Code of each source's name.
    """
    columns = list(zip(*rows, strict=True))
    block = np.empty((len(BLOCK_COLUMNS), len(rows)), dtype="<f8")
    whole = block.view("<i8")
    for index, (name, column) in enumerate(zip(BLOCK_COLUMNS, columns, strict=True)):
        if name == "source_code":
            whole[index] = [codes[source] for source in column]
        elif name in WHOLE_COLUMNS:
            whole[index] = column
        else:
            block[index] = column  # numpy makes NaN of None
    return block.tobytes()


def unpack_block(data: bytes, rows: int) -> NDArray[np.float64]:
    """Give a block as an array, shape (columns, rows); whole columns by ``.view("<i8")``.

    Raises
    ------
    ValueError
        The data has not the length of so many rows.
    """
    return np.frombuffer(data, dtype="<f8").reshape(len(BLOCK_COLUMNS), rows)


def _list_text(items: tuple[object, ...] | None) -> str | None:
    return None if items is None else _json.encode(items).decode()
