"""Loss, duplicates, late samples and restarts, told by each source's counter.

Theory of operation. A source numbers its samples +1 each. Within one run of a source

* a number above the newest is new, and the numbers skipped are lost;
* a number that was counted as lost and comes after all takes its loss back; it is late where a
  newer sample came before it;
* a number already seen is a duplicate, to be dropped;
* a lower number at a later time is none of these: the source started again, and a new run begins.

What came before the first sample heard cannot be told from what was lost, so it never counts as
lost. Loss at the tail shows when a heartbeat names a number that never came.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from enum import Enum

import msgspec

from console.core.ids import SourceId
from console.core.records import CaptureStatus, Heartbeat, RelativeSample
from console.wire.gaps import Gaps
from console.wire.topic import Kind, kind_of

STREAMS_KEPT = 256
EARLY_KEPT = 1024
FASTEST_HZ = 100_000.0
"""A heartbeat that claims more samples than this in the time since the newest is not believed."""
RELATIVE, CAPTURE = Kind.RELATIVE, Kind.CAPTURE


class ArrivalKind(Enum):
    """What a sample is to its source's run."""

    NEW = "new"
    DUPLICATE = "duplicate"
    LATE = "late"
    RESTART = "restart"


@dataclass(frozen=True, slots=True)
class Arrival:
    """How a sample arrived.

    Attributes
    ----------
    kind : ArrivalKind
    lost : int
        Samples newly found to be lost before this one; 0 for anything but ``NEW``.
    first_lost_seq : int
        The first of them; 0 where none is lost.
    """

    kind: ArrivalKind
    lost: int = 0
    first_lost_seq: int = 0


class StreamCounts(msgspec.Struct, frozen=True, gc=False):
    """Counts of one stream, or of all streams of a source.

    Attributes
    ----------
    received : int
        Samples that came, duplicates among them.
    lost : int
        Samples that never came; a late one is taken back.
    duplicates, late, restarts : int
    """

    received: int = 0
    lost: int = 0
    duplicates: int = 0
    late: int = 0
    restarts: int = 0

    def __add__(self, other: StreamCounts) -> StreamCounts:
        """Add the counts of two streams."""
        return StreamCounts(
            self.received + other.received,
            self.lost + other.lost,
            self.duplicates + other.duplicates,
            self.late + other.late,
            self.restarts + other.restarts,
        )


_IN_ORDER = Arrival(ArrivalKind.NEW)
_DUPLICATE = Arrival(ArrivalKind.DUPLICATE)
_LATE = Arrival(ArrivalKind.LATE)
_RESTART = Arrival(ArrivalKind.RESTART)


class SequenceBook:
    """Keeps the counter of every source, one for each kind of message.

    Parameters
    ----------
    ordered : bool
        The input was put in order of time, as a table is: nothing is late then, and a number
        counted as lost that comes after all (at the same time as a higher one) is simply new.

    Notes
    -----
    All memory is bounded: 256 streams (of more, the one with the fewest samples is forgotten),
    1024 gaps a run.
    """

    def __init__(self, ordered: bool = False) -> None:
        self._ordered = ordered
        self._streams: dict[tuple[Kind, SourceId], _Stream] = {}

    def accept(self, record: RelativeSample | CaptureStatus) -> Arrival:
        """Note a sample and tell how it arrived; a duplicate is to be dropped."""
        key = (kind_of(record), record.source)
        stream = self._streams.get(key)
        if stream is None:
            self._make_room()
            self._streams[key] = _Stream(record.seq, record.t)
            return _IN_ORDER
        arrival = stream.accept(record.seq, record.t)
        if self._ordered and arrival.kind is ArrivalKind.LATE:
            stream.late -= 1
            return _IN_ORDER
        return arrival

    def heartbeat(self, beat: Heartbeat) -> int:
        """Note a heartbeat; give how many samples it newly shows to be lost, up to its number.

        It speaks for the source's relative-state samples, or for its capture statuses where it
        sends no others. Before the first sample of a source it shows nothing.
        """
        kind = self.spoken_for(beat.source)
        return 0 if kind is None else self._streams[kind, beat.source].reach(beat.last_seq, beat.t)

    def spoken_for(self, source: SourceId) -> Kind | None:
        """Give the kind whose numbers the source's heartbeats name; None before its first."""
        for kind in (RELATIVE, CAPTURE):
            if (kind, source) in self._streams:
                return kind
        return None

    def counts(self, source: SourceId) -> StreamCounts:
        """Give the counts of a source over its relative-state samples and capture statuses."""
        total = self.stream_counts(RELATIVE, source)
        if (CAPTURE, source) in self._streams:
            total += self.stream_counts(CAPTURE, source)
        return total

    def stream_counts(self, kind: Kind, source: SourceId) -> StreamCounts:
        """Give the counts of one kind of message of a source."""
        stream = self._streams.get((kind, source))
        return StreamCounts() if stream is None else stream.counts()

    def sources(self) -> tuple[SourceId, ...]:
        """Give the sources heard, in the order first heard."""
        return tuple(dict.fromkeys(source for _, source in self._streams))

    def total(self) -> StreamCounts:
        """Give the counts over all sources."""
        total = StreamCounts()
        for stream in self._streams.values():
            total += stream.counts()
        return total

    def _make_room(self) -> None:
        if len(self._streams) >= STREAMS_KEPT:
            fewest = min(self._streams, key=lambda key: self._streams[key].received)
            del self._streams[fewest]


class _Run:
    """One run of a source: from its first number to the highest known."""

    def __init__(self, seq: int, t: float) -> None:
        self.first = seq
        self.begin_t = t
        """Least time of its samples: a heartbeat from before it speaks for another run."""
        self.high = seq
        self.sample_t = t
        """Time of the newest sample."""
        self.reached_t = t
        """The newest time known of the run, a heartbeat's or a sample's."""
        self.gaps = Gaps()
        self.early: deque[int] = deque(maxlen=EARLY_KEPT)
        """Numbers below the first that came after it."""

    def holds(self, seq: int, t: float) -> bool:
        return seq <= self.high and t <= self.reached_t


class _Stream:
    """All runs of one source and kind, and their counts."""

    def __init__(self, seq: int, t: float) -> None:
        self._run = _Run(seq, t)
        self._before: _Run | None = None
        self.received = 1
        self.lost = 0
        self.duplicates = 0
        self.late = 0
        self.restarts = 0

    def counts(self) -> StreamCounts:
        return StreamCounts(self.received, self.lost, self.duplicates, self.late, self.restarts)

    def accept(self, seq: int, t: float) -> Arrival:
        self.received += 1
        run = self._run
        if seq > run.high:
            if self._before is not None and t < run.sample_t and self._before.holds(seq, t):
                # A straggler of the run before the restart; in this run it would be a leap.
                return self._behind(self._before, seq, t)
            return self._ahead(run, seq, t)
        if seq < run.high and t > run.reached_t:
            self.restarts += 1
            self._before, self._run = run, _Run(seq, t)
            return _RESTART
        return self._behind(run, seq, t)

    def reach(self, last_seq: int, t: float) -> int:
        run = self._run
        missing = last_seq - run.high
        if missing <= 0 or t < run.begin_t:
            return 0
        if missing > FASTEST_HZ * (max(t - run.sample_t, 0.0) + 1.0):
            return 0  # no source sends so fast: the number is wrong, and would stand for good
        run.gaps.add(run.high + 1, last_seq)
        run.high = last_seq
        run.reached_t = max(run.reached_t, t)
        self.lost += missing
        return missing

    def _ahead(self, run: _Run, seq: int, t: float) -> Arrival:
        expected = run.high + 1
        run.high = seq
        run.sample_t = t
        # A clock that was set back is believed, or every later restart would look late.
        run.reached_t = t
        run.begin_t = min(run.begin_t, t)
        if seq == expected:
            return _IN_ORDER
        run.gaps.add(expected, seq - 1)
        self.lost += seq - expected
        return Arrival(ArrivalKind.NEW, seq - expected, expected)

    def _behind(self, run: _Run, seq: int, t: float) -> Arrival:
        if seq < run.first:
            if seq in run.early:
                self.duplicates += 1
                return _DUPLICATE
            run.early.append(seq)
        elif run.gaps.take(seq):
            self.lost -= 1
        else:
            self.duplicates += 1
            return _DUPLICATE
        if t < run.sample_t:
            self.late += 1
            return _LATE
        # Only a heartbeat ran ahead of it: the newest sample all the same.
        run.sample_t = t
        return _IN_ORDER
