"""A column mapping given on the command line says and refuses what the file would."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from console.archive.mapping import parse_mapping
from console.archive.mapping_words import mapping_of_words
from console.cli import main
from console.core.errors import InputError

TABLE = "Time;Dist;Closing;Y;Z;Roll;Pitch;Yaw\n" + "".join(
    f"{n * 100};{9000 - 9 * n};0.09;0;0;0.1;0.2;0.3\n" for n in range(1, 60)
)
COLUMNS = (
    "t=Time,unit=ms,epoch=2031-04-11T09:35:12Z", "range_m=Dist,unit=mm",
    "range_rate_mps=Closing,sign=-1", "y_m=Y", "z_m=Z", "roll_deg=Roll", "pitch_deg=Pitch",
    "yaw_deg=Yaw",
)  # fmt: skip
ABSENT = ("source=optical", "seq=count")
FILE = """
format = 1
[columns]
t = { column = "Time", unit = "ms", epoch = "2031-04-11T09:35:12Z" }
range_m = { column = "Dist", unit = "mm" }
range_rate_mps = { column = "Closing", sign = -1 }
y_m = "Y"
z_m = "Z"
roll_deg = "Roll"
pitch_deg = "Pitch"
yaw_deg = "Yaw"
[absent]
source = "optical"
seq = "count"
"""


def options() -> list[str]:
    """Give the whole mapping as options."""
    words = [part for column in COLUMNS for part in ("--column", column)]
    return words + [part for one in ABSENT for part in ("--absent", one)]


def test_words_and_file_say_the_same() -> None:
    """Column by column, the mapping's rules are those of the file."""
    made = mapping_of_words(COLUMNS, ABSENT)
    read = parse_mapping(FILE.encode(), "x")
    assert made is not None
    values = [
        [
            (r.field, r.column, r.sign, r.is_slant, r.epoch_s, r.unit and r.unit.name)
            for r in m.rules
        ]
        for m in (read, made)
    ]
    # in the file a plain text has no unit of its own, in a table the field's own
    assert [v[:5] for v in values[0]] == [v[:5] for v in values[1]]
    assert (read.source, read.numbering) == (made.source, made.numbering)
    assert mapping_of_words((), ()) is None


def test_slant_and_odd_names_pass_through() -> None:
    """A column's name may hold quotes, signs of equality and any letter."""
    made = mapping_of_words(('range_m=Dist "m" = ρ\\,slant', "y_m= Y "), ())
    assert made is not None
    rule = made.rule("range_m")
    assert rule is not None
    assert (rule.column, rule.is_slant) == ('Dist "m" = ρ\\', True)
    assert made.rule("y_m").column == "Y"  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("columns", "absent", "told"),
    [
        (("range=Dist",), (), "no such field"),
        (("range_m",), (), "the form is FIELD=COLUMN"),
        (("range_m=",), (), "the form is FIELD=COLUMN"),
        (("range_m=Dist,unit=inch",), (), "inch"),
        (("range_m=Dist,sign=2",), (), "sign"),
        (("range_m=Dist,colour=red",), (), "colour"),
        (("range_rate_mps=V,slant",), (), "set slant on both"),
        ((), ("range_m=none",), "range_m"),
        ((), ("seq=guess",), "guess"),
        (("t=Time", "t=Other"), (), "t"),
    ],
)
def test_faults_are_one_line(columns: tuple[str, ...], absent: tuple[str, ...], told: str) -> None:
    """Whatever is wrong is told in one line that names it, with the form."""
    with pytest.raises(InputError) as caught:
        mapping_of_words(columns, absent)
    line = str(caught.value)
    assert told in line
    assert "\n" not in line
    assert line.startswith("--")


def scored(capsys: pytest.CaptureFixture[str], *words: str) -> dict:
    """Give what ``leadmark score --json -`` says."""
    assert main(["score", *words, "--json", "-"]) in (0, 1)
    return json.loads(capsys.readouterr().out)


def test_commands_take_a_mapping(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Score reads the same by file, beside or named, and by options; so do replay and feed."""
    table, beside = tmp_path / "p.csv", tmp_path / "p.mapping.toml"
    table.write_text(TABLE, encoding="utf-8")
    other = tmp_path / "other.toml"
    other.write_text(FILE, encoding="utf-8")
    by_file = scored(capsys, str(table), "--mapping", str(other))
    by_words = scored(capsys, str(table), *options())
    beside.write_text(FILE, encoding="utf-8")
    assert by_file == by_words == scored(capsys, str(table))
    assert by_file["samples"] == 59
    beside.unlink()
    words = ["replay", str(table), "--headless", "--speed", "max"]
    assert main([*words, *options()]) == 0
    assert "samples judged 59" in capsys.readouterr().out
    assert main(["replay", str(table), "--headless"]) == 2
    line = capsys.readouterr().err
    assert line.count("\n") == 1
    assert "no column for" in line
    assert "range_m is perhaps 'Dist'" in line
    both = ["--mapping", str(other), "--column", "t=Time"]
    for command in ("score", "replay", "feed"):
        assert main([command, str(table), *both, *(["--headless"] * (command == "replay"))]) == 2
        assert "use one of the two" in capsys.readouterr().err
