"""``leadmark limits check`` and ``diff`` on the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from console.app.input_file import load_limits
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
