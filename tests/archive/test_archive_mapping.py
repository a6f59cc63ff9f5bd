"""A column mapping reads somebody else's table right, or says what is wrong with it."""

from __future__ import annotations

import csv
import io
import math
import random
from pathlib import Path

import pytest
from archive_tools import T0
from hypothesis import given
from hypothesis import strategies as st

from console.archive.column_units import FIELDS, UNITS, Dimension, dimension_of
from console.archive.mapping import load_mapping, mapping_beside, parse_mapping
from console.archive.passes import read_pass
from console.core.errors import InputError
from console.core.ids import SourceId
from console.core.records import RelativeSample

BASIC = "source,seq,t,range_m,range_rate_mps,y_m,z_m,roll_deg,pitch_deg,yaw_deg"


def read(folder: Path, table: str, mapping: str) -> list[RelativeSample]:
    """Read a table with a mapping beside it; nothing may be rejected."""
    path = folder / "pass.csv"
    path.write_text(table)
    (folder / "pass.mapping.toml").write_text("format = 1\n" + mapping)
    one = read_pass(path)
    assert one.rejected == {}
    return [record for record in one.records() if isinstance(record, RelativeSample)]


def refusal(folder: Path, table: str, mapping: str) -> str:
    """Give the line that table and mapping are refused with."""
    with pytest.raises(InputError) as caught:
        read(folder, table, mapping)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_own_names_units_and_directions(tmp_path: Path) -> None:
    """Millimetres, a closing rate, radians, milliseconds from an epoch: worked by hand."""
    table = (
        "Sensor;No.;Time;Dist (mm);Closing;Y;Z;Roll;Pitch;Yaw;ok\n"
        "optical;1;1500;20000.5;0.08;-12;3;0.001;-0.25;90;1\n"
        "optical;2;2500;19920;80e-3;0;0;0;0;0;0\n"
    )
    mapping = """
[columns]
source = "Sensor"
seq = "No."
t = { column = "Time", unit = "ms", epoch = "2031-04-11T09:35:12Z" }
range_m = { column = "Dist (mm)", unit = "mm" }
range_rate_mps = { column = "Closing", sign = -1 }
y_m = { column = "Y", unit = "cm", sign = -1 }
z_m = { column = "Z", unit = "ft" }
roll_deg = { column = "Roll", unit = "rad" }
pitch_deg = { column = "Pitch" }
yaw_deg = { column = "Yaw", unit = "arcmin" }
valid = "ok"
"""
    first, second = read(tmp_path, table, mapping)
    optical = SourceId("optical")
    t = 1933666512.0  # 2031-04-11T09:35:12Z (`date -u -d @1933666512`)
    assert RelativeSample(
        optical, 1, t + 1.5, 20.0005, -0.08, 0.12, 3 * 0.3048, math.degrees(0.001), -0.25, 1.5,
    ) == first  # fmt: skip
    assert RelativeSample(
        optical, 2, t + 2.5, 19.92, -0.08, *[0.0] * 5, valid=False
    ) == second  # fmt: skip


def test_slant_range_and_rate_become_axial(tmp_path: Path) -> None:
    """A straight flight made from axial truth, given along the line of sight."""
    rng = random.Random(5)
    truth = []
    lines = ["source,seq,t,rho,rho_dot,y_m,z_m,roll_deg,pitch_deg,yaw_deg,y_rate_mps,z_rate_mps"]
    for n in range(50):
        x, y, z = rng.uniform(0.5, 200), rng.uniform(-0.4, 0.4), rng.uniform(-0.4, 0.4)
        rates = [rng.uniform(-0.5, 0.5) for _ in range(3)]
        rho = math.sqrt(x * x + y * y + z * z)
        rho_dot = (x * rates[0] + y * rates[1] + z * rates[2]) / rho
        truth.append((x, rates[0]))
        cells = [rho, rho_dot, y, z, 0, 0, 0, rates[1], rates[2]]
        lines.append(",".join(["radio", str(n), repr(T0 + n), *map(repr, cells)]))
    mapping = """
[columns]
range_m = { column = "rho", slant = true }
range_rate_mps = { column = "rho_dot", slant = true }
"""
    found = read(tmp_path, "\n".join(lines), mapping)
    for (x, x_rate), record in zip(truth, found, strict=True):
        assert record.range_m == pytest.approx(x, rel=1e-11)
        assert record.range_rate_mps == pytest.approx(x_rate, rel=1e-9, abs=1e-9)


def test_a_slant_range_shorter_than_the_offset_rejects_its_row(tmp_path: Path) -> None:
    """Where the line of sight is shorter than the lateral offset there is no axial range."""
    path = tmp_path / "pass.csv"
    path.write_text(
        BASIC.replace("range_m", "rho")
        + f"\nradio,1,{T0},5,-1,3,0,0,0,0\nradio,2,{T0},2,-1,3,0,0,0,0\n"
        + f"radio,3,{T0},,-1,3,0,0,0,0\nradio,4,{T0},x,-1,3,0,0,0,0\n"
    )
    mapping = parse_mapping(
        b'format = 1\n[columns]\nrange_m = { column = "rho", slant = true }', "m"
    )
    one = read_pass(path, mapping)
    assert [record.range_m for record in one.records()] == [4.0]
    assert one.rejected == {
        "slant range shorter than lateral offset": 1,
        "missing field": 1,
        "mistyped field": 1,
    }
    assert [(reject.row, reject.reason) for reject in one.rejects[:1]] == [
        (3, "slant range shorter than lateral offset")
    ]


def test_a_table_without_source_and_number_gets_both(tmp_path: Path) -> None:
    """One source for all rows, numbered in order of time."""
    table = "t,range_m,range_rate_mps,y_m,z_m,roll_deg,pitch_deg,yaw_deg\n" + "".join(
        f"{T0 + n},{n},-0.1,0,0,0,0,0\n" for n in (3, 1, 2)
    )
    found = read(tmp_path, table, '[absent]\nsource = "lidar"\nseq = "count"\n')
    assert [(record.source, record.seq, record.range_m) for record in found] == [
        ("lidar", 0, 1.0),
        ("lidar", 1, 2.0),
        ("lidar", 2, 3.0),
    ]


def test_counted_numbers_are_each_sources_own(tmp_path: Path) -> None:
    """Two sources in one table are numbered apart, statuses apart from samples."""
    header = BASIC.replace("seq,", "") + ",contact"
    lines = [f"{'ab'[n % 2]},{T0 + n},{9 - n},-1,0,0,0,0,0," for n in range(6)]
    lines += [f"a,{T0 + 9 + n},,,,,,,,true" for n in range(2)]
    path = tmp_path / "pass.csv"
    path.write_text("\n".join([header, *lines]))
    mapping = parse_mapping(b'format = 1\n[absent]\nseq = "count"', "m")
    found = [(record.source, record.seq) for record in read_pass(path, mapping).records()]
    assert found == [
        ("a", 0),
        ("b", 0),
        ("a", 1),
        ("b", 1),
        ("a", 2),
        ("b", 2),
        ("a", 0),
        ("a", 1),
    ]


@given(st.floats(-1e6, 1e6), st.sampled_from([d for d in Dimension if UNITS[d]]), st.data())
def test_units_agree_with_their_definitions(
    value: float, dimension: Dimension, data: st.DataObject
) -> None:
    """Each unit against a factor written out here (SI brochure; NIST SP 811 appendix B)."""
    name = data.draw(st.sampled_from(sorted(UNITS[dimension])))
    factors = {
        "km": 1e3, "cm": 1e-2, "mm": 1e-3, "ft": 0.3048, "cm/s": 1e-2, "mm/s": 1e-3,
        "km/h": 1 / 3.6, "ft/s": 0.3048, "rad": 57.29577951308232, "mrad": 0.05729577951308232,
        "arcmin": 1 / 60, "rad/s": 57.29577951308232, "mrad/s": 0.05729577951308232,
        "deg/h": 1 / 3600, "ms": 1e-3, "us": 1e-6, "ns": 1e-9, "Pa": 1e-3, "hPa": 0.1,
        "mbar": 0.1, "bar": 100.0, "mmHg": 0.1333224, "torr": 0.1333224, "psi": 6.894757,
        "%": 0.01, "degF": 5 / 9,
    }  # fmt: skip
    offsets = {"K": -273.15, "degF": -17.77777777777778}
    expected = value * factors.get(name, 1.0) + offsets.get(name, 0.0)
    assert UNITS[dimension][name].to_own(value) == pytest.approx(expected, rel=1e-6, abs=1e-9)


def test_own_units_come_first_and_every_field_has_its_dimension() -> None:
    """A rule without a unit leaves values alone."""
    for dimension, units in UNITS.items():
        assert dimension is Dimension.NONE or next(iter(units.values())).is_own
    numbers = {field for field in FIELDS if dimension_of(field) is not Dimension.NONE}
    assert set(FIELDS) - numbers == {
        "source", "seq", "q", "valid", "contact", "soft_capture", "ready_to_hook", "hooks",
        "hard_capture",
    }  # fmt: skip


def test_thousandths_are_the_nearest_float(tmp_path: Path) -> None:
    """Millimetres read as the float that the metres, written out, would be."""
    rows = [f"optical,{n},{T0},{n},-0.1,0,0,0,0,0" for n in range(0, 3000, 7)]
    found = read(
        tmp_path,
        "\n".join([BASIC, *rows]),
        '[columns]\nrange_m = { column = "range_m", unit = "mm" }',
    )
    assert [float(f"{n}e-3") for n in range(0, 3000, 7)] == [r.range_m for r in found]


FAULTS = {
    'range_m = { column = "range_m", unit = "inch" }': "allowed: m, km, cm, mm, ft",
    'range_m = { column = "range_m", sign = 2 }': "found 2: allowed: 1, -1",
    'range_m = { column = "range_m", factor = 2 }': "unknown key",
    "range_m = { unit = 'm' }": "columns.range_m.column: missing",
    "range_m = 3": "must be a text",
    'rnage_m = "range_m"': 'did you mean "range_m"?',
    'seq = { column = "seq", unit = "s" }': "unknown key",
    't = { column = "t", epoch = "2031-04-11" }': "a UTC time such as",
    't = { column = "t", sign = -1 }': "unknown key",
    'y_m = { column = "y_m", slant = true }': "unknown key",
    'range_rate_mps = { column = "range_rate_mps", slant = true }': "set slant on both",
    '[absent]\nseq = "guess"': "allowed: count",
    '[absent]\nsource = ""': "a name such as optical",
    'source = "source"\n[absent]\nsource = "x"': "keep one of the two",
    'seq = "seq"\n[absent]\nseq = "count"': "keep one of the two",
    "[colums]": 'did you mean "columns"?',
}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_faulty_mapping_is_refused_with_its_line(fault: str) -> None:
    """File, line, key, what was found, what is allowed."""
    text = f"format = 1\n[columns]\n{fault}\n"
    with pytest.raises(InputError) as caught:
        parse_mapping(text.encode(), "my.mapping.toml")
    assert str(caught.value).startswith("my.mapping.toml: line ")
    assert FAULTS[fault] in str(caught.value)


@pytest.mark.parametrize(
    ("text", "told"),
    [("", "format: missing"), ("format = 2", "reads format = 1"), ("[columns", "not TOML")],
)
def test_the_format_must_stand_in_it(text: str, told: str) -> None:
    """A file of another format is not guessed at."""
    with pytest.raises(InputError, match=told):
        parse_mapping(text.encode(), "m")


def test_columns_the_table_has_not_are_told_with_the_nearest(tmp_path: Path) -> None:
    """The mapping's field, the missing column, the nearest names."""
    table = BASIC.replace("range_m", "Distance")
    line = refusal(tmp_path, table, '[columns]\nrange_m = "Distanse"\ny_m = "Ypsilon"\n')
    assert "line 1 (mapping of range_m): no column 'Distanse': perhaps 'Distance'" in line
    assert "line 1 (mapping of y_m): no column 'Ypsilon': give the column's name" in line
    twice = refusal(tmp_path, table + ",Distance", '[columns]\nrange_m = "Distance"\n')
    assert "more than one column 'Distance'" in twice


def test_a_slant_rate_needs_the_lateral_rates(tmp_path: Path) -> None:
    """They are asked for by name."""
    mapping = """
[columns]
range_m = { column = "range_m", slant = true }
range_rate_mps = { column = "range_rate_mps", slant = true }
"""
    line = refusal(tmp_path, BASIC, mapping)
    assert "no column 'y_rate_mps'" in line
    assert "a slant range needs it to become axial" in line


def test_a_mapping_is_found_beside_its_table_or_given(tmp_path: Path) -> None:
    """A given one comes before one beside; a missing one is named."""
    table = tmp_path / "pass.csv"
    assert mapping_beside(table) is None
    beside = tmp_path / "pass.mapping.toml"
    beside.write_text('format = 1\n[columns]\nrange_m = "a"\n')
    assert beside == mapping_beside(table)
    table.write_text(f"{BASIC.replace('range_m', 'a,b')}\nx,1,{T0},1,2,0,0,0,0,0,0\n")
    given = parse_mapping(b'format = 1\n[columns]\nrange_m = "b"\n', "m")
    assert [record.range_m for record in read_pass(table).records()] == [1.0]
    assert [record.range_m for record in read_pass(table, given).records()] == [2.0]
    with pytest.raises(InputError, match="cannot be read: No such file"):
        load_mapping(tmp_path / "none.toml")


def test_text_cells_of_a_converted_column_are_judged_one_by_one(tmp_path: Path) -> None:
    """A cell that is no number does not spoil its neighbours' units."""
    out = io.StringIO()
    rows = [BASIC.split(",")]
    rows += [["o", str(n), str(T0), cell, *"000000"] for n, cell in enumerate(["10", "x", " 5 "])]
    csv.writer(out).writerows(rows)
    path = tmp_path / "pass.csv"
    path.write_text(out.getvalue())
    mapping = parse_mapping(
        b'format = 1\n[columns]\nrange_m = { column = "range_m", unit = "cm", sign = -1 }', "m"
    )
    one = read_pass(path, mapping)
    assert [record.range_m for record in one.records()] == [-0.1, -0.05]
    assert one.rejected == {"mistyped field": 1}
