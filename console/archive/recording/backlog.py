"""What waits to be written: bounded queues between the threads of a watch and the writer.

One thread hands in frames, one (the state model's) everything else, one takes out. A deque's
``append`` and ``popleft`` are atomic, and each counter has one writer, so no lock is needed and
nobody who hands in ever waits for the disk.

When the bound is reached the *newest* are refused, until half has been written: so what is kept
is one unbroken stretch from the begin, which replays to exactly the same events, then a gap that
is noted with its length, then the rest.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

from console.archive.recording.rows import Row, exact_text
from console.archive.recording.store import TABLE_ORDER
from console.core.records import Frame

GAPS_REMEMBERED = 64


@dataclass(frozen=True, slots=True)
class Bounds:
    """How much may wait: frames, bytes of their payloads, rows of any other table."""

    frames: int = 100_000
    payload_bytes: int = 64 * 1024 * 1024
    rows: int = 100_000


@dataclass(slots=True)
class Gap:
    """A run of frames that were received but not kept."""

    first: int
    last: int
    t_first: float | None
    t_last: float | None
    reason: str = ""

    def row(self) -> Row:
        """Give a row of ``gaps`` without its id."""
        count = self.last - self.first + 1
        return (self.first, self.last, count, self.t_first, self.t_last, self.reason)


@dataclass(frozen=True, slots=True)
class Batch:
    """What goes into one transaction: rows by table, and how many frames that counts for."""

    rows: dict[str, list[Row]]
    frames: int = 0
    payload_bytes: int = 0


class Backlog:
    """The queues, by table, with what was refused.

    Attributes
    ----------
    number : int
        Of the newest frame handed in, refused ones counted.
    refused_frames, refused_rows : int
    """

    def __init__(self, bounds: Bounds) -> None:
        self.number = 0
        self.refused_frames = 0
        self.refused_rows = 0
        self._bounds = bounds
        self._queues: dict[str, deque[Row]] = {table: deque() for table in TABLE_ORDER}
        self._frames: deque[tuple[int, Frame]] = deque()
        self._bytes_in = 0
        self._bytes_out = 0
        self._frames_in = 0
        self._frames_out = 0
        self._gap: Gap | None = None
        # replaced whole, never changed: one thread adds, another looks through it
        self._gaps: tuple[Gap, ...] = ()

    @property
    def waiting_frames(self) -> int:
        """Frames handed in and not yet committed."""
        return self._frames_in - self._frames_out

    @property
    def is_empty(self) -> bool:
        """Whether nothing waits to be taken."""
        return not self._frames and not any(self._queues.values())

    def put_frame(self, frame: Frame, reason: str) -> int:
        """Take a frame; give its number, counted from 1. ``reason`` is why nothing is written."""
        self.number = number = self.number + 1
        if self._has_room(len(frame.payload)):
            self._frames_in += 1
            self._bytes_in += len(frame.payload)
            self._frames.append((number, frame))
        else:
            self._refuse(number, frame, reason)
        return number

    def put(self, table: str, row: Row, number: int = 0) -> None:
        """Take a row; one that belongs to a refused frame (``number``) goes with it."""
        queue = self._queues[table]
        if len(queue) < self._bounds.rows and not (self._gaps and self._was_refused(number)):
            queue.append(row)
        else:
            self.refused_rows += 1

    def take(self) -> Batch:
        """Take out what waits, for one transaction.

        Rows are taken before frames, so that a row's frame is in the same batch or an earlier.
        """
        rows: dict[str, list[Row]] = {}
        for table in TABLE_ORDER:
            queue = self._queues[table]
            waiting = [queue.popleft() for _ in range(len(queue))]
            if waiting:
                rows[table] = waiting
        frames = [self._frames.popleft() for _ in range(len(self._frames))]
        if frames:
            rows["frames"] = [_frame_row(number, frame) for number, frame in frames]
        return Batch(rows, len(frames), sum(len(frame.payload) for _, frame in frames))

    def written(self, batch: Batch) -> None:
        """Count a batch as committed; called by the thread that takes out."""
        self._bytes_out += batch.payload_bytes
        self._frames_out += batch.frames

    def close_gap(self) -> None:
        """End the gap that may be open, when no more frames come."""
        gap, self._gap = self._gap, None
        if gap is not None:
            self._queues["gaps"].append(gap.row())

    def _has_room(self, payload_bytes: int) -> bool:
        waiting = self._frames_in - self._frames_out
        waiting_bytes = self._bytes_in - self._bytes_out + payload_bytes
        bounds = self._bounds
        if self._gap is None:
            return waiting < bounds.frames and waiting_bytes <= bounds.payload_bytes
        if waiting > bounds.frames // 2 or waiting_bytes > bounds.payload_bytes // 2:
            return False
        self.close_gap()
        return True

    def _refuse(self, number: int, frame: Frame, reason: str) -> None:
        self.refused_frames += 1
        t = frame.t_received_s
        if self._gap is None:
            self._gap = Gap(number, number, t, t, reason or "the disk is too slow")
            self._gaps = (*self._gaps, self._gap)[-GAPS_REMEMBERED:]
        else:
            self._gap.last = number
            self._gap.t_last = t

    def _was_refused(self, number: int) -> bool:
        # most rows are of frames newer than every gap: the newest gap is looked at first
        for gap in reversed(self._gaps):
            if number > gap.last:
                return False
            if number >= gap.first:
                return True
        return False


def _frame_row(number: int, frame: Frame) -> Row:
    return (number, frame.t_received_s, exact_text(frame.topic), frame.payload)
