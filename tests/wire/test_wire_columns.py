"""The columnar reading of a table gives exactly what its rows give one by one."""

from __future__ import annotations

import csv
import io
import random
from collections import Counter

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from wire_cases import T

from console.core.errors import UsageError, WireError
from console.core.records import CaptureStatus
from console.core.utc import format_utc
from console.wire.columns import REJECTS_KEPT, TableRecords, records_from_columns
from console.wire.table import CAP_FIELDS, COLUMNS, STATE_FIELDS, records_from_row

NUMBERS = ["20.5", "-0.25", "0", "7", "1e-3", "", "nan", "inf", "-Infinity", "x", "100000.5",
           " 3 ", "true", "1_0", "1e999"]  # fmt: skip
TIMES = ["1932100000.25", "1932100001", "2031-03-24T07:06:40.25Z", "2031-03-24T07:06:40Z",
         "2031-083T07:06:41.5Z", "2031-03-24 07:06:40,5Z", "2031-03-24T07:06:40", "", "nan", "12",
         "2031-03-24T07:06:60.5Z", "2031-02-30T07:06:40Z", "1932100000250",
         "9999-999T00:00:00Z"]  # fmt: skip
WHOLES = ["0", "7", "8.0", "7.5", "-1", "", "9223372036854775807", "9223372036854775808", "1e3",
          "x", "true", "nan"]  # fmt: skip
FLAGS = ["true", "FALSE", "1", "0", "1.0", "", "yes", "2"]
SOURCES = ["optical", "радио", " radio ", "", "a\tb", "7"]
LISTS = ["", "0;0.5;1", "1", "a;1", "nan"]
KINDS = {
    "source": SOURCES, "seq": WHOLES, "t": TIMES, "valid": FLAGS, "contact": FLAGS,
    "soft_capture": FLAGS, "hard_capture": FLAGS, "hooks": LISTS, "ready_to_hook": LISTS,
    "q": ["", "1;0;0;0", "2;0;0;0", "1;0;0"],
}  # fmt: skip
GOOD = {"source": "optical", "seq": "7", "t": "1932100000.25"} | dict.fromkeys(STATE_FIELDS, "1.5")


def by_rows(rows: list[dict[str, object]]) -> tuple[list[object], list[object], Counter[str]]:
    """Read rows one by one: samples, capture statuses with their row, reasons."""
    samples, captures, reasons = [], [], Counter()
    for number, cells in enumerate(rows, 1):
        try:
            records = records_from_row(cells)
        except WireError as error:
            reasons[error.reason] += 1
            continue
        for record in records:
            if isinstance(record, CaptureStatus):
                captures.append((number, record))
            else:
                samples.append((number, record))
    return samples, captures, reasons


def assert_equal(rows: list[dict[str, object]], found: TableRecords) -> None:
    """Hold that the columnar reading found what the rows say."""
    samples, captures, reasons = by_rows(rows)
    assert samples == list(zip(found.relative.row.tolist(), found.relative.samples(), strict=True))
    assert captures == list(found.captures)
    assert dict(reasons) == found.reject_counts
    assert sum(reasons.values()) == len(found.rejects)


def as_objects(rows: list[dict[str, object]], names: list[str]) -> dict[str, np.ndarray]:
    """Give columns of cells as they are."""
    columns = {}
    for name in names:
        columns[name] = np.empty(len(rows), dtype=object)
        columns[name][:] = [cells.get(name) for cells in rows]
    return columns


def as_pandas(rows: list[dict[str, object]], names: list[str]) -> dict[str, np.ndarray]:
    """Write CSV text and give the columns that pandas reads, of whatever type it finds."""
    text = io.StringIO()
    writer = csv.DictWriter(text, names, restval="")
    writer.writeheader()
    writer.writerows(rows)
    text.seek(0)
    frame = pd.read_csv(text, keep_default_na=False, na_values=[""], skip_blank_lines=False)
    columns = {name: frame[name] for name in frame.columns}
    return {
        name: column.to_numpy(dtype=object if column.dtype == "str" else None)
        for name, column in columns.items()
    }


def cells_of(name: str) -> st.SearchStrategy[str]:
    """Give cells for a column, a good one more often than not."""
    odd = st.sampled_from(KINDS.get(name, NUMBERS))
    return st.just(GOOD[name]) | odd if name in GOOD else st.just("") | odd


rows_of_text = st.lists(
    st.fixed_dictionaries({name: cells_of(name) for name in GOOD})
    | st.fixed_dictionaries({name: cells_of(name) for name in [*COLUMNS, "q"]})
    | st.just(GOOD)
    | st.just(GOOD | {"contact": "0"}),
    max_size=12,
)


@given(rows=rows_of_text)
def test_columns_of_text_are_their_rows(rows):
    """Columns of text, as a reader gives them that leaves types alone."""
    assert_equal(rows, records_from_columns(as_objects(rows, [*COLUMNS, "q"])))


@settings(max_examples=40)
@given(rows=rows_of_text.filter(bool))
def test_columns_of_pandas_are_their_rows(rows):
    """Columns as pandas types them: float, integer, boolean or mixed."""
    # Beyond 2**53 a column of floats no longer holds whole numbers: pandas' loss, not ours.
    rows = [cells | {"seq": "5"} if len(cells["seq"]) > 16 else cells for cells in rows]
    # A column of nothing but "7" becomes one of numbers, and a number names no source.
    rows = [
        cells | {"source": f"s{cells['source']}"} if cells["source"] else cells for cells in rows
    ]
    assert_equal(rows, records_from_columns(as_pandas(rows, [*COLUMNS, "q"])))


@pytest.mark.parametrize("name", [*GOOD, "valid", "contact", "hooks", "q"])
def test_one_odd_cell_in_a_column(name):
    """Each odd cell amid good rows is found, whatever type it makes of its column."""
    for cell in KINDS.get(name, NUMBERS):
        rows = [GOOD | {"seq": str(n)} for n in range(5)]
        rows[2][name] = cell
        names = [*GOOD, *({name} - set(GOOD))]
        assert_equal(rows, records_from_columns(as_pandas(rows, names)))
        assert_equal(rows, records_from_columns(as_objects(rows, names)))


def typed_columns(count: int) -> dict[str, np.ndarray]:
    """Give columns of a good table, typed as a Parquet file gives them."""
    rng = np.random.default_rng(3)
    columns = {
        "source": np.array(["optical", "radio"], dtype=object)[np.arange(count) % 2],
        "seq": np.arange(count, dtype=np.int64),
        "t": T + 0.1 * np.arange(count),
        "valid": rng.random(count) < 0.9,
    }
    return columns | {name: rng.normal(size=count) for name in STATE_FIELDS}


def rows_of(columns: dict[str, np.ndarray]) -> list[dict[str, object]]:
    """Give the rows of columns."""
    names = list(columns)
    return [dict(zip(names, cells, strict=True)) for cells in zip(*columns.values(), strict=True)]


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("seq", np.uint64), ("seq", np.int32), ("seq", np.float64), ("seq", np.uint8),
        ("range_m", np.float32), ("range_m", np.int64), ("y_m", np.int8), ("valid", np.int8),
        ("valid", np.float64), ("y_m", bool), ("t", np.int64), ("roll_rate_dps", np.float16),
    ],
)  # fmt: skip
def test_column_types(name, kind):
    """Every numeric type a file may hold is read as its rows are."""
    columns = typed_columns(60)
    columns[name] = columns[name].astype(kind)
    assert_equal(rows_of(columns), records_from_columns(columns))


def test_typed_faults():
    """Faults in typed columns: NaN is absence, infinity and bounds are refused."""
    columns = typed_columns(60)
    columns["range_m"][3] = np.nan
    columns["range_m"][4] = np.inf
    columns["range_m"][5] = 1e5
    columns["range_m"][6] = -1.0001e5
    columns["y_rate_mps"][7] = np.nan
    columns["z_rate_mps"][8] = -np.inf
    columns["t"][9] = 946684799.0
    columns["t"][10] = 946684800.0
    columns["t"][11] = 1.9e12
    columns["seq"][12] = -1
    found = records_from_columns(columns, first_row=5)
    assert_equal(rows_of(columns), records_from_columns(columns))
    assert [reject.row for reject in found.rejects] == [8, 9, 11, 13, 14, 16, 17]
    assert len(found.relative) == 53
    assert found.relative.values["y_rate_mps"][6 - 2] != found.relative.values["y_rate_mps"][4]


def test_dates():
    """A column of dates gives the seconds that their texts give, to the last bit."""
    texts = ["2031-03-24T07:06:40.123456Z", "2031-03-24T07:06:40Z", "2000-01-01T00:00:00Z"]
    columns = typed_columns(4)
    columns["t"] = np.array([text[:-1] for text in texts] + ["NaT"], dtype="datetime64[us]")
    found = records_from_columns(columns)
    expected = [records_from_row({**GOOD, "t": text})[0].t for text in texts]
    assert expected == found.relative.t.tolist()
    assert found.reject_counts == {"missing field": 1}


def test_times_as_text_to_the_microsecond():
    """ISO 8601 columns give the bits of reading each cell alone."""
    rng = random.Random(5)
    texts = [format_utc(T + rng.uniform(0, 1e8), rng.randrange(7)) for _ in range(500)]
    columns = typed_columns(500)
    columns["t"] = np.array(texts, dtype=object)
    expected = [records_from_row({**GOOD, "t": text})[0].t for text in texts]
    assert expected == records_from_columns(columns).relative.t.tolist()


def test_odd_texts_of_time_are_read_as_in_a_row():
    """By the day of the year, without seconds, with two fractions: one answer, column or cell."""
    cells = [
        "2031-101T09:42:22Z", "2031-101T09:42:22.5Z", "2031-101T09:42:22.1.5Z",
        "2031-04-11T09:42:22.1.5Z", "2031-04-11T09:42Z", "20310411T094222Z",
        "2031-04-11 09:42:22Z", "2031-04-11T09:42:22.Z", "2031-04-11T09:42:22.5", "Z",
    ]  # fmt: skip
    columns = typed_columns(len(cells))
    columns["t"] = np.array(cells, dtype=object)
    assert_equal(rows_of(columns), records_from_columns(columns))


def test_objects_of_mixed_types():
    """Cells of one column may be integers, floats, text and nothing side by side."""
    columns = typed_columns(6)
    for name, cells in {
        "seq": [1, "2", 3.0, None, True, 2**70],
        "t": [1932100000, 1932100001.5, "1932100002", "2031-03-24T06:26:40Z", None, float("nan")],
        "range_m": [20, 20.5, "21", 10**400, False, 2**60],
        "valid": [True, 0, "1", None, 0.0, "no"],
    }.items():
        columns[name] = np.empty(6, dtype=object)
        columns[name][:] = cells
        assert_equal(rows_of(columns), records_from_columns(columns))


def test_lists_of_a_parquet_file():
    """List cells may come as arrays or lists; an empty one is a list without items."""
    columns = typed_columns(3) | {"hooks": np.empty(3, dtype=object)}
    columns["hooks"][:] = [np.array([0.0, 0.5]), [], None]
    columns["ready_to_hook"] = np.empty(3, dtype=object)
    columns["ready_to_hook"][:] = [np.array([True, False]), None, None]
    found = records_from_columns(columns)
    assert [(row, status.hooks) for row, status in found.captures] == [(1, (0.0, 0.5)), (2, ())]
    assert found.captures[0][1].ready_to_hook == (True, False)
    assert len(found.relative) == 3


def test_both_halves_of_a_row():
    """A clean sample whose capture half is refused is not taken."""
    columns = typed_columns(3) | {"contact": np.array(["0", "maybe", ""], dtype=object)}
    found = records_from_columns(columns)
    assert found.relative.row.tolist() == [1, 3]
    assert [row for row, _ in found.captures] == [1]
    assert found.reject_counts == {"mistyped field": 1}


def test_missing_columns_and_empty_tables():
    """A table without a needed column gives only rejects, one without rows gives nothing."""
    columns = typed_columns(3)
    del columns["y_m"]
    assert records_from_columns(columns).reject_counts == {"missing field": 3}
    for name in ("source", "seq", "t"):
        columns = typed_columns(2)
        del columns[name]
        assert records_from_columns(columns).reject_counts == {"missing field": 2}
    assert len(records_from_columns({}).relative) == 0
    empty = records_from_columns(typed_columns(0))
    assert (
        len(empty.relative), empty.captures, empty.rejects, empty.reject_counts,
    ) == (0, (), (), {})  # fmt: skip
    assert list(empty.relative.samples()) == []


def test_ragged_columns_are_our_own_mistake():
    """Columns of different lengths are refused as a defect of the caller."""
    columns = typed_columns(3) | {"t": np.zeros(2)}
    with pytest.raises(UsageError):
        records_from_columns(columns)


def test_rejects_are_bounded_but_counted():
    """Of very many rejects the first are kept and all are counted."""
    count = REJECTS_KEPT + 500
    columns = typed_columns(count)
    columns["range_m"][:] = 2e5
    found = records_from_columns(columns)
    assert len(found.rejects) == REJECTS_KEPT
    assert {"range over 100 km": count} == found.reject_counts


def test_order_and_sources():
    """Samples can be put in any order; codes name the sources as first seen."""
    columns = typed_columns(6)
    found = records_from_columns(columns)
    order = np.lexsort((found.relative.seq, found.relative.source_code, -found.relative.t))
    turned = found.relative.taken(order)
    assert turned.sources == ("optical", "radio")
    assert turned.seq.tolist() == [5, 4, 3, 2, 1, 0]
    assert [sample.source for sample in turned.samples()] == ["radio", "optical"] * 3
    assert list(found.relative.samples())[::-1] == list(turned.samples())
    assert set(CAP_FIELDS).isdisjoint(turned.values)
