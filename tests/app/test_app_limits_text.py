"""``leadmark limits check`` and ``diff`` on the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from console.app.input_file import load_limits
from console.bench.labels import Label, LabelBook, Mark
from console.cli import main

SHIPPED = load_limits(None)


def written(folder: Path, name: str, *pairs: tuple[str, str]) -> str:
    """Write the shipped file with pieces replaced; give its path."""
    text = SHIPPED.text
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new)
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return str(path)


def test_a_file_that_hangs_together_is_status_0(tmp_path, capsys) -> None:
    """It is named with its hash, and that nothing was found is said."""
    assert main(["limits", "check", written(tmp_path, "a.toml")]) == 0
    said = capsys.readouterr().out
    assert SHIPPED.sha256 in said
    assert "hangs together" in said


def test_an_advisory_alone_is_status_0(tmp_path, capsys) -> None:
    """Something left open is told and does no harm."""
    path = written(tmp_path, "a.toml", ("[[0, 0.05], [3, 0.05]]", "[[0, 0.05], [2, 0.05]]"))
    assert main(["limits", "check", path]) == 0
    assert "advisory: closing-slow: " in capsys.readouterr().out


def test_a_contradiction_is_status_1_and_one_line(tmp_path, capsys) -> None:
    """What, where and how to mend stand in one line."""
    path = written(tmp_path, "a.toml", ("max = 0.04", "max = 0.03"))
    assert main(["limits", "check", path]) == 1
    lines = [one for one in capsys.readouterr().out.splitlines() if one.startswith("caution: ")]
    assert len(lines) == 1
    assert lines[0].startswith("caution: lateral-rate: allows 0.035 m/s at 0 m, the contact limit")
    assert lines[0].endswith("max 0.03: let the curve end inside the contact limit")


def test_diff_shows_words_and_the_curve(tmp_path, capsys) -> None:
    """Old, new and change stand over range, with real minus signs; the cautions close it."""
    a = written(tmp_path, "a.toml")
    b = written(tmp_path, "b.toml", ("[20, 0.16], [200, 0.60]", "[20, 0.15], [200, 0.60]"))
    assert main(["limits", "diff", a, b]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert "closing-fast: curve lowered by up to 0.01 m/s at 20 m" in lines
    assert ["20", "0.16", "0.15", "−0.01"] in [line.split() for line in lines]
    assert "certified flight controllers decide" in lines[-1]


def test_diff_of_like_files_says_so(tmp_path, capsys) -> None:
    """Two files that judge alike are told as such."""
    a = written(tmp_path, "a.toml")
    b = written(tmp_path, "b.toml", ("revision = 7", "revision = 9"))
    assert main(["limits", "diff", a, b]) == 0
    assert "Both judge alike." in capsys.readouterr().out


@pytest.mark.parametrize("order", [("a.toml", "bad.toml"), ("bad.toml", "a.toml")])
def test_diff_refuses_a_file_it_cannot_read(order, tmp_path, capsys) -> None:
    """Whichever of the two is wrong is named, status 2."""
    written(tmp_path, "a.toml")
    (tmp_path / "bad.toml").write_text("format = = 1")
    assert main(["limits", "diff", *(str(tmp_path / name) for name in order)]) == 2
    assert "bad.toml: line 1" in capsys.readouterr().err


def short_pass(folder: Path, name: str, peak_m: float) -> Path:
    """Write a pass of 12 s at 30 m whose lateral offset rises to a peak at its end."""
    rows = ["seq,t,source,range_m,range_rate_mps,y_m,z_m,roll_deg,pitch_deg,yaw_deg"]
    rows += [
        f"{n},{1933580100 + n / 10},optical,{30 - 0.01 * n},-0.1,{peak_m * n / 120},0,0,0,0"
        for n in range(120)
    ]
    path = folder / name
    path.write_text("\n".join(rows) + "\n")
    return path


def test_alarm_figures_of_a_file_over_passes(tmp_path, capsys, monkeypatch) -> None:
    """A pass far off the axis raises the corridor's alarms, told with targets and their source."""
    monkeypatch.setenv("LEADMARK_DATA", str(tmp_path / "data"))
    paths = [short_pass(tmp_path, "near.csv", 0.1), short_pass(tmp_path, "far.csv", 9.0)]
    assert main(["limits", "alarms", written(tmp_path, "a.toml"), *map(str, paths)]) == 0
    said = capsys.readouterr().out
    assert "alarms in 2 passes" in said
    assert "corridor " in said
    assert "ISA-18.2" in said
    assert said.splitlines()[-1].startswith("Advisory display")


def test_a_sweep_over_labelled_passes(tmp_path, capsys, monkeypatch) -> None:
    """A small factor makes the good pass a nuisance, a great one misses the bad one."""
    monkeypatch.setenv("LEADMARK_DATA", str(tmp_path / "data"))
    near, far = short_pass(tmp_path, "near.csv", 1.5), short_pass(tmp_path, "far.csv", 9.0)
    book = LabelBook([near, far])
    book.put(near, Label(Mark.GOOD, "A", "b"))
    book.put(far, Label(Mark.BAD, "A", "b"))
    words = ["--limit", "corridor", "--vary", "scale", "--from", "0.1", "--to", "3"]
    limits = written(tmp_path, "a.toml")
    assert main(["limits", "sweep", limits, str(near), str(far), *words, "--steps", "3"]) == 0
    lines = capsys.readouterr().out.splitlines()
    points = [line.split() for line in lines if " 1/1 " in line or " 0/1 " in line]
    found = [
        ([word for word in row if "/1" in word], "(as" in row, row[0] == "*") for row in points
    ]
    assert found == [
        (["1/1", "0/1"], False, False),
        (["0/1", "0/1"], True, True),
        (["0/1", "0/1"], False, True),
        (["0/1", "1/1"], False, False),
    ]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--limit", "nosuch", "--vary", "scale", "--from", "1", "--to", "2"], "one of closing"),
        (["--limit", "roll", "--vary", "scale", "--from", "0", "--to", "2"], "above 0"),
        (["--limit", "roll", "--vary", "on_delay", "--from", "-1", "--to", "2"], "negative"),
        (["--limit", "roll", "--vary", "scale", "--from", "1", "--to", "2"], "absent.csv"),
    ],
)
def test_a_sweep_that_cannot_be_is_refused(words, said, tmp_path, capsys) -> None:
    """One line that says what is allowed, status 2."""
    path = written(tmp_path, "a.toml")
    assert main(["limits", "sweep", path, str(tmp_path / "absent.csv"), *words]) == 2
    error = capsys.readouterr().err
    assert said in error
    assert error.count("\n") == 1
