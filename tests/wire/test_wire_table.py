"""Rows of a recorded table mean what the same message on the wire means."""

from __future__ import annotations

import pytest
from hypothesis import given
from wire_cases import ANGLES, T, capture_statuses, relative_samples

from console.core.errors import InputError, WireError
from console.core.records import CaptureStatus, RelativeSample
from console.wire.reason import Reason
from console.wire.table import (
    CAP_FIELDS,
    COLUMNS,
    REL_FIELDS,
    capture_from_row,
    check_header,
    preamble,
    records_from_row,
    row_from_record,
)

SAMPLE = RelativeSample("optical", 7, T, 20.5, -0.09, 0.1, -0.2, 0.3, -0.4, 0.5)
STATUS = CaptureStatus("optical", 7, T, contact=True)


def row(**changes: object) -> dict[str, object]:
    """Give the cells of a good sample as text, some of them changed."""
    return {
        "source": "optical", "seq": "7", "t": repr(T), "range_m": "20.5",
        "range_rate_mps": "-0.09", "y_m": "0.1", "z_m": "-0.2", "roll_deg": "0.3",
        "pitch_deg": "-0.4", "yaw_deg": "0.5",
    } | changes  # fmt: skip


def reason(cells: dict[str, object]) -> str:
    """Give the reason a row is refused for."""
    with pytest.raises(WireError) as caught:
        records_from_row(cells)
    return caught.value.reason


def test_sample_row():
    """A row of relative-state fields is a sample, empty cells are absent fields."""
    assert records_from_row(row(y_rate_mps="", valid=" ", contact="", hooks=None)) == (SAMPLE,)


def test_times():
    """Time is seconds, or ISO 8601 with Z; a time without a zone is refused."""
    for text in (
        "1932100000.25",
        "2031-03-24T06:26:40.25Z",
        "2031-083T06:26:40.25Z",
        " 1932100000.25 ",
    ):
        assert records_from_row(row(t=text))[0].t == T
    for text in ("2031-03-24T06:26:40.25", "yesterday", "2031-13-01T00:00:00Z"):
        assert reason(row(t=text)) == Reason.MISTYPED
    assert reason(row(t="1999-12-31T23:59:59.999Z")) == Reason.TIME_EARLY


@pytest.mark.parametrize(
    ("text", "flag"),
    [("true", True), ("FALSE", False), ("True", True), ("1", True), ("0", False), (" tRuE ", True),
     (True, True), (0, False), (1.0, True)],
)  # fmt: skip
def test_booleans(text, flag):
    """True, false, 1 and 0 stand for booleans in any case, as text or typed."""
    assert flag is records_from_row(row(valid=text))[0].valid
    assert flag is records_from_row({**row(), "contact": text})[0].contact


@pytest.mark.parametrize("text", ["yes", "2", "t", "-1", 0.5, "nan"])
def test_no_boolean(text):
    """Anything else is no boolean."""
    assert reason(row(valid=text)) == Reason.MISTYPED


def test_lists():
    """The two lists are numbers and flags with semicolons between."""
    cells = {
        "source": "m",
        "seq": "1",
        "t": repr(T),
        "hooks": "0;0.5; 1",
        "ready_to_hook": "1;FALSE",
    }
    expected = CaptureStatus("m", 1, T, hooks=(0.0, 0.5, 1.0), ready_to_hook=(True, False))
    assert (expected,) == records_from_row(cells)
    assert (records_from_row({**cells, "hooks": "0.25"})[0].hooks,) == ((0.25,),)
    for text in ("0;;1", "0,5;1", "a", "0;1;"):
        assert reason({**cells, "hooks": text}) == Reason.MISTYPED
    assert records_from_row({**cells, "hooks": (0.0, 1)})[0].hooks == (0.0, 1.0)
    assert records_from_row({**cells, "hooks": 0.5})[0].hooks == (0.5,)
    assert reason({**cells, "hooks": "0;nan"}) == Reason.NOT_FINITE
    assert reason({**cells, "hooks": ";".join("0" * 4097)}) == Reason.LIST_LENGTH


def test_quaternion_cell():
    """A quaternion may stand in one cell, its four numbers with semicolons between."""
    cells = {name: cell for name, cell in row(q="1;0;0;0").items() if name not in ANGLES}
    assert tuple(getattr(records_from_row(cells)[0], name) for name in ANGLES) == (0.0, 0.0, 0.0)
    assert reason({**cells, "q": "1.1;0;0;0"}) == Reason.QUATERNION
    assert reason({**cells, "q": "1;0;0"}) == Reason.MISTYPED


def test_capture_row():
    """A row whose relative-state fields are all empty is a capture status."""
    empty = dict.fromkeys(REL_FIELDS, "")
    key = {"source": "optical", "seq": "7", "t": repr(T)}
    assert records_from_row({**empty, **key, "contact": "true"}) == (STATUS,)
    assert (CaptureStatus("optical", 7, T),) == records_from_row({**empty, **key})
    # A writer may fill the flag in every row: it describes no state by itself.
    assert records_from_row({**empty, **key, "contact": "1", "valid": "true"}) == (STATUS,)
    assert reason({**empty, **key, "valid": "false"}) == Reason.MISSING


def test_row_of_both():
    """A row with both kinds of fields is two records; the capture status comes first."""
    assert records_from_row(row(contact="TRUE")) == (STATUS, SAMPLE)
    assert capture_from_row(row(contact="TRUE")) == STATUS


@pytest.mark.parametrize("changes", [{"hooks": "x"}, {"range_m": "nan"}, {"y_m": ""}])
def test_row_is_taken_whole_or_not(changes):
    """A fault in either half of a row refuses the row."""
    reason(row(contact="1") | changes)


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"source": ""}, Reason.MISSING),
        ({"source": "a\x00b"}, Reason.SOURCE_NAME),
        ({"source": 5}, Reason.MISTYPED),
        ({"source": "x" * 129}, Reason.SOURCE_NAME),
        ({"hooks": {"a": 1}}, Reason.MISTYPED),
        ({"seq": ""}, Reason.MISSING),
        ({"seq": "seven"}, Reason.MISTYPED),
        ({"seq": "7.5"}, Reason.MISTYPED),
        ({"seq": "-1"}, Reason.SEQUENCE),
        ({"seq": "9223372036854775808"}, Reason.SEQUENCE),
        ({"t": ""}, Reason.MISSING),
        ({"t": "0"}, Reason.TIME_EARLY),
        ({"range_m": ""}, Reason.MISSING),
        ({"range_m": "20,5"}, Reason.MISTYPED),
        ({"range_m": "1_000"}, Reason.MISTYPED),
        ({"range_m": "true"}, Reason.MISTYPED),
        ({"range_m": "nan"}, Reason.NOT_FINITE),
        ({"range_m": "-inf"}, Reason.NOT_FINITE),
        ({"range_m": "1e999"}, Reason.NOT_FINITE),
        ({"range_m": "100000.1"}, Reason.RANGE),
        ({"roll_deg": ""}, Reason.MISSING),
        ({"y_rate_mps": "NaN"}, Reason.NOT_FINITE),
    ],
)
def test_reasons(changes, expected):
    """A row is refused for the same reasons as a message, and the text nan is not absence."""
    assert expected == reason(row() | changes)


def test_numbers_of_other_tools():
    """A whole number that a tool turned to a float is still a counter; exponents are numbers."""
    assert records_from_row(row(seq="7.0"))[0].seq == 7
    assert records_from_row(row(seq=str(2**63 - 1)))[0].seq == 2**63 - 1
    assert records_from_row(row(seq=1e3))[0].seq == 1000
    assert records_from_row(row(range_m="2.05e1"))[0].range_m == 20.5


@given(record=relative_samples | capture_statuses)
def test_round_trip(record):
    """A record's cells read back to the same bits."""
    cells = row_from_record(record)
    assert set(cells) <= set(COLUMNS)
    assert (record,) == records_from_row(cells)


def test_columns():
    """The written columns are the wire's fields plus the source, each once."""
    assert len(COLUMNS) == len(set(COLUMNS))
    assert {"source", "seq", "t", *REL_FIELDS, *CAP_FIELDS} - {"q"} == set(COLUMNS)
    assert len(REL_FIELDS) - 1 == 13
    assert len(CAP_FIELDS) == 10


def test_preamble():
    """Leading comment lines give keys and values; anything else ends them."""
    lines = [
        "\ufeff# Title: Kittiwake, nominal: run 3\n", "#limits:port C\n", "# just words\n", "\n",
        "# note:\n", "# title: again\n", "source,seq,t\n", "# note: not read\n",
    ]  # fmt: skip
    values, count = preamble(lines)
    assert values == {"title": "Kittiwake, nominal: run 3", "limits": "port C", "note": ""}
    assert count == 6
    assert preamble(["source,seq,t"]) == ({}, 0)
    assert preamble([]) == ({}, 0)


def test_header():
    """A header needs source, seq and t, and either a whole state or capture fields alone."""
    header = ("source", "seq", "t", "range_m", "range_rate_mps", "y_m", "z_m")
    whole = check_header((" source ", *header[1:], *ANGLES, "extra"), "pass.csv")
    assert (*header, *ANGLES, "extra") == whole
    assert check_header((*header, "q"), "pass.csv")
    assert check_header(("source", "seq", "t", "contact"), "pass.csv")


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        (("seq", "t", "contact"), "no column 'source'"),
        (("source", "seq", "t"), "no column 'range_m'"),
        (("source", "seq", "t", "range_m"), "no column 'yaw_deg'"),
        (("source", "seq", "t", "contact", "t"), "'t' stands twice"),
        (("source", "seq", "t", "y_m", "contact"), "no column 'z_m'"),
    ],
)
def test_header_refused(columns, words):
    """A table that cannot give a record is refused with file, line and column."""
    with pytest.raises(InputError) as caught:
        check_header(columns, "pass.csv", 4)
    assert any(words in str(fault) for fault in caught.value.faults)
    assert str(caught.value).startswith("pass.csv: line 4: ")
