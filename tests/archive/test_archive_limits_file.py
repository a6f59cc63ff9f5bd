"""Saving a limits file: reason, revision, and nobody's change overwritten."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from console.app.input_file import load_limits
from console.archive.limits_file import save_limits
from console.core.errors import InputError
from console.envelope.editing import says_the_same
from console.envelope.limits import LimitsFile
from console.envelope.reading import parse_limits
from tests.fakes.changed import replace


@pytest.fixture(name="path")
def path_fixture(tmp_path: Path) -> Path:
    """Give a copy of the shipped file."""
    path = tmp_path / "l.toml"
    path.write_text(load_limits(None).text, encoding="utf-8")
    return path


def opened(path: Path) -> LimitsFile:
    """Read a file."""
    return parse_limits(path.read_bytes(), path.name)


def narrower(file: LimitsFile) -> LimitsFile:
    """Give a draft with one dead band changed."""
    first = replace(file.limits[0], deadband=0.002)
    return replace(file, limits=(first, *file.limits[1:]))


def test_a_saved_file_says_the_draft_its_reason_and_the_next_revision(path: Path) -> None:
    """What is returned is what stands in the file, hash and all; comments are still there."""
    file = opened(path)
    saved = save_limits(path, file, narrower(file), reason=" less chatter ", author="A. Limit")
    assert says_the_same(
        saved, replace(narrower(file), revision=8, reason="less chatter", author="A. Limit")
    )
    assert opened(path) == saved
    assert saved.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert path.read_text().count("#") == file.text.count("#")
    again = save_limits(path, saved, file, reason="back", author="")
    assert (again.revision, again.author) == (9, "A. Limit")


@pytest.mark.parametrize("reason", ["", "  \n"])
def test_without_a_reason_nothing_is_written(path: Path, reason: str) -> None:
    """The refusal asks for one; the file is as it was."""
    file, before = opened(path), path.read_bytes()
    with pytest.raises(InputError, match="reason"):
        save_limits(path, file, narrower(file), reason=reason, author="A")
    assert path.read_bytes() == before


def test_a_file_that_changed_meanwhile_is_not_overwritten(path: Path) -> None:
    """Somebody else's edit, even of a comment, stands; nothing of ours is left behind."""
    file = opened(path)
    path.write_text(file.text + "# a word of somebody else\n")
    with pytest.raises(InputError, match="changed since"):
        save_limits(path, file, narrower(file), reason="r", author="A")
    assert path.read_text().endswith("somebody else\n")
    assert [one.name for one in path.parent.iterdir()] == ["l.toml"]


def test_a_file_that_is_gone_is_told(path: Path) -> None:
    """It is not made anew from memory."""
    file = opened(path)
    path.unlink()
    with pytest.raises(InputError, match=r"l\.toml"):
        save_limits(path, file, narrower(file), reason="r", author="A")
    assert not list(path.parent.iterdir())


def test_a_draft_that_is_no_file_leaves_the_old_one(path: Path) -> None:
    """Negative delays are refused like in any file."""
    file, before = opened(path), path.read_bytes()
    bad = replace(file, limits=(replace(file.limits[0], on_delay_s=-1.0), *file.limits[1:]))
    with pytest.raises(InputError, match="on_delay_s"):
        save_limits(path, file, bad, reason="r", author="A")
    assert path.read_bytes() == before


def test_rights_and_links_are_kept(path: Path) -> None:
    """The file keeps its mode, and a link to it stays a link."""
    path.chmod(0o640)
    link = path.with_name("link.toml")
    link.symlink_to(path)
    file = opened(link)
    save_limits(link, file, narrower(file), reason="r", author="A")
    assert link.is_symlink()
    assert path.stat().st_mode & 0o777 == 0o640
    assert opened(path).revision == 8
