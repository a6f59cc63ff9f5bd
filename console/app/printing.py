"""Printing lines of a watch from a thread of its own: a terminal that is not read holds nobody up.

What a paused pager leaves standing waits here; beyond a bound the newest lines are refused until
half is printed, and how many is said where they are missing. A line that a full disk refuses is
tried again. A reader that went away ends the printing and nothing else.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from types import TracebackType
from typing import Self

from console.app.thread_start import start_thread

LINES_KEPT = 10_000
NOT_READING = "the terminal was not reading"
AGAIN_AFTER_S = 1.0
"""A line that could not be written is tried again after so long."""
ROOM_AFTER_S = 0.02
"""One that found no room in an output that never blocks, after so long."""
LEAVE_AFTER_S = 2.0
"""So long may printing go on where a failure is on its way out."""


class Printing:
    """Lines on their way to a terminal; to be closed, best as a context.

    Parameters
    ----------
    write : callable
        Takes a line; may block, or raise what a file raises: it is given the same line again then.
    most : int
        So many lines wait at most.
    waits : bool
        Wait for room instead of leaving lines out, for who has nothing else to attend to; and
        raise BrokenPipeError where nobody reads any more.

    Raises
    ------
    InputError
        The system gives no more threads.
    """

    def __init__(
        self, write: Callable[[str], None], *, most: int = LINES_KEPT, waits: bool = False
    ) -> None:
        self._write = write
        self._most = most
        self._waits = waits
        self._lines: deque[str] = deque()
        self._missing = 0
        self._why = NOT_READING
        self._error: Exception | None = None
        """What ended the printing."""
        self._closing = threading.Event()
        self._changed = threading.Condition()
        self._thread = threading.Thread(target=self._print, name="printing", daemon=True)
        start_thread(self._thread, "the printing")

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if kind is None:
            self.close()
        else:
            self._end(LEAVE_AFTER_S)

    def say(self, line: str) -> None:
        """Take a line; unless it was asked to wait, return at once."""
        with self._changed:
            while self._waits and self._error is None and len(self._lines) >= self._most:
                self._changed.wait()
            if self._error is not None:
                if self._waits:
                    raise self._error
            elif self._has_room():
                self._put_note()
                self._put(line)
            else:
                self._missing += 1

    def close(self, *last: str) -> None:
        """Print what waits and these lines, however long the terminal takes.

        Raises
        ------
        OSError
            They cannot be written; BrokenPipeError where nobody reads them.
        """
        with self._changed:
            self._put_note()
            for line in last:
                self._put(line)
        self._end(None)
        if self._error is not None:
            raise self._error

    def _end(self, timeout_s: float | None) -> None:
        with self._changed:
            self._closing.set()
            self._changed.notify_all()
        self._thread.join(timeout_s)

    def _has_room(self) -> bool:
        """Tell whether a line may wait: once it was full, only when half is printed."""
        return len(self._lines) < (self._most // 2 if self._missing else self._most)

    def _put_note(self) -> None:
        """Say how many lines are missing here."""
        if self._missing:
            were = "1 line was" if self._missing == 1 else f"{self._missing} lines were"
            self._put(f"{were} not printed: {self._why}")
            self._missing, self._why = 0, NOT_READING

    def _put(self, line: str) -> None:
        if self._error is None:
            self._lines.append(line)
            self._changed.notify_all()

    # ------------------------------------------------------------------ the printing thread

    def _print(self) -> None:
        while (line := self._next()) is not None:
            try:
                while not self._is_written(line):
                    pass
            except Exception as error:
                self._give_up(error)
                return

    def _next(self) -> str | None:
        """Wait for a line; None at the end."""
        with self._changed:
            while not self._lines:
                if self._missing:
                    self._put_note()
                elif self._closing.is_set():
                    return None
                else:
                    self._changed.wait()
            self._changed.notify_all()
            return self._lines.popleft()

    def _is_written(self, line: str) -> bool:
        """Write a line; False after a while where that failed and may do better now."""
        try:
            self._write(line)
        except BrokenPipeError:
            raise
        except BlockingIOError:  # waited for like a terminal that does block, at the end too
            time.sleep(ROOM_AFTER_S)
            return False
        except OSError as error:  # a full disk, for one
            if self._closing.is_set():
                raise
            self._why = error.strerror or str(error)
            self._closing.wait(AGAIN_AFTER_S)
            return False
        return True

    def _give_up(self, error: Exception) -> None:
        with self._changed:
            self._error = error
            self._lines.clear()
            self._changed.notify_all()
