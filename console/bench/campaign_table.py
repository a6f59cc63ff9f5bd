"""A campaign's table: one row a run, as Parquet, the order's hash in its metadata."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from typing import TYPE_CHECKING, Final

from console.bench.campaign_run import MARGIN, OUTSIDE, RAISED, Row
from console.bench.outcome import CONTACT_FIELD
from console.envelope.limits import LimitsFile

if TYPE_CHECKING:
    import pyarrow as pa

HASH_KEY: Final = b"leadmark order"
_NUMBERS: Final = (
    "duration_s",
    "hands_off_s",
    "hands_off_closing_mps",
    "stop_range_m",
    "stop_call_s",
    "first_caution_s",
    "first_warning_s",
)


def schema(limits: LimitsFile, order_hash: str) -> pa.Schema:
    """Give the columns of a campaign's table.

    ``run``, ``seed``, ``faults`` (kinds, by commas), ``contact``, ``captured``,
    ``within_limits``; times before contact and ranges; the true values at contact; and of each
    limit ``raised:ID`` (how often) and ``margin:ID`` (the least), of each contact limit
    ``outside:QUANTITY``.
    """
    import pyarrow as pa

    columns: list[tuple[str, pa.DataType]] = [
        ("run", pa.int64()),
        ("seed", pa.int64()),
        ("faults", pa.string()),
    ]
    columns += [(name, pa.bool_()) for name in ("contact", "captured", "within_limits")]
    columns += [(name, pa.float64()) for name in _NUMBERS]
    columns += [(f"contact_{field}", pa.float64()) for field in CONTACT_FIELD.values()]
    columns += [(OUTSIDE + one.quantity.value, pa.bool_()) for one in limits.contact_limits]
    for limit in limits.limits:
        columns += [(RAISED + limit.id, pa.int32()), (MARGIN + limit.id, pa.float64())]
    return pa.schema(columns, metadata={HASH_KEY: order_hash.encode()})


def part_bytes(rows: Sequence[Row], limits: LimitsFile, order_hash: str) -> bytes:
    """Write rows as one Parquet file."""
    import pyarrow as pa
    from pyarrow import parquet

    table = pa.Table.from_pylist(list(rows), schema=schema(limits, order_hash))
    stream = BytesIO()
    parquet.write_table(table, stream)
    return stream.getvalue()
