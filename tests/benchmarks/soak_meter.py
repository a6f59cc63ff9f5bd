"""Reads, from inside a running watch, what might grow and how late the screen is."""

from __future__ import annotations

import csv
import ctypes
import os
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import TextIO

import numpy as np

from console.app.live import LiveWatch
from console.approach.event import AnyEvent
from console.archive.recording.recorder import Recorder
from console.present.trail import Trail

NAMES = (
    "past_s", "rss_mb", "beyond_mb", "trail_mb", "file_mb", "wal_mb", "queue", "waiting",
    "fed", "judged", "rejected", "lost", "overflowed", "events", "exceedances",
    "snapshots", "paints",
    "shown_p50_ms", "shown_p95_ms", "shown_max_ms",
    "painted_p50_ms", "painted_p95_ms", "painted_max_ms", "processor_s",
)  # fmt: skip
PAGE_BYTES = os.sysconf("SC_PAGE_SIZE")
_mincore = ctypes.CDLL(None, use_errno=True).mincore  # Linux and BSD; a soak runs on Linux


def resident_mb() -> float:
    """Give the resident memory of this process."""
    return int(Path("/proc/self/statm").read_text().split()[1]) * PAGE_BYTES / 1e6


def trail_mb(trail: Trail) -> float:
    """Give how much of the trail's arrays is in memory: they fill up, to a bound, as rows come.

    The system hands memory out in its own pages, which may be of 2 MB, so this grows by steps.
    """
    total = 0
    for pyramid, times in ((trail.path, trail.times), (trail.capture, trail.capture_times)):
        held = [times._t, *pyramid._low, *pyramid._high[1:]]
        total += sum(map(resident_bytes, held))
    return total / 1e6


def resident_bytes(array: np.ndarray) -> int:
    """Give how much of an array is in memory, by asking the system about each of its pages."""
    first = array.ctypes.data // PAGE_BYTES * PAGE_BYTES
    pages = -(-(array.ctypes.data + array.nbytes - first) // PAGE_BYTES)
    told = (ctypes.c_ubyte * pages)()
    if _mincore(ctypes.c_void_p(first), ctypes.c_size_t(pages * PAGE_BYTES), told):
        raise OSError(ctypes.get_errno(), "mincore")
    return int((np.frombuffer(told, np.uint8) & 1).sum()) * PAGE_BYTES


class Delays:
    """From the moment a sample was sent to the moment it was shown, newest samples only."""

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._newest_t = 0.0
        self._ms: list[float] = []

    def note(self, sent_t: float | None) -> None:
        """Take that the sample sent then is shown now; once for each sample."""
        if sent_t is not None and sent_t != self._newest_t:
            self._newest_t = sent_t
            self._ms.append((self._clock() - sent_t) * 1000.0)

    def take(self) -> tuple[int, list[float | None]]:
        """Give how many there were since the last call, and median, 95 % and greatest, ms."""
        taken, self._ms = sorted(self._ms), []
        if not taken:
            return 0, [None, None, None]
        return len(taken), [median(taken), taken[int(0.95 * (len(taken) - 1))], taken[-1]]


class Meter:
    """Writes a row of figures whenever it is asked to."""

    def __init__(
        self, watch: LiveWatch, recorder: Recorder, file: TextIO, clock: Callable[[], float]
    ) -> None:
        self.shown, self.painted = Delays(clock), Delays(clock)
        self._events = 0
        self._watch, self._recorder, self._file = watch, recorder, file
        self._writer = csv.writer(file)
        self._writer.writerow(NAMES)

    def listen(self) -> None:
        """Note the delay of each new snapshot of the watch, and count its events."""
        make, publish = self._watch._show, self._watch._publish

        def count(events: list[AnyEvent]) -> None:
            self._events += len(events)
            publish(events)

        def show() -> None:
            make()
            snapshot = self._watch._snapshot
            if snapshot is not None and snapshot.measured is not None:
                self.shown.note(snapshot.measured.t)

        self._watch._show = show  # type: ignore[method-assign]
        self._watch._publish = count  # type: ignore[method-assign]

    def row(self, past_s: float) -> None:
        """Write what stands now."""
        watch, trail = self._watch, self._watch.trail
        snapshot = watch.snapshot()
        rss, kept = resident_mb(), trail_mb(trail)
        shown, shown_ms = self.shown.take()
        painted, painted_ms = self.painted.take()
        status = self._recorder.status()
        here = status.path
        wal = here.with_name(here.name + "-wal")
        size, ahead = (path.stat().st_size / 1e6 if path.exists() else 0.0 for path in (here, wal))
        state = watch._state
        values = [
            past_s, rss, rss - kept, kept, size, ahead,
            watch._queue.qsize(), status.waiting_frames,
            self._recorder._backlog.number, state.judged, sum(state.rejects.values()),
            watch._lost, watch._overflowed, self._events,
            0 if snapshot is None else len(snapshot.exceedances), shown, painted,
            *shown_ms, *painted_ms, sum(os.times()[:2]),
        ]  # fmt: skip
        self._writer.writerow(
            "" if v is None else round(v, 3) if isinstance(v, float) else v for v in values
        )
        self._file.flush()
