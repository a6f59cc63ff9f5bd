"""Open a recording and read it: inputs in the order taken, tables, columns in bulk.

Reading never alters a recording. Each method opens the file for itself, so a recording may be
read by several threads, and while another console still writes it.
"""

from __future__ import annotations

import shutil
import sqlite3
import weakref
from collections.abc import Generator, Iterable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from types import TracebackType
from typing import Self, TypeAlias

import msgspec

from console.approach.action import AnyAction
from console.archive.recording.bulk import sample_columns
from console.archive.recording.meta import CLOSED_KEY, RecordingMeta, meta_of
from console.archive.recording.opening import connect, open_file
from console.archive.recording.rows import exact_bytes
from console.archive.recording.salvage import Damage
from console.core.errors import InputError, WireError
from console.core.records import Frame, Record
from console.wire.columns import RelativeColumns
from console.wire.decode import decode

NO_FRAME = 2**63 - 1
"""Above every frame's number."""


class FrameTaken(msgspec.Struct, frozen=True, gc=False):
    """Input: a raw message, by its number in the order received."""

    number: int
    frame: Frame


class ActionTaken(msgspec.Struct, frozen=True):
    """Input: what the operator did at engine time ``t``, ``after`` being the last frame fed."""

    after: int
    t: float
    action: AnyAction


class TimeReached(msgspec.Struct, frozen=True, gc=False):
    """Input: engine time reached ``t`` with no frame since ``after``; the last one is the end."""

    after: int
    t: float


Input: TypeAlias = FrameTaken | ActionTaken | TimeReached


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
        self._remove = weakref.finalize(self, _remove_folder, folder)
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
            others = _others(connection, from_frame)
            yield from _merged(_fed(connection, from_frame), others)

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
            found = _frames(connection, from_frame)
            taken = list(islice(found, frames))
            beyond = next(found, None)
            found.close()
            next_frame = None if beyond is None else beyond[0]
            unfed = {row[0] for row in connection.execute("SELECT frame FROM unfed")}
            others = _others(connection, from_frame, next_frame)
        fed = [FrameTaken(number, frame) for number, frame in taken if number not in unfed]
        return list(_merged(fed, others)), next_frame

    def records(self) -> Iterator[tuple[int, Record]]:
        """Decode every frame again, in the order received; those that do not validate are left."""
        with self._reading() as connection:
            for number, frame in _frames(connection, 0):
                try:
                    yield number, decode(frame.topic, frame.payload)
                except WireError:
                    continue

    def frames(self, from_frame: int = 0) -> Iterator[tuple[int, Frame]]:
        """Give all frames with their numbers, those never fed included."""
        with self._reading() as connection:
            yield from _frames(connection, from_frame)

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


def _remove_folder(folder: Path | None) -> None:
    if folder is not None:
        shutil.rmtree(folder, ignore_errors=True)


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


def _merged(fed: Iterable[FrameTaken], others: list[ActionTaken | TimeReached]) -> Iterator[Input]:
    """Put what was taken between frames behind the frame it followed."""
    place = 0
    for taken in fed:
        while place < len(others) and others[place].after < taken.number:
            yield others[place]
            place += 1
        yield taken
    yield from others[place:]


def _frames(connection: sqlite3.Connection, from_frame: int) -> Generator[tuple[int, Frame]]:
    query = "SELECT id, t_received, topic, payload FROM frames WHERE id >= ? ORDER BY id"
    for number, t_received_s, topic, payload in connection.execute(query, (from_frame,)):
        yield number, Frame(t_received_s, exact_bytes(topic), payload)


def _fed(connection: sqlite3.Connection, from_frame: int) -> Iterator[FrameTaken]:
    unfed = {row[0] for row in connection.execute("SELECT frame FROM unfed")}
    for number, frame in _frames(connection, from_frame):
        if number not in unfed:
            yield FrameTaken(number, frame)


def _others(
    connection: sqlite3.Connection, from_frame: int, to_frame: int | None = None
) -> list[ActionTaken | TimeReached]:
    """Give actions and time marks in order: by frame, actions before the mark."""
    decoder = msgspec.json.Decoder(AnyAction)
    range_ = (from_frame, NO_FRAME if to_frame is None else to_frame)
    actions = connection.execute(
        "SELECT after, t, body FROM actions WHERE after >= ? AND after < ? ORDER BY after, id",
        range_,
    )
    found: list[ActionTaken | TimeReached] = [
        ActionTaken(after, t, decoder.decode(body)) for after, t, body in actions
    ]
    # After a kill the last mark may be older than an action that was taken after it.
    reached = {one.after: one.t for one in found}
    marks = connection.execute("SELECT after, t FROM ends WHERE after >= ? AND after < ?", range_)
    found += [TimeReached(after, max(t, reached.get(after, t))) for after, t in marks]
    # A stable sort keeps the actions of one frame in their order.
    found.sort(key=lambda item: (item.after, isinstance(item, TimeReached)))
    return found
