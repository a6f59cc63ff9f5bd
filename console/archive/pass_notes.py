"""Notes and marks made after a pass, kept with it; what was recorded is never altered.

A recording has a table for them; a table of CSV or Parquet gets a file beside it,
``NAME.notes.jsonl``, one note a line.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import msgspec

from console.archive.recording import RecordedNote, is_recording, open_recording
from console.archive.recording.schema import insert_of
from console.core.errors import InputError
from console.core.foreign_json import BAD_JSON

AFTERWARDS = "afterwards"
BUSY_S = 5.0


def notes_beside(table: Path) -> Path:
    """Give the file that holds a table's notes, whether it exists or not."""
    return table.with_name(table.name + ".notes.jsonl")


def read_notes(path: Path) -> tuple[RecordedNote, ...]:
    """Give the notes of a pass in order of time.

    Raises
    ------
    InputError
        The recording or the file of notes cannot be read.
    """
    if is_recording(path):
        with open_recording(path) as recording:
            return recording.notes()
    beside = notes_beside(path)
    if not beside.exists():
        return ()
    decoder = msgspec.json.Decoder(RecordedNote)
    notes = []
    try:
        for number, line in enumerate(beside.read_bytes().splitlines(), start=1):
            if line.strip():
                notes.append(_decoded(decoder, line, beside, number))
    except OSError as error:
        raise _refused(beside, error.strerror or str(error)) from None
    return tuple(sorted(notes, key=lambda note: note.t))


def add_note(path: Path, t: float, initials: str, text: str) -> RecordedNote:
    """Keep a note with a pass.

    Parameters
    ----------
    path : Path
        The recording or table.
    t : float
        To which time of the pass it belongs, UTC seconds.
    initials, text : str

    Raises
    ------
    InputError
        It cannot be written; what stood there is unharmed.
    """
    note = RecordedNote(t, initials, text, AFTERWARDS)
    try:
        if is_recording(path):
            _insert(path, note)
        else:
            with notes_beside(path).open("ab") as file:
                file.write(msgspec.json.encode(note) + b"\n")
    except (OSError, sqlite3.Error) as error:
        raise _refused(path, str(error)) from None
    return note


def _insert(path: Path, note: RecordedNote) -> None:
    uri = f"{path.absolute().as_uri()}?mode=rw"
    with closing(sqlite3.connect(uri, uri=True, timeout=BUSY_S)) as connection, connection:
        row = (None, note.t, note.initials, note.text, note.origin)
        connection.execute(insert_of("notes"), row)


def _decoded(
    decoder: msgspec.json.Decoder[RecordedNote], line: bytes, path: Path, number: int
) -> RecordedNote:
    try:
        return decoder.decode(line)
    except BAD_JSON as error:
        raise InputError.of(
            str(path), f"line {number}", f"not a note: {error}", "mend or remove the line"
        ) from None


def _refused(path: Path, reason: str) -> InputError:
    return InputError.of(str(path), "", f"notes cannot be kept: {reason}", "check its rights")
