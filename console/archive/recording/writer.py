"""The writer's thread: take what waits, commit it, and never give up.

Every 50 ms all that waits becomes one transaction, so that what was handed in is on the disk
within 100 ms on a disk that keeps up. When that fails (disk full, folder read-only, file removed,
another program's lock) the batch is kept and tried again every second: in the same file, or, if
it was removed, in a new one with everything committed before, or, if it was damaged from outside,
in a new one that goes on where it ended.
"""

from __future__ import annotations

import sqlite3
import threading
import time
from dataclasses import replace
from pathlib import Path

from console.archive.places import free_path
from console.archive.recording.backlog import Backlog, Batch, Gap
from console.archive.recording.meta import RecordingMeta
from console.archive.recording.store import Store
from console.archive.recording.trouble import DAMAGED, REMOVED, Mend, Trouble, trouble_of
from console.core.errors import InputError

BATCH_S = 0.05
RETRY_S = 1.0
PATIENCE_S = 20.0
"""At the end a disk that takes what waits, however slowly, gets so much longer."""


class Writer:
    """Owns the file and the thread.

    Attributes
    ----------
    path : Path
        Where the recording stands now.
    trouble : Trouble or None
        Why nothing is written at present.
    moved_because : str
        Why it stands in another file than it began in; empty where it does not.
    written_frames : int
    all_written_at_s : float
        Monotonic time at which nothing older waited.
    """

    def __init__(
        self, path: Path, meta: RecordingMeta, backlog: Backlog, synchronous: str
    ) -> None:
        self.path = path
        self.trouble: Trouble | None = None
        self.moved_because = ""
        self.written_frames = 0
        self.all_written_at_s = time.monotonic()
        self._meta = meta
        self._backlog = backlog
        self._synchronous = synchronous
        self._store: Store | None = None
        self._held: Batch | None = None
        self._last_number = 0
        self._turns = 0
        self._deadline_s = 0.0
        self._closing = threading.Event()
        self._wake = threading.Event()
        self._turned = threading.Condition()
        try:
            self._store = Store.create(path, meta, synchronous)
        except (sqlite3.Error, OSError) as error:
            self.trouble = trouble_of(error)
        self._thread = threading.Thread(target=self._run, name="recorder", daemon=True)
        self._thread.start()

    @property
    def refused_rows(self) -> int:
        """Rows that no file could have stored."""
        store = self._store
        return store.refused_rows if store else 0

    def flush(self, timeout_s: float) -> bool:
        """Wait until all that waits now is committed; tell whether it is."""
        with self._turned:
            # The turn that runs now may have taken its batch already: the next one has all.
            target = self._turns + 2
            self._wake.set()
            done = self._turned.wait_for(lambda: self._turns >= target, timeout_s)
        return done and self.trouble is None

    def close(self, timeout_s: float) -> None:
        """Write what waits, end the file, end the thread; after the time, leave what is left."""
        self._deadline_s = time.monotonic() + timeout_s
        self._closing.set()
        self._wake.set()
        self._thread.join(timeout_s + RETRY_S)
        if self.trouble is None:
            self._thread.join(PATIENCE_S)

    def _run(self) -> None:
        while True:
            self._wake.wait(BATCH_S)
            self._wake.clear()
            closing = self._closing.is_set()
            written = self._turn()
            if closing and (written or time.monotonic() > self._deadline_s):
                break
            if not written and not closing:
                self._closing.wait(RETRY_S)
        if self._store is not None:
            self._store.finish()

    def _turn(self) -> bool:
        """Write what waits; tell whether it is committed."""
        started_s = time.monotonic()
        if self._held is None:
            self._held = self._backlog.take()
        trouble = self._attempt(self._held)
        if trouble is None:
            self._count(self._held)
            self._held = None
            self.all_written_at_s = started_s
        self.trouble = trouble
        with self._turned:
            self._turns += 1
            self._turned.notify_all()
        return trouble is None

    def _attempt(self, batch: Batch) -> Trouble | None:
        try:
            store = self._usable_store()
            if batch.rows:
                store.write(batch.rows)
        except (sqlite3.Error, OSError) as error:
            return trouble_of(error)
        except InputError:
            return Trouble("another file took its name")  # the next turn finds a free one
        except Exception as error:  # whatever it is, the screen must say it
            return Trouble(f"{type(error).__name__}: {error}")
        return None

    def _count(self, batch: Batch) -> None:
        self._backlog.written(batch)
        self.written_frames += batch.frames
        if batch.frames:
            number = batch.rows["frames"][-1][0]
            assert isinstance(number, int)
            self._last_number = number

    def _usable_store(self) -> Store:
        """Give the store, made, restored or continued in a new file where that is needed."""
        store = self._store
        if store is None:
            store = Store.create(free_path(self.path), self._meta, self._synchronous)
        elif not store.is_intact():
            self.trouble = REMOVED
            store = self._brought_back(store)
            self.moved_because = REMOVED.reason
        elif (self.trouble is not None and self.trouble.mend is Mend.CONTINUE) or (
            store.is_overwritten()
        ):
            self.trouble = DAMAGED
            store = self._continued(store)
            self.moved_because = DAMAGED.reason
        self._store = store
        self.path = store.path
        return store

    def _brought_back(self, store: Store) -> Store:
        try:
            store.ask_disk()
        except OSError:  # reading would write, too: what it holds stays on that disk
            return self._continued(store)
        try:
            return store.restored()
        except sqlite3.Error as error:
            if trouble_of(error).mend is Mend.CONTINUE:
                return self._continued(store)
            raise

    def _continued(self, store: Store) -> Store:
        """Begin a new file that says where the frames before it are."""
        more = {**self._meta.more, "continues": store.path.name}
        meta = replace(self._meta, more=more)
        made = Store.create(free_path(store.path), meta, self._synchronous)
        if self._last_number:
            before = Gap(1, self._last_number, None, None, f"in {store.path.name}")
            made.write({"gaps": [before.row()]})
        made.refused_rows += store.refused_rows
        store.abandon()
        return made
