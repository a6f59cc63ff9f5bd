"""A damaged recording gives back what can still be read, with how much and from when to when."""

from __future__ import annotations

import random
import sqlite3
import time
from contextlib import closing
from pathlib import Path

import pytest
from archive_tools import META, T0, frame_of, record_pass, samples
from hypothesis import given, settings
from hypothesis import strategies as st
from recording_bomb import shared_chain

from console.approach.action import Note
from console.archive.recording import ActionTaken, Recorder, open_recording, salvage
from console.archive.recording.pages import PageFile
from console.archive.recording.salvage import table_of
from console.archive.recording.schema import COLUMNS
from console.core.errors import InputError
from console.core.utc import format_utc

RECORDS = samples(1200)
FRAMES = [frame_of(record) for record in RECORDS]


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Record a pass in several batches, so that tables lie mixed in the file; give its bytes."""
    path = tmp_path_factory.mktemp("whole") / "a.leadmark"
    with Recorder(path, META) as recorder:
        for count, (record, frame) in enumerate(zip(RECORDS, FRAMES, strict=True)):
            number = recorder.frame(frame)
            recorder.sample(record, number)
            if count % 100 == 99:
                recorder.action(record.t, Note(text=f"note {count}"), number)
                recorder.event(b'{"kind":"note"}', number)
                assert recorder.flush()
        recorder.tick_end(T0 + 100)
    return path.read_bytes()


def damaged(folder: Path, content: bytes) -> Path:
    """Write a damaged file."""
    path = folder / "damaged.leadmark"
    path.write_bytes(content)
    return path


def test_an_undamaged_file_is_salvaged_whole(tmp_path: Path, whole: bytes) -> None:
    """Taking rows from pages finds exactly what SQL finds, in every table."""
    source = damaged(tmp_path, whole)
    target = tmp_path / "target.leadmark"
    damage = salvage(source, target)
    assert (
        damage.frames,
        damage.missing,
        damage.unread_cells,
        damage.has_facts,
    ) == (1200, 0, 0, True)
    with closing(sqlite3.connect(source)) as one, closing(sqlite3.connect(target)) as two:
        for table in set(COLUMNS) - {"blocks", "sources"}:  # made for speed alone
            query = f"SELECT * FROM {table} ORDER BY 1"
            assert one.execute(query).fetchall() == two.execute(query).fetchall(), table


@pytest.mark.parametrize("share", [0.25, 0.5, 0.9, 0.999])
def test_a_cut_file_gives_its_begin(tmp_path: Path, whole: bytes, share: float) -> None:
    """A file cut off, as by a copy that broke, gives the frames of the pages that are there."""
    path = damaged(tmp_path, whole[: int(len(whole) * share)])
    with open_recording(path) as recording:
        damage = recording.damage
        assert damage is not None
        assert recording.meta == META
        found = dict(recording.frames())
        assert damage.frames == len(found) == recording.extent.frames
        # A page of a tree may lie far behind its neighbours, but most of the share is there.
        assert share * 1200 * 0.7 <= len(found) <= 1200
        assert all(FRAMES[number - 1] == frame for number, frame in found.items())
        assert damage.missing == max(found) - len(found)
        first, last = FRAMES[min(found) - 1], FRAMES[max(found) - 1]
        assert (first.t_received_s, last.t_received_s) == (damage.t_first, damage.t_last)
        for time in (first.t_received_s, last.t_received_s):
            assert format_utc(time) in damage.words
        assert f"{len(found)} frames read" in damage.words
        assert [gap.first for gap in recording.gaps()] == sorted(
            number for number in range(1, max(found)) if number not in found and
            (number == 1 or number - 1 in found)
        )  # fmt: skip
        assert not recording.was_closed


def test_a_lost_first_page_costs_only_what_stood_there(tmp_path: Path, whole: bytes) -> None:
    """Even the page that says what the file is may be gone."""
    content = random.Random(1).randbytes(4096) + whole[4096:]
    with open_recording(damaged(tmp_path, content)) as recording:
        assert [frame for _, frame in recording.frames()] == FRAMES
        actions = [one for one in recording.inputs() if isinstance(one, ActionTaken)]
        assert len(actions) == 12
        assert list(recording.columns().samples()) == RECORDS


def test_garbled_pages_cost_their_rows(tmp_path: Path, whole: bytes) -> None:
    """A stretch of rubbish in the middle: all other frames are there, the gap is noted."""
    content = bytearray(whole)
    start = whole.index(FRAMES[600].payload) // 4096 * 4096
    content[start : start + 4096] = bytes(4096)
    with open_recording(damaged(tmp_path, bytes(content))) as recording:
        found = dict(recording.frames())
        assert 600 + 1 not in found
        assert 1170 < len(found) < 1200
        assert all(FRAMES[number - 1] == frame for number, frame in found.items())
        assert recording.damage is not None
        assert 1200 - len(found) == recording.damage.missing
        assert 1200 - len(found) == sum(gap.frames for gap in recording.gaps())


def test_a_killed_and_damaged_recording_is_salvaged_with_its_log(tmp_path: Path) -> None:
    """What stands only in the write-ahead log is laid over the file's pages."""
    path = tmp_path / "a.leadmark"
    with Recorder(path, META) as recorder:
        for frame in FRAMES[:300]:
            recorder.frame(frame)
        assert recorder.flush()
        content, log = path.read_bytes(), Path(f"{path}-wal").read_bytes()
    killed = tmp_path / "killed.leadmark"
    target = tmp_path / "target.leadmark"
    for tail, expected in ((b"", 300), (b"torn frame", 300)):
        killed.write_bytes(bytes(4096) + content[4096:])
        Path(f"{killed}-wal").write_bytes(log + tail)
        target.unlink(missing_ok=True)
        assert expected == salvage(killed, target).frames
    # A log cut inside a commit ends before it, as SQLite would have it.
    Path(f"{killed}-wal").write_bytes(log[: len(log) - 100])
    target.unlink()
    assert salvage(killed, target).frames < 300


@settings(max_examples=40)
@given(st.data())
def test_no_damage_ever_gives_anything_but_a_recording_or_one_line(
    tmp_path_factory: pytest.TempPathFactory, whole: bytes, data: st.DataObject
) -> None:
    """Cut, overwritten or shifted anywhere: it opens with true frames, or is refused."""
    content = bytearray(whole)
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(content) - 1))
        length = data.draw(st.integers(1, 20_000))
        seed = data.draw(st.integers(0, 1000))
        kind = data.draw(st.sampled_from(["garble", "zero", "cut", "drop"]))
        if kind == "cut":
            del content[start:]
        elif kind == "drop":
            del content[start : start + length]
        else:
            piece = len(content[start : start + length])
            filling = bytes(piece) if kind == "zero" else random.Random(seed).randbytes(piece)
            content[start : start + piece] = filling
        content = content or bytearray(b"x")
    path = damaged(tmp_path_factory.mktemp("any"), bytes(content))
    told = ""
    try:
        with open_recording(path) as recording:
            list(recording.inputs())
            recording.columns()
            recording.events()
            recording.notes()
    except InputError as error:
        told = str(error)
    assert not told or (told.startswith(f"{path}: ") and "\n" not in told)


def test_an_action_that_is_none_is_left_away_or_told(tmp_path: Path, whole: bytes) -> None:
    """Salvage gives sound inputs only; an undamaged file with such a row is refused at it."""
    path = damaged(tmp_path, whole)
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute('UPDATE actions SET body = \'{"action": "dance"}\' WHERE id = 3')
    with pytest.raises(InputError, match=r"cannot be read further: .*dance"):
        list(open_recording(path).inputs())
    target = tmp_path / "target.leadmark"
    assert salvage(path, target).unread_cells == 1
    actions = [one for one in open_recording(target).inputs() if isinstance(one, ActionTaken)]
    assert len(actions) == 11


def test_nothing_to_salvage_is_refused(tmp_path: Path) -> None:
    """Rubbish under a recording's name is told as such."""
    with pytest.raises(InputError, match="nothing can be read"):
        open_recording(damaged(tmp_path, random.Random(2).randbytes(50_000)))


def test_a_schema_of_odd_text_is_told_in_one_line(tmp_path: Path, whole: bytes) -> None:
    """A control or half a character in a table's own text is salvaged, and the reason shown."""
    for odd in (b"\x1b", b"\xcf", b"\xff\xff"):
        text = b"CREATE TABLE c" + odd + b"apture"[len(odd) :]
        path = damaged(tmp_path, whole.replace(b"CREATE TABLE capture", text))
        assert whole != path.read_bytes()
        with open_recording(path) as recording:
            assert recording.damage is not None
            assert recording.damage.words.isprintable()
            assert recording.damage.frames == len(list(recording.frames())) > 1000


def test_rows_that_share_one_long_chain_are_read_a_few_times_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file of 1.6 MB whose every row asks for the rest of the file: 300 GB if each were read."""
    asked: list[int] = []
    page = PageFile._page
    monkeypatch.setattr(PageFile, "_page", lambda self, n: asked.append(n) or page(self, n))
    path = damaged(tmp_path, shared_chain(leaves=200, pages=200))
    begin_s = time.process_time()
    with pytest.raises(InputError, match="nothing can be read"):
        open_recording(path)
    assert time.process_time() - begin_s < 2.0
    # of each page eight times, of the chain's begin once for the few rows of each leaf
    assert len(asked) < 10_000


def test_decoded_samples_outlive_their_frames(tmp_path: Path) -> None:
    """Where every frame is lost but decoded samples are not, these are given back."""
    path = tmp_path / "a.leadmark"
    record_pass(path, RECORDS[:600])  # one batch: samples stand before frames
    content = path.read_bytes()
    path.write_bytes(content[: content.index(FRAMES[0].payload) // 4096 * 4096])
    with open_recording(path) as recording:
        found = list(recording.columns().samples())
        assert RECORDS[: len(found)] == found
        assert len(found) > 500
        assert recording.damage is not None
        assert "no frame could be read" in recording.damage.words


def test_a_target_that_stands_is_never_overwritten(tmp_path: Path, whole: bytes) -> None:
    """Salvage writes a new file only; and a file that is not there is named."""
    source = damaged(tmp_path, whole)
    target = tmp_path / "target"
    target.write_text("mine")
    with pytest.raises(InputError, match="stands already"):
        salvage(source, target)
    assert target.read_text() == "mine"
    with pytest.raises(InputError, match="cannot be salvaged"):
        salvage(tmp_path / "none", tmp_path / "new")


def test_the_temporary_file_goes_with_the_recording(tmp_path: Path, whole: bytes) -> None:
    """Closing a salvaged recording leaves nothing behind, and the damaged file as it was."""
    path = damaged(tmp_path, whole[:100_000])
    recording = open_recording(path)
    folder = recording._file.parent
    assert folder.is_dir()
    recording.close()
    assert not folder.exists()
    assert whole[:100_000] == path.read_bytes()


def test_every_table_is_told_apart_from_every_other(tmp_path: Path, whole: bytes) -> None:
    """One row of each table, as SQLite stores it, is known again by its columns alone."""
    path = tmp_path / "a.leadmark"
    record_pass(path, RECORDS[:600])
    known = {"meta", "frames", "samples"}
    seen = {table_of(values) for _, values in PageFile(path).rows()}
    assert known | {None} == seen  # None: blocks, sources and SQLite's own table


@pytest.mark.parametrize("length", [1, 4000, 4061, 4062, 5000, 8000, 70_000])
def test_payloads_of_any_length_are_read_from_their_pages(tmp_path: Path, length: int) -> None:
    """Around the lengths where SQLite begins to spill to overflow pages."""
    path = tmp_path / "a.leadmark"
    payload = random.Random(length).randbytes(length)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE t (a INTEGER PRIMARY KEY, b, c)")
        rows = [(7, payload, -1.5), (2**40, payload[:-1], None), (-3, "é" * length, 2**62)]
        connection.executemany("INSERT INTO t VALUES (?, ?, ?)", rows)
        connection.commit()
    found = {rowid: values for rowid, values in PageFile(path).rows() if values[0] is None}
    assert {row[0]: (None, *row[1:]) for row in rows} == found
