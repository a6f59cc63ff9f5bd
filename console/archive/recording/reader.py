"""Open a recording and read it: inputs in the order taken, tables, columns in bulk.

Reading never alters a recording. Each method opens the file for itself, so a recording may be
read by several threads, and while another console still writes it.
"""

from __future__ import annotations

import sqlite3
import weakref
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from types import TracebackType
from typing import Self

import msgspec

from console.archive.recording.bulk import sample_columns
from console.archive.recording.meta import CLOSED_KEY, RecordingMeta, meta_of
from console.archive.recording.opening import connect, open_file, remove_folder
from console.archive.recording.rows import exact_bytes
from console.archive.recording.salvage import Damage
from console.archive.recording.taken import (
    FrameTaken,
    Input,
    fed_from,
    frames_from,
    merged,
    others_between,
)
from console.core.errors import InputError, WireError
from console.core.records import Frame, Record
from console.wire.columns import RelativeColumns
from console.wire.decode import decode


@dataclass(frozen=True, slots=True)
class Extent:
    """How much a recording holds.

    Attributes
    ----------
    frames : int
    first, last : int
        Numbers of the first and last frame, 0 where there is none.
    t_first, t_last : float or None
        Their receive times.
    end_t : float or None
        Engine time of the last time mark.
    """

    frames: int
    first: int
    last: int
    t_first: float | None
    t_last: float | None
    end_t: float | None


@dataclass(frozen=True, slots=True)
class RecordedGap:
    """A run of frames that were received and are not in the recording."""

    first: int
    last: int
    frames: int
    t_first: float | None
    t_last: float | None
    reason: str


@dataclass(frozen=True, slots=True)
class RecordedNote:
    """Words kept with a time; ``origin`` is ``live`` or ``afterwards``."""

    t: float
    initials: str
    text: str
    origin: str


class Recording:
    """A recording that can be read; made by :func:`open_recording`.

    Attributes
    ----------
    path : Path
        The file that was asked for.
    meta : RecordingMeta
    extent : Extent
    was_closed : bool
        False after a kill, or while it is still recorded.
    damage : Damage or None
        What was salvaged, if it was damaged.
    """

    def __init__(self, path: Path, file: Path, folder: Path | None, damage: Damage | None) -> None:
        self.path = path
        self.damage = damage
        self._file = file
        self._remove = weakref.finalize(self, remove_folder, folder)
        with self._reading() as connection:
            facts = dict(connection.execute("SELECT key, value FROM meta ORDER BY rowid"))
            self.meta: RecordingMeta = meta_of(facts)
            self.extent = _extent(connection)
        self.was_closed = CLOSED_KEY in facts and damage is None

    def inputs(self, from_frame: int = 0) -> Iterator[Input]:
        """Give what the state model took, in exactly that order.

        Parameters
        ----------
        from_frame : int
            Begin with the frame of this number (and what was taken after it): to go on from a
            checkpoint that was made just before that frame was fed. 0 gives all, with what was
            taken before the first frame.
        """
        with self._reading() as connection:
            # Actions and time marks are few; frames are streamed.
            others = others_between(connection, from_frame)
            yield from merged(fed_from(connection, from_frame), others)

    def page(self, from_frame: int, frames: int) -> tuple[list[Input], int | None]:
        """Give the next inputs at once, with the file closed again.

        For who reads on and off for hours: nothing is held that a writer would wait for.

        Parameters
        ----------
        from_frame : int
            As for :meth:`inputs`.
        frames : int
            How many frames at most, at least 1.

        Returns
        -------
        inputs : list of Input
        next_frame : int or None
            Where the next page begins, None after the last.
        """
        with self._reading() as connection:
            found = frames_from(connection, from_frame)
            taken = list(islice(found, frames))
            beyond = next(found, None)
            found.close()
            next_frame = None if beyond is None else beyond[0]
            unfed = {row[0] for row in connection.execute("SELECT frame FROM unfed")}
            others = others_between(connection, from_frame, next_frame)
        fed = [FrameTaken(number, frame) for number, frame in taken if number not in unfed]
        return list(merged(fed, others)), next_frame

    def records(self) -> Iterator[tuple[int, Record]]:
        """Decode every frame again, in the order received; those that do not validate are left."""
        with self._reading() as connection:
            for number, frame in frames_from(connection, 0):
                try:
                    yield number, decode(frame.topic, frame.payload)
                except WireError:
                    continue

    def frames(self, from_frame: int = 0) -> Iterator[tuple[int, Frame]]:
        """Give all frames with their numbers, those never fed included."""
        with self._reading() as connection:
            yield from frames_from(connection, from_frame)

    def columns(self) -> RelativeColumns:
        """Give the decoded samples as arrays, in the order taken; ``row`` is the frame number."""
        with self._reading() as connection:
            return sample_columns(connection)

    def events(self) -> tuple[bytes, ...]:
        """Give the event log's lines, byte for byte, without line ends."""
        with self._reading() as connection:
            rows = connection.execute("SELECT body FROM events ORDER BY id")
            return tuple(exact_bytes(body) for (body,) in rows)

    def notes(self) -> tuple[RecordedNote, ...]:
        """Give the notes in order of time."""
        with self._reading() as connection:
            rows = connection.execute(
                "SELECT t, initials, text, origin FROM notes ORDER BY t, id"
            ).fetchall()
        return tuple(RecordedNote(*row) for row in rows)

    def gaps(self) -> tuple[RecordedGap, ...]:
        """Give the runs of frames that are missing: while the disk took none, or by damage."""
        with self._reading() as connection:
            rows = connection.execute(
                "SELECT first, last, frames, t_first, t_last, reason FROM gaps ORDER BY first"
            ).fetchall()
        return tuple(RecordedGap(*row) for row in rows)

    def rejects(self) -> dict[str, int]:
        """Count the messages that did not validate, by reason, the commonest first."""
        with self._reading() as connection:
            return dict(
                connection.execute(
                    "SELECT reason, count(*) FROM rejects GROUP BY reason ORDER BY 2 DESC, 1"
                ).fetchall()
            )

    def close(self) -> None:
        """Remove what was made to read it; the recording itself holds nothing open."""
        self._remove()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close."""
        self.close()

    @contextmanager
    def _reading(self) -> Iterator[sqlite3.Connection]:
        try:
            with closing(connect(self._file)) as connection:
                connection.execute("BEGIN")  # one state of a file that is being written
                yield connection
        except (sqlite3.Error, ValueError, msgspec.MsgspecError) as error:
            raise InputError.of(
                str(self.path), "", f"cannot be read further: {error}", "open it anew"
            ) from None


def open_recording(path: Path) -> Recording:
    """Open a recording, whole, killed, being written, or damaged.

    A damaged one is salvaged into a temporary file first: ``damage`` then says how much there
    was and from when to when.

    Raises
    ------
    InputError
        No such file, not a recording, made by a newer version, or nothing in it can be read.
    """
    opened = open_file(path)
    return Recording(path, opened.path, opened.folder, opened.damage)


def _extent(connection: sqlite3.Connection) -> Extent:
    # Numbers run without holes but for the noted gaps; counting rows would read the whole file.
    count, first, last = connection.execute(
        "SELECT last - (SELECT coalesce(sum(frames), 0) FROM gaps WHERE gaps.last < ends.last),"
        " first, last FROM"
        " (SELECT coalesce((SELECT min(id) FROM frames), 0) AS first,"
        "  coalesce((SELECT max(id) FROM frames), 0) AS last) AS ends"
    ).fetchone()
    times = dict(
        connection.execute("SELECT id, t_received FROM frames WHERE id IN (?, ?)", (first, last))
    )
    end = connection.execute("SELECT t FROM ends ORDER BY after DESC LIMIT 1").fetchone()
    end_t = end[0] if end else None
    return Extent(count, first, last, times.get(first), times.get(last), end_t)
