"""Record a watch: hand in what comes; a thread of its own writes it, and nothing waits for it.

No failure of the disk is ever raised to those who hand in: the status says *stopped* and why, the
queues fill up to their bound, and recording goes on by itself when the obstacle is gone.
"""

from __future__ import annotations

import time
from pathlib import Path
from types import TracebackType
from typing import Self

import msgspec

from console.approach.action import AnyAction, Note
from console.archive.recording.backlog import Backlog, Bounds
from console.archive.recording.meta import CLOSED_KEY, RecordingMeta
from console.archive.recording.rows import HEAD_BYTES, capture_row, exact_text, sample_row
from console.archive.recording.status import RecorderState, RecorderStatus
from console.archive.recording.store import SYNCHRONOUS
from console.archive.recording.writer import Writer
from console.core.records import CaptureStatus, Frame, Record, RelativeSample

SLOW_S = 1.0
CLOSE_WITHIN_S = 5.0

_json = msgspec.json.Encoder()


class Recorder:
    """A recording being made.

    Parameters
    ----------
    path : Path
        A new file; its folder is made if need be.
    meta : RecordingMeta
        The facts it opens with.
    bounds : Bounds, optional
        How much may wait in memory while the disk does not take it.
    synchronous : str
        SQLite's word; anything but ``FULL`` is for measuring.

    Raises
    ------
    InputError
        Something stands at the path already. Every other obstacle only makes the recording begin
        *stopped*; it starts by itself when the obstacle is gone.

    Notes
    -----
    ``frame`` is called by one thread, the other methods that hand in by one other (or the same).
    A frame's row and its samples' rows are tied by the frame's number.
    """

    def __init__(
        self,
        path: Path,
        meta: RecordingMeta,
        *,
        bounds: Bounds | None = None,
        synchronous: str = SYNCHRONOUS,
    ) -> None:
        self._backlog = Backlog(bounds or Bounds())
        self._writer = Writer(path, meta, self._backlog, synchronous)
        self._closed = False

    # -- what is handed in -----------------------------------------------------------------

    def frame(self, frame: Frame) -> int:
        """Take a raw message; give its number, counted from 1 in the order received."""
        trouble = self._writer.trouble
        return self._backlog.put_frame(frame, trouble.reason if trouble else "")

    def not_fed(self, number: int) -> None:
        """Note that a frame will not reach the state model, so that no replay feeds it."""
        self._backlog.put("unfed", (number,), number)

    def sample(self, record: Record, number: int) -> None:
        """Take the record decoded from a frame (heartbeats have no table)."""
        if isinstance(record, RelativeSample):
            self._backlog.put("samples", sample_row(number, record), number)
        elif isinstance(record, CaptureStatus):
            self._backlog.put("capture", capture_row(number, record), number)

    def reject(self, t: float, reason: str, detail: str, payload: bytes, number: int) -> None:
        """Take note of a frame that did not validate, with the first bytes of its payload."""
        row = (number, t, reason, detail, payload[:HEAD_BYTES])
        self._backlog.put("rejects", row, number)

    def action(self, t: float, action: AnyAction, after: int | None = None) -> None:
        """Take an operator's action.

        Parameters
        ----------
        t : float
            Engine time at which it was fed.
        action : Action
        after : int, optional
            Number of the last frame the state model had taken; by default the newest handed in,
            which is right where one thread does all.
        """
        self._backlog.put("actions", (self._after(after), t, _json.encode(action).decode()))
        if isinstance(action, Note):
            self._backlog.put("notes", (t, action.initials, action.text, "live"))

    def event(self, line: bytes, after: int | None = None) -> None:
        """Take an event as its JSON line, kept byte for byte (a line end at its end is not)."""
        body = exact_text(line.rstrip(b"\r\n"))
        self._backlog.put("events", (self._after(after), body))

    def tick_end(self, t: float, after: int | None = None) -> None:
        """Note that engine time has reached ``t`` with no frame taken since ``after``.

        Once at the end of the watch; and about once a second while nothing is received, so that
        a kill loses no more of the silence than that. The newest of one frame counts.
        """
        self._backlog.put("ends", (self._after(after), t))

    def fact(self, key: str, value: str) -> None:
        """Add a fact that was not known at the begin; the newest of a key counts."""
        self._backlog.put("meta", (key, value))

    # -- how it stands ---------------------------------------------------------------------

    @property
    def path(self) -> Path:
        """Where the recording stands now."""
        return self._writer.path

    def status(self) -> RecorderStatus:
        """Give the state for the screen."""
        writer, backlog = self._writer, self._backlog
        trouble = writer.trouble
        behind_s = time.monotonic() - writer.all_written_at_s
        if behind_s < SLOW_S or self._closed:
            behind_s = 0.0
        state = RecorderState.RECORDING if trouble is None else RecorderState.STOPPED
        slow = "the disk is slow" if behind_s else ""
        return RecorderStatus(
            state=RecorderState.CLOSED if self._closed else state,
            reason=trouble.reason if trouble else slow,
            path=writer.path,
            written_frames=writer.written_frames,
            waiting_frames=backlog.waiting_frames,
            lost_frames=backlog.refused_frames,
            lost_rows=backlog.refused_rows + writer.refused_rows,
            behind_s=behind_s,
            moved_because=writer.moved_because,
        )

    def flush(self, timeout_s: float = CLOSE_WITHIN_S) -> bool:
        """Wait until all that was handed in before is committed; tell whether it is."""
        return self._writer.flush(timeout_s)

    def close(self, timeout_s: float = CLOSE_WITHIN_S) -> RecorderStatus:
        """Write what waits and end the file; give the final status.

        A disk that does not take it within the time leaves ``waiting_frames`` above 0; what was
        committed stays as it is.
        """
        if not self._closed:
            self._backlog.close_gap()
            self.fact(CLOSED_KEY, "yes")
            self._writer.close(timeout_s)
            self._closed = True
        return self.status()

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

    def _after(self, number: int | None) -> int:
        return self._backlog.number if number is None else number
