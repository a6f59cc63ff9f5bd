"""Where files lie, and names that never overwrite."""

from __future__ import annotations

from pathlib import Path

import pytest

import console
from console.archive import places, shipped
from console.core.errors import UsageError


def test_shipped_files_are_found_beside_the_package_in_a_checkout() -> None:
    """The shipped roots of this checkout lie beside the package."""
    top = Path(console.__file__).resolve().parent.parent
    assert top / "icons" / "fonts" == shipped.shipped("icons", "fonts")
    assert shipped.shipped("icons", "fonts", "LICENSE.txt").is_file()


def test_shipped_files_inside_the_package_come_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In a wheel the build has put them into the package."""
    package = tmp_path / "console"
    (package / "replay_data" / "limits").mkdir(parents=True)
    (package / "replay_data" / "limits" / "b.toml").touch()
    (package / "replay_data" / "limits" / "a.toml").touch()
    (package / "replay_data" / "limits" / "notes.txt").touch()
    monkeypatch.setattr(console, "__file__", str(package / "__init__.py"))
    assert package / "replay_data" / "limits" == shipped.shipped("replay_data", "limits")
    assert shipped.shipped_names("replay_data", "limits", suffix=".toml") == ("a", "b")
    assert shipped.shipped_names("replay_data", "none", suffix=".toml") == ()


@pytest.mark.parametrize("parts", [(), ("tests",), ("console", "cli", "live.py")])
def test_only_shipped_roots_are_looked_up(parts: tuple[str, ...]) -> None:
    """Anything else is a mistake of ours."""
    with pytest.raises(UsageError):
        shipped.shipped(*parts)


def test_the_data_folder_follows_the_variable(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """LEADMARK_DATA decides where recordings go; without it the system's folder does."""
    monkeypatch.setenv(places.DATA_VARIABLE, str(tmp_path / "mine"))
    assert tmp_path / "mine" / "recordings" == places.recordings_folder()
    monkeypatch.setenv(places.DATA_VARIABLE, "  ")
    assert "leadmark" in str(places.data_folder())


@pytest.mark.parametrize(
    ("vehicle", "name"),
    [
        ("Kittiwake", "2031-04-11T093512Z kittiwake.leadmark"),
        ("", "2031-04-11T093512Z.leadmark"),
        ("Kittiwake 2 / west:\\*?", "2031-04-11T093512Z kittiwake-2-west.leadmark"),
        ("../..", "2031-04-11T093512Z.leadmark"),
        ("\0\n", "2031-04-11T093512Z.leadmark"),
    ],
)
def test_recordings_are_named_by_time_and_vehicle(vehicle: str, name: str) -> None:
    """1933666512 s is 2031-04-11T09:35:12Z (`date -u -d @1933666512`)."""
    assert name == places.recording_name(1933666512.9, vehicle)


def test_a_free_path_is_never_one_that_stands(tmp_path: Path) -> None:
    """Neither the file nor what SQLite left beside it may stand there."""
    first = places.new_recording_path(1933666512.0, "Kittiwake", tmp_path)
    assert tmp_path / "2031-04-11T093512Z kittiwake.leadmark" == first
    first.touch()
    second = places.new_recording_path(1933666512.0, "Kittiwake", tmp_path)
    assert tmp_path / "2031-04-11T093512Z kittiwake 2.leadmark" == second
    Path(f"{second}-wal").touch()
    third = places.new_recording_path(1933666512.0, "Kittiwake", tmp_path)
    assert tmp_path / "2031-04-11T093512Z kittiwake 3.leadmark" == third
