"""The trainer's notes and marks of a pass, read once and added to."""

from __future__ import annotations

from pathlib import Path

from console.archive.pass_notes import add_note, read_notes
from console.archive.recording import RecordedNote


class NoteBook:
    """Notes of one pass, those made live and those made afterwards.

    Parameters
    ----------
    path : Path
        The pass; its frames are never altered.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self.notes: tuple[RecordedNote, ...] = ()

    def read(self) -> None:
        """Read what is kept; raises :class:`InputError` where it cannot be."""
        self.notes = read_notes(self._path)

    def add(self, t: float, initials: str, text: str) -> None:
        """Keep one more; raises :class:`InputError` where it cannot be."""
        note = add_note(self._path, t, initials, text)
        self.notes = tuple(sorted((*self.notes, note), key=lambda one: one.t))
