"""Recordings as passes, exported to tables; notes kept with either."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from archive_tools import META, T0, frame_of, plain_frames, samples, statuses

from console.approach.action import Note
from console.archive.export import export_recording
from console.archive.pass_notes import add_note, notes_beside, read_notes
from console.archive.passes import PassKind, read_pass
from console.archive.recording import RecordedNote, Recorder, open_recording
from console.core.errors import InputError
from console.core.records import Frame
from tests.fakes.changed import replace


def test_a_recording_is_a_pass_in_the_order_received(tmp_path: Path) -> None:
    """Late samples and duplicates stand where they came; the header tells what it was."""
    path = tmp_path / "a.leadmark"
    relative = samples(20)
    received = [*relative[:5], relative[7], relative[5], relative[5], *relative[8:], *statuses(2)]
    meta = replace(META, vehicle="Kittiwake", port="C", limits_name="port-c.toml")
    with Recorder(path, meta) as recorder:
        for record in received:
            number = recorder.frame(frame_of(record))
            recorder.sample(record, number)
        recorder.reject(T0, "not decodable", "", b"x", recorder.frame(Frame(T0, b"rel/x", b"x")))
    one = read_pass(path)
    assert received == list(one.records())
    assert received[:-2] == list(one.columns().samples())
    assert (
        one.kind,
        one.name,
        one.rejected,
        one.rejected_count,
    ) == (PassKind.RECORDING, "a.leadmark", {"not decodable": 1}, 1)
    assert one.header == {
        "title": "A pass made by hand",
        "vehicle": "Kittiwake",
        "port": "C",
        "limits": "port-c.toml",
    }


@pytest.mark.parametrize("suffix", [".csv", ".parquet"])
def test_an_export_reads_back_to_the_same_records(tmp_path: Path, suffix: str) -> None:
    """Decoded from the raw frames; heartbeats and rubbish are left away."""
    path = tmp_path / "a.leadmark"
    records = [*samples(30), *statuses(3)]
    with Recorder(path, META) as recorder:
        for record in records:
            recorder.frame(frame_of(record))
            recorder.frame(plain_frames(1)[0])
    target = tmp_path / f"out{suffix}"
    with open_recording(path) as recording:
        assert len(records) == export_recording(recording, target)
    one = read_pass(target)
    assert sorted(records, key=lambda r: (r.t, r.source, r.seq)) == list(one.records())
    assert one.header["note"] == "exported from a.leadmark"


def test_damage_is_told_in_the_header(tmp_path: Path) -> None:
    """A salvaged pass says so wherever it is shown."""
    path = tmp_path / "a.leadmark"
    with Recorder(path, META) as recorder:
        for frame in plain_frames(5000):
            recorder.frame(frame)
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])
    one = read_pass(path)
    assert "frames read" in one.header["damage"]
    assert one.recording is not None
    one.recording.close()


def test_notes_made_afterwards_are_kept_with_a_recording(tmp_path: Path) -> None:
    """Beside those made live; the frames stay as they were, to the byte."""
    path = tmp_path / "a.leadmark"
    with Recorder(path, META) as recorder:
        for frame in plain_frames(50):
            recorder.frame(frame)
        recorder.action(T0 + 5, Note(initials="AB", text="live"))
    before = frames_of(path)
    made = add_note(path, T0 + 2, "TR", "too early — “hold”")
    assert (made, RecordedNote(T0 + 5, "AB", "live", "live")) == read_notes(path)
    assert made.origin == "afterwards"
    assert before == frames_of(path)


def frames_of(path: Path) -> list[object]:
    """Read the table of frames."""
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute("SELECT * FROM frames").fetchall()


def test_notes_on_a_table_stand_beside_it(tmp_path: Path) -> None:
    """One a line; the table itself is not touched."""
    path = tmp_path / "pass.csv"
    path.write_text("anything")
    assert read_notes(path) == ()
    second = add_note(path, T0 + 9, "TR", "second\nline")
    first = add_note(path, T0 + 1, "TR", "first")
    assert (first, second) == read_notes(path)
    assert path.read_text() == "anything"
    with notes_beside(path).open("a") as file:
        file.write("\nnot a note\n")
    with pytest.raises(InputError, match=r"pass\.csv\.notes\.jsonl: line 4: not a note"):
        read_notes(path)
    notes_beside(path).write_bytes(b'{"t": 1.0, "initials": "\xcf\xff", "text": ""}\n')
    with pytest.raises(InputError, match=r"pass\.csv\.notes\.jsonl: line 1: not a note"):
        read_notes(path)


def test_notes_that_cannot_be_kept_are_refused(tmp_path: Path) -> None:
    """No such folder, no such recording: one line."""
    with pytest.raises(InputError, match="notes cannot be kept"):
        add_note(tmp_path / "none" / "pass.csv", T0, "TR", "x")
    with pytest.raises(InputError, match="notes cannot be kept"):
        add_note(tmp_path / "none.leadmark", T0, "TR", "x")
