"""Parquet holds the same columns as CSV, typed, and reads the same."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

import pyarrow as pa
import pytest
from archive_tools import T0, samples, statuses
from pyarrow import parquet

from console.archive.mapping import parse_mapping
from console.archive.parquet_pass import write_parquet_pass
from console.archive.passes import read_pass
from console.core.errors import InputError
from console.core.ids import SourceId
from console.core.records import CaptureStatus, RelativeSample

RECORDS: list[RelativeSample | CaptureStatus] = [*samples(50), *statuses(3)]
PLAIN: dict[str, object] = {
    "source": ["optical"] * 3,
    "seq": [1, 2, 3],
    "t": [T0, T0 + 1, T0 + 2],
    "range_m": [3.0, 2.0, 1.0],
    "range_rate_mps": [-0.1] * 3,
    "y_m": [0.0] * 3,
    "z_m": [0.0] * 3,
    "roll_deg": [0.0] * 3,
    "pitch_deg": [0.0] * 3,
    "yaw_deg": [0.0] * 3,
}


def read(folder: Path, columns: dict[str, object]) -> list[object]:
    """Write columns, read the pass; nothing may be rejected."""
    path = folder / "pass.parquet"
    parquet.write_table(pa.table(columns), path)
    one = read_pass(path)
    assert one.rejected == {}
    return list(one.records())


PLAIN_SAMPLES = [
    RelativeSample(SourceId("optical"), n + 1, T0 + n, 3.0 - n, -0.1, *[0.0] * 5) for n in range(3)
]


def test_what_is_written_reads_back_equal(tmp_path: Path) -> None:
    """Every field of every record, with the header; told by its first bytes, not its name."""
    path = tmp_path / "pass.bin"
    assert len(RECORDS) == write_parquet_pass(path, RECORDS, {"title": "Größe"})
    one = read_pass(path)
    key = lambda record: (record.t, record.source, record.seq)  # noqa: E731
    assert sorted(RECORDS, key=key) == list(one.records())
    assert one.header == {"title": "Größe"}


OTHERS: dict[str, object] = {
    "dictionary source": {"source": pa.array(["optical"] * 3).dictionary_encode()},
    "whole numbers": {"range_m": pa.array([3, 2, 1], pa.int8())},
    "single precision": {"range_m": pa.array([3.0, 2.0, 1.0], pa.float32())},
    "half precision": {"range_m": pa.array([3.0, 2.0, 1.0], pa.float16())},
    "decimals": {"range_m": pa.array([Decimal("3.0"), Decimal("2.0"), Decimal("1.0")])},
    "texts": {"range_m": ["3", "2.0", "1e0"]},
    "large texts": {"source": pa.array(["optical"] * 3, pa.large_string())},
    "unsigned": {"seq": pa.array([1, 2, 3], pa.uint64())},
    "float numbers": {"seq": [1.0, 2.0, 3.0]},
    "timestamps": {
        "t": pa.array(
            [datetime.fromtimestamp(T0 + n, UTC) for n in range(3)], pa.timestamp("ms", "UTC")
        )
    },
    "timestamps of another zone": {
        "t": pa.array(
            [datetime.fromtimestamp(T0 + n, UTC) for n in range(3)],
            pa.timestamp("ns", "Asia/Tokyo"),
        )
    },
    "no values of a rate": {"y_rate_mps": pa.nulls(3)},
    "flags": {"valid": [True, True, None]},
    "other columns": {"comment": ["a", "b", "c"], "deep": [[{"a": 1}], [], None]},
}


@pytest.mark.parametrize("kind", OTHERS)
def test_other_types_of_the_same_values_read_the_same(tmp_path: Path, kind: str) -> None:
    """What another writer may choose for the same table."""
    changed = OTHERS[kind]
    assert isinstance(changed, dict)
    assert read(tmp_path, {**PLAIN, **changed}) == PLAIN_SAMPLES


def test_lists_may_be_lists_or_text(tmp_path: Path) -> None:
    """The two lists of a capture status, and the quaternion, in both forms."""
    hooks = [[0.0, 1.0], None, [0.5]]
    base = {"source": ["m"] * 3, "seq": [1, 2, 3], "t": PLAIN["t"]}
    expected = [(0.0, 1.0), None, (0.5,)]
    for form in (pa.array(hooks), ["0;1", None, "0.5"]):
        found = read(tmp_path, {**base, "hooks": form, "contact": [True, False, None]})
        assert expected == [status.hooks for status in found]
    turned = {name: column for name, column in PLAIN.items() if "_deg" not in name}
    found = read(tmp_path, {**turned, "q": [[1.0, 0.0, 0.0, 0.0]] * 3})
    assert found == PLAIN_SAMPLES


def test_nulls_cost_their_rows_only(tmp_path: Path) -> None:
    """A null, and a NaN, in a required column is an absent field."""
    path = tmp_path / "pass.parquet"
    columns = {**PLAIN, "range_m": [3.0, None, float("nan")], "seq": [1, None, 3]}
    parquet.write_table(pa.table(columns), path)
    one = read_pass(path)
    assert PLAIN_SAMPLES[:1] == list(one.records())
    assert one.rejected == {"missing field": 2}
    assert [reject.row for reject in one.rejects] == [2, 3]


def test_a_mapping_works_for_parquet_too(tmp_path: Path) -> None:
    """Names, units and directions as for CSV."""
    path = tmp_path / "pass.parquet"
    columns = dict(PLAIN)
    columns["Dist"] = [3000, 2000, 1000]
    columns["Closing"] = [0.1] * 3
    del columns["range_m"], columns["range_rate_mps"]
    parquet.write_table(pa.table(columns), path)
    text = (
        'format = 1\n[columns]\nrange_m = { column = "Dist", unit = "mm" }\n'
        'range_rate_mps = { column = "Closing", sign = -1 }\n'
    )
    assert list(read_pass(path, parse_mapping(text.encode(), "m")).records()) == PLAIN_SAMPLES
    with pytest.raises(InputError, match="header: no column for range_m, range_rate_mps"):
        read_pass(path)


def test_local_times_and_broken_files_are_refused(tmp_path: Path) -> None:
    """A time without a zone may be local; a cut file is named."""
    path = tmp_path / "pass.parquet"
    local = pa.array([datetime(2031, 4, 11, 9, 35, n) for n in range(3)])  # noqa: DTZ001
    parquet.write_table(pa.table({**PLAIN, "t": local}), path)
    with pytest.raises(InputError, match="times without a time zone"):
        read_pass(path)
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])
    with pytest.raises(InputError, match="cannot be read as Parquet") as caught:
        read_pass(path)
    assert "\n" not in str(caught.value)
    with pytest.raises(InputError, match="cannot be written"):
        write_parquet_pass(tmp_path / "none" / "x.parquet", RECORDS)


@pytest.mark.parametrize("text", [b"optical", b"yaw_deg"])
def test_text_that_is_not_utf8_is_refused(tmp_path: Path, text: bytes) -> None:
    """In a cell as in a column's name: a file of Parquet only claims that its texts are UTF-8."""
    path = tmp_path / "pass.parquet"
    parquet.write_table(pa.table(PLAIN), path, compression="none", use_dictionary=False)
    path.write_bytes(path.read_bytes().replace(text, b"\xcf\xff" + text[2:]))
    with pytest.raises(InputError, match=r"pass\.parquet: a (name or a )?text that is not UTF-8"):
        read_pass(path)


def test_facts_that_are_not_utf8_are_left_away(tmp_path: Path) -> None:
    """They cost only themselves."""
    path = tmp_path / "pass.parquet"
    table = pa.table(PLAIN).replace_schema_metadata({b"leadmark": b'{"title":"\xcf\xff"}'})
    parquet.write_table(table, path)
    one = read_pass(path)
    assert one.header == {}
    assert list(one.records()) == PLAIN_SAMPLES
