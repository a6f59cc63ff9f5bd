"""Read and write a recorded pass as Parquet: the same columns as in CSV, typed."""

from __future__ import annotations

from collections.abc import Iterable
from collections.abc import Mapping as MappingOf
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

import msgspec
import numpy as np
from numpy.typing import NDArray

from console.archive.field_columns import plan_fields
from console.archive.mapping import Mapping
from console.archive.recorded_pass import Pass, pass_of_table
from console.archive.table_build import TableBuilder
from console.archive.whole_file import whole_file
from console.core.errors import InputError
from console.core.foreign_json import BAD_JSON
from console.core.records import CaptureStatus, RelativeSample
from console.wire.rules import CAPTURE_FLAGS
from console.wire.table import COLUMNS

if TYPE_CHECKING:
    import pyarrow as pa

Column: TypeAlias = NDArray[Any]

BATCH_ROWS = 65_536
HEADER_KEY = b"leadmark"


def read_parquet_pass(path: Path, mapping: Mapping | None = None) -> Pass:
    """Read a Parquet file.

    Parameters
    ----------
    path : Path
    mapping : Mapping, optional
        For columns that have other names, units or directions.

    Returns
    -------
    Pass
        In order of ``t``, then source, then ``seq``; rows that do not validate are counted.

    Raises
    ------
    InputError
        The file cannot be read as a table at all, or a column of times has no time zone.
    """
    import pyarrow as pa
    from pyarrow import parquet

    name = str(path)
    try:
        with parquet.ParquetFile(path) as file:
            schema = file.schema_arrow
            plan = plan_fields(schema.names, name, mapping, None)
            builder = TableBuilder(plan)
            places = sorted(set(plan.places.values()))
            _refuse_local_times(schema, places, name)
            first = 1
            wanted = [schema.names[place] for place in places]
            for batch in file.iter_batches(BATCH_ROWS, columns=wanted):
                cells = {place: _cells(batch.column(schema.names[place])) for place in places}
                numbers = np.arange(first, first + batch.num_rows, dtype=np.int64)
                builder.add(cells, numbers)
                first += batch.num_rows
            header = _header_of(schema.metadata)
    except (pa.ArrowException, OSError) as error:
        reason = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise InputError.of(
            name, "", f"cannot be read as Parquet: {reason}", "write the file anew"
        ) from None
    except UnicodeDecodeError as error:
        found = f"a name or a text that is not UTF-8: {bytes(error.object[:20])!r}"
        raise InputError.of(name, "", found, "write the file anew") from None
    return pass_of_table(path, header, builder)


def write_parquet_pass(
    path: Path,
    records: Iterable[RelativeSample | CaptureStatus],
    header: MappingOf[str, str] | None = None,
) -> int:
    """Write a pass; give the number of rows.

    Raises
    ------
    InputError
        The file cannot be written; what stood there before still does.
    """
    import pyarrow as pa
    from pyarrow import parquet

    metadata = {HEADER_KEY: msgspec.json.encode(dict(header or {}))}
    schema = pa.schema([(name, _type_of(name)) for name in COLUMNS], metadata)
    count = 0
    stream = iter(records)
    with whole_file(path) as part, parquet.ParquetWriter(part, schema) as writer:
        while taken := list(islice(stream, BATCH_ROWS)):
            columns = {name: [_value(record, name) for record in taken] for name in COLUMNS}
            writer.write_table(pa.table(columns, schema))
            count += len(taken)
    return count


def _header_of(metadata: dict[bytes, bytes] | None) -> dict[str, str]:
    try:
        return msgspec.json.decode((metadata or {}).get(HEADER_KEY, b"{}"), type=dict[str, str])
    except BAD_JSON:
        return {}


def _refuse_local_times(schema: pa.Schema, places: Iterable[int], name: str) -> None:
    import pyarrow as pa

    for place in places:
        kind = schema.field(place).type
        if pa.types.is_timestamp(kind) and kind.tz is None:
            raise InputError.of(
                name,
                f"column {schema.names[place]!r}",
                "times without a time zone",
                "write them with the zone UTC, or as seconds since 1970",
            )


def _cells(array: pa.Array) -> Column:
    """Give a column as numpy; whatever has no exact numpy form as a list of plain values."""
    import pyarrow as pa
    from pyarrow import compute

    types = pa.types
    if types.is_dictionary(array.type):
        array = compute.cast(array, array.type.value_type)
    kind = array.type
    if types.is_decimal(kind) or types.is_float16(kind):
        array = compute.cast(array, pa.float64())
    exact = types.is_floating(array.type) or types.is_timestamp(kind)
    whole = (types.is_integer(kind) or types.is_boolean(kind)) and not array.null_count
    made: Column
    if exact or whole:
        made = array.to_numpy(zero_copy_only=False)
    else:
        made = np.empty(len(array), dtype=object)
        # One by one: numpy would spread cells that are lists over a second dimension.
        for index, cell in enumerate(array.to_pylist()):
            made[index] = cell
    return made


def _type_of(name: str) -> pa.DataType:
    import pyarrow as pa

    if name == "source":
        return pa.string()
    if name == "seq":
        return pa.int64()
    if name == "ready_to_hook":
        return pa.list_(pa.bool_())
    if name == "hooks":
        return pa.list_(pa.float64())
    return pa.bool_() if name == "valid" or name in CAPTURE_FLAGS else pa.float64()


def _value(record: RelativeSample | CaptureStatus, name: str) -> object:
    return getattr(record, name, None)
