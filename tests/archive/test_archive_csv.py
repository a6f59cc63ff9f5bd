"""CSV files a user might have: each reads right, or is refused in one clear line."""

from __future__ import annotations

import csv
import io
import random
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest
from archive_tools import T0, samples, statuses
from hypothesis import given, settings
from hypothesis import strategies as st

from console.archive import csv_pass, csv_sniff, growing_columns
from console.archive.csv_write import write_csv_pass
from console.archive.passes import PassKind, read_pass
from console.core.errors import InputError
from console.core.ids import SourceId
from console.core.records import CaptureStatus, RelativeSample
from console.core.utc import format_utc
from console.wire.table import COLUMNS

RELATIVE = samples(60)
RECORDS: list[RelativeSample | CaptureStatus] = [*RELATIVE, *statuses(4)]
Rows = list[list[str]]


def by_time(records: list[RelativeSample | CaptureStatus]) -> list[object]:
    """Sort as a table is taken: by t, source, seq."""
    return sorted(records, key=lambda record: (record.t, record.source, record.seq))


def rows_of(path: Path) -> Rows:
    """Write the records as plain CSV and give its cells."""
    write_csv_pass(path / "plain.csv", RECORDS)
    return list(csv.reader(io.StringIO((path / "plain.csv").read_text())))


def joined(rows: Rows, separator: str = ",", end: str = "\n") -> str:
    """Write cells as text."""
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator=end).writerows(rows)
    return out.getvalue()


def read_text(folder: Path, content: str | bytes) -> list[object]:
    """Read a file of this content; nothing may be rejected."""
    path = folder / "pass.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    one = read_pass(path)
    assert one.rejected == {}
    return list(one.records())


def refusal(folder: Path, content: str | bytes) -> str:
    """Give the line a file is refused with, without the file's name."""
    path = folder / "pass.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    with pytest.raises(InputError) as caught:
        read_pass(path)
    line = str(caught.value)
    assert line.startswith(f"{path}: ")
    assert "\n" not in line
    assert len(line) < 600
    return line.removeprefix(f"{path}: ")


def test_what_is_written_reads_back_equal(tmp_path: Path) -> None:
    """Every field of every record, to the bit, with the leading lines."""
    path = tmp_path / "pass.csv"
    header = {"title": "A: B", "vehicle": "Kittiwake", "note": "two\nlines"}
    assert len(RECORDS) == write_csv_pass(path, RECORDS, header)
    one = read_pass(path)
    assert by_time(RECORDS) == list(one.records())
    assert one.header == {"title": "A: B", "vehicle": "Kittiwake", "note": "two lines"}
    assert (one.kind, one.name, one.rejected_count) == (PassKind.TABLE, "pass.csv", 0)
    assert list(one.columns().samples()) == RELATIVE


def without_capture(rows: Rows) -> Rows:
    """Leave the rows and columns of the capture statuses away."""
    return [row[:16] for row in rows[: 1 + len(RELATIVE)]]


SHAPES: dict[str, Callable[[Rows], str | bytes]] = {
    "semicolons": lambda rows: joined([[c.replace(";", ",") for c in r] for r in rows[:61]], ";"),
    "tabs": lambda rows: joined(rows, "\t"),
    "byte-order mark": lambda rows: b"\xef\xbb\xbf" + joined(rows).encode(),
    "mark and comments": lambda rows: b"\xef\xbb\xbf# title: x\n\n#\n" + joined(rows).encode(),
    "windows line ends": lambda rows: joined(rows, end="\r\n"),
    "old line ends": lambda rows: joined(rows, end="\r"),
    "no last line end": lambda rows: joined(rows).rstrip("\n"),
    "all quoted": lambda rows: "\n".join(",".join(f'"{c}"' for c in row) for row in rows),
    "cut empty cells": lambda rows: "\n".join(",".join(row).rstrip(",") for row in rows),
    "extra empty cells": lambda rows: "\n".join(",".join(row) + ",,," for row in rows),
    "blank lines": lambda rows: joined(rows).replace("\n", "\n\n") + "\n\n,,,,,\n",
    "blanks round cells": lambda rows: "\n".join(" , ".join(row) for row in rows),
    "columns in another order": lambda rows: joined([row[::-1] for row in rows]),
    "unknown columns": lambda rows: joined(
        [["note", *rows[0], ""]]
        + [[f'say "{n}", or not', *row, "x"] for n, row in enumerate(rows[1:])]
    ),
    "rows in another order": lambda rows: joined(
        [rows[0], *random.Random(3).sample(rows[1:], len(rows) - 1)]
    ),
    "times in ISO 8601": lambda rows: joined(
        [rows[0], *([*row[:2], format_utc(float(row[2]), 6), *row[3:]] for row in rows[1:])]
    ),
    "flags as 1 and 0": lambda rows: joined(
        [[{"true": "1", "false": "0"}.get(cell, cell) for cell in row] for row in rows]
    ),
    "flags in capitals": lambda rows: joined(
        [[{"true": "TRUE", "false": "False"}.get(cell, cell) for cell in row] for row in rows]
    ),
}  # fmt: skip


@pytest.mark.parametrize("shape", SHAPES)
def test_other_shapes_of_the_same_table_read_the_same(tmp_path: Path, shape: str) -> None:
    """Separators, marks, line ends, quotes, blanks, order of rows and columns, times, flags."""
    rows = rows_of(tmp_path)
    expected = by_time(RELATIVE if shape == "semicolons" else RECORDS)
    found = read_text(tmp_path, SHAPES[shape](rows))
    if shape == "times in ISO 8601":  # to the microsecond
        assert all(
            abs(one.t - other.t) <= 1e-6 for one, other in zip(expected, found, strict=True)
        )
        return
    assert expected == found


OTHERS = {"t": "Time", "range_m": "Rng [m]", "y_m": "Lat"}

REFUSED: dict[str, tuple[Callable[[Rows], str | bytes], str]] = {
    "decimal comma, semicolons": (
        lambda rows: joined([[c.replace(".", ",") for c in row] for row in rows], ";"),
        "is written with a decimal comma: write numbers with a decimal point",
    ),
    "decimal comma, commas": (
        lambda rows: "\n".join(
            [",".join(rows[0][:16])]
            + [",".join(c.replace(".", ",") for c in row[:16]) for row in rows[1:61]]
        ),
        "the header has 16, and no other row fits either",
    ),
    "bars": (lambda rows: joined(rows, "|"), "columns separated by '|'"),
    "blanks": (lambda rows: joined(rows, " "), "columns separated by ' '"),
    "UTF-16": (lambda rows: joined(rows).encode("utf-16"), "UTF-16 text: save the table as UTF-8"),
    "Latin-1 late": (
        lambda rows: (joined(rows) + "größe\n").encode("latin-1"),
        "line 66: byte 0xf6 is not UTF-8",
    ),
    "Latin-1 early": (
        lambda rows: b"# title: gr\xf6\n" + joined(rows).encode(),
        "line 1: byte 0xf6 is not UTF-8",
    ),
    "no text": (lambda rows: bytes(range(256)), "not a text file"),
    "nothing": (lambda rows: b"", "empty"),
    "blank": (lambda rows: b" \n\n", "empty"),
    "comments alone": (lambda rows: "# title: x\n", "no header row"),
    "no header": (lambda rows: joined(rows[1:]), "line 1: no header row"),
    "a column twice": (
        lambda rows: joined([[*row, row[3]] for row in rows]),
        "column 'range_m' stands twice",
    ),
    "an open quotation mark": (
        lambda rows: joined(rows[:5]) + '"' + joined(rows[5:]),
        "line 6: a quotation mark opens and does not close",
    ),
    "columns missing": (
        lambda rows: joined([[OTHERS.get(cell, cell) for cell in row] for row in rows]),
        "line 1: no column for t, range_m, y_m: t is perhaps 'Time'; range_m is perhaps 'Rng [m]'",
    ),
    "quite another table": (
        lambda rows: "name,street,town\nA,B,C\n",
        "other columns: 'name', 'street', 'town'; name the right ones in a column mapping",
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", REFUSED)
def test_what_cannot_be_read_is_refused_in_one_clear_line(tmp_path: Path, kind: str) -> None:
    """The line says where, what was found, and what to do."""
    make, told = REFUSED[kind]
    assert told in refusal(tmp_path, make(rows_of(tmp_path)))


def test_files_that_are_not_there_or_are_folders_are_refused(tmp_path: Path) -> None:
    """With the reason and no traceback."""
    with pytest.raises(InputError, match="no such file"):
        read_pass(tmp_path / "none.csv")
    with pytest.raises(InputError, match="a folder"):
        read_pass(tmp_path)


def test_knots_of_missing_values_are_absent_rates_or_rejected_rows(tmp_path: Path) -> None:
    """An empty optional cell is absent; an empty required one costs its row, and only that."""
    rows = without_capture(rows_of(tmp_path))
    expected = list(RELATIVE)
    for index in range(10, 20):
        rows[index + 1][10:15] = [""] * 5
        expected[index] = RelativeSample(
            *[getattr(RELATIVE[index], name) for name in RELATIVE[0].__struct_fields__[:10]],
            valid=RELATIVE[index].valid,
        )
    for index in range(30, 37):
        rows[index + 1][3:7] = [""] * 4
    rows[45][2] = ""
    path = tmp_path / "pass.csv"
    path.write_text(joined(rows))
    one = read_pass(path)
    assert one.rejected == {"missing field": 8}
    assert sorted(reject.row for reject in one.rejects) == [32, 33, 34, 35, 36, 37, 38, 46]
    kept = [s for n, s in enumerate(expected) if not 30 <= n < 37 and n != 44]
    assert kept == list(one.records())


def test_rejected_rows_are_counted_by_reason_with_their_lines(tmp_path: Path) -> None:
    """Each fault of a row has the wire's own reason; the other rows go on."""
    rows = without_capture(rows_of(tmp_path))
    faults = {
        3: (3, "nan", "NaN or infinity"),
        5: (3, "NaN", "NaN or infinity"),
        8: (4, "inf", "NaN or infinity"),
        13: (3, "1e6", "range over 100 km"),
        21: (2, "5.0", "time before 2000"),
        22: (2, "yesterday", "mistyped field"),
        23: (2, "2031-04-11T09:35:12", "mistyped field"),
        30: (1, "-4", "sequence number not unsigned"),
        31: (1, "1.5", "mistyped field"),
        34: (5, "12,5", "mistyped field"),
        35: (15, "perhaps", "mistyped field"),
        40: (0, "", "missing field"),
        41: (7, "0x10", "mistyped field"),
        42: (7, "1_000", "mistyped field"),
    }
    for line, (place, cell, _) in faults.items():
        rows[line - 1][place] = cell
    rows[50 - 1].append("one more")
    path = tmp_path / "pass.csv"
    path.write_text(joined(rows))
    one = read_pass(path)
    expected = Counter(reason for _, _, reason in faults.values())
    expected[csv_pass.WRONG_LENGTH] = 1
    assert dict(expected) == one.rejected
    told = {reject.row: reject.reason for reject in one.rejects}
    assert {line: reason for line, (_, _, reason) in faults.items()} == {
        line: reason for line, reason in told.items() if line != 50
    }
    assert told[50] == csv_pass.WRONG_LENGTH
    bad = {line - 2 for line in faults} | {48}
    assert [s for n, s in enumerate(RELATIVE) if n not in bad] == list(one.records())


def test_lines_are_told_right_behind_rows_of_another_length(tmp_path: Path) -> None:
    """Rows that are read by themselves do not shift the others' line numbers."""
    rows = without_capture(rows_of(tmp_path))
    for index in (4, 5, 9):
        rows[index] = rows[index][:15]  # valid is absent there: taken as true
    rows[20][3] = rows[40][3] = "x"
    path = tmp_path / "pass.csv"
    path.write_text("# title: x\n" + joined(rows[:15]) + "\n" + joined(rows[15:]))
    one = read_pass(path)
    assert sorted(reject.row for reject in one.rejects) == [23, 43]
    assert len(one.columns()) == 58


def test_a_table_with_a_header_alone_is_a_pass_of_nothing(tmp_path: Path) -> None:
    """With or without a line end; it is not refused."""
    for end in ("", "\n", "\n\n"):
        assert read_text(tmp_path, ",".join(COLUMNS) + end) == []


def test_equal_rows_keep_the_files_order_and_contact_comes_first(tmp_path: Path) -> None:
    """Order: t, source, seq, then the file; a row's capture status before its sample."""
    path = tmp_path / "pass.csv"
    head = "source,seq,t,range_m,range_rate_mps,y_m,z_m,roll_deg,pitch_deg,yaw_deg,contact\n"
    values = "-0.08,0,0,0,0,0"
    path.write_text(
        head
        + f"radio,1,{T0},3,{values},\n"
        + f"optical,7,{T0},1,{values},\n"
        + f"optical,7,{T0},2,{values},true\n"
        + f"optical,6,{T0},4,{values},\n"
        + f"radio,0,{T0 - 1},5,{values},\n"
    )
    found = [
        (record.source, record.seq, getattr(record, "range_m", "contact"))
        for record in read_pass(path).records()
    ]
    assert found == [
        ("radio", 0, 5.0), ("optical", 6, 4.0), ("optical", 7, 1.0), ("optical", 7, "contact"),
        ("optical", 7, 2.0), ("radio", 1, 3.0),
    ]  # fmt: skip


def test_many_parts_join_as_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file read in small parts, sources appearing later, gives what one part gives."""
    monkeypatch.setattr(csv_pass, "BLOCK_BYTES", 700)
    rows = rows_of(tmp_path)
    for index in range(40, 61, 2):
        rows[index][0] = "third"
    found = read_text(tmp_path, joined(rows))
    expected = [
        RelativeSample(SourceId("third"), *list(record_values(record))[1:])
        if 39 <= n < 60 and n % 2
        else record
        for n, record in enumerate(RECORDS)
    ]
    assert by_time(expected) == found


def record_values(record: RelativeSample | CaptureStatus) -> list[object]:
    """Give a record's fields in order."""
    return [getattr(record, name) for name in record.__struct_fields__]


finite = st.floats(allow_nan=False, allow_infinity=False, width=64)
any_cell = (
    st.sampled_from(["", " ", "nan", "inf", "-0.0", "1e3", "1_0", "0x1", "true", "0", "x", "1;2"])
    | st.floats(-1e5, 1e5).map(repr)
    | st.integers(-5, 10).map(str)
)
any_time = st.floats(1e9, 2e9).map(repr) | any_cell


@settings(max_examples=60)
@given(st.data())
def test_the_file_gives_what_its_rows_give_one_by_one(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    """Any cells: the reader in parts against Python's csv module and the rules row by row."""
    from console.core.errors import WireError
    from console.wire.table import records_from_row

    names = list(COLUMNS)
    sources = st.sampled_from(["optical", "radio", ""])
    row = st.tuples(sources, any_cell, any_time, *[any_cell] * (len(names) - 3)).map(list)
    plain = st.sampled_from([cells[: len(names)] for cells in PLAIN])
    rows = data.draw(st.lists(plain | row, max_size=12))
    text = joined([names, *rows])
    expected: list[RelativeSample | CaptureStatus] = []
    counts: Counter[str] = Counter()
    for cells in csv.DictReader(io.StringIO(text)):
        if not any(cells.values()):
            continue
        try:
            expected += records_from_row(cells)
        except WireError as error:
            counts[error.reason] += 1
    path = tmp_path_factory.mktemp("cells") / "pass.csv"
    path.write_text(text)
    one = read_pass(path)
    assert by_time(expected) == list(one.records())
    assert dict(counts) == one.rejected


PLAIN: Rows = [
    ["optical", str(n), repr(T0 + n), *[repr(n * 0.1)] * 12, "true", *[""] * 10] for n in range(5)
]


def test_a_file_that_cannot_be_written_is_refused_and_the_old_one_stays(tmp_path: Path) -> None:
    """Half a table never stands under the name."""
    path = tmp_path / "pass.csv"
    path.write_text("old")

    def breaks() -> object:
        yield RELATIVE[0]
        raise OSError(28, "No space left on device")

    with pytest.raises(InputError, match="cannot be written: No space left"):
        write_csv_pass(path, breaks())
    assert path.read_text() == "old"
    assert [path] == list(tmp_path.iterdir())
    with pytest.raises(InputError, match="cannot be written"):
        write_csv_pass(tmp_path / "none" / "pass.csv", [])


def test_faults_far_behind_the_begin_are_told_with_their_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the look at the begin has not seen is found by the reading itself."""
    rows = rows_of(tmp_path)
    monkeypatch.setattr(csv_sniff, "HEAD_BYTES", 1000)
    told = refusal(tmp_path, joined(rows).encode() + "optical,1,größe\n".encode("latin-1"))
    assert told.startswith("line 66: byte 0xf6 is not UTF-8")
    monkeypatch.setattr(csv_sniff, "HEAD_BYTES", 100_000)
    for size in (7, 1000, 1001):  # characters cut between blocks are whole all the same
        monkeypatch.setattr(csv_sniff, "BLOCK_BYTES", size)
        text = "# title: " + "ö€𝄞" * 300 + "\n" + joined(rows)
        assert by_time(RECORDS) == read_text(tmp_path, text)
        told = refusal(tmp_path, text.encode() + b"\xc3")
        assert told.startswith("line 67: byte 0xc3 is not UTF-8")
    monkeypatch.setattr(csv_pass, "BLOCK_BYTES", 64)
    assert refusal(tmp_path, joined(rows)).startswith("cannot be read as a table: ")
    monkeypatch.setattr(csv_sniff, "HEAD_BYTES", 50)
    assert "the begin of the table is too long" in refusal(tmp_path, joined(rows))


def test_columns_grow_without_loss(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The room for samples is made larger as they come."""
    monkeypatch.setattr(growing_columns, "FIRST_ROWS", 3)
    monkeypatch.setattr(csv_pass, "BLOCK_BYTES", 700)
    assert by_time(RECORDS) == read_text(tmp_path, joined(rows_of(tmp_path)))


def test_a_cell_beyond_all_measure_is_refused(tmp_path: Path) -> None:
    """Python's own reader of rows has a bound, which must not end in a traceback."""
    rows = rows_of(tmp_path)
    rows[5] = [*rows[5], "x" * 200_000]
    assert "line 6: field larger than" in refusal(tmp_path, joined(rows))
