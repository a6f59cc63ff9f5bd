"""Loss, duplicates, late samples and restarts, case by case and against a naive count."""

from __future__ import annotations

import copy
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from wire_cases import T

from console.core.ids import SourceId
from console.core.records import CaptureStatus, Heartbeat, RelativeSample
from console.wire.gaps import INTERVALS_KEPT, Gaps
from console.wire.sequence import STREAMS_KEPT, Arrival, ArrivalKind, SequenceBook, StreamCounts
from console.wire.topic import Kind

OPTICAL = SourceId("optical")
NEW, DUPLICATE, LATE, RESTART = ArrivalKind


def sample(seq: int, t: float, source: str = "optical") -> RelativeSample:
    """Make a sample of which only number, time and source matter."""
    return RelativeSample(SourceId(source), seq, T + t, 20.0, -0.1, 0, 0, 0, 0, 0)


def beat(last_seq: int, t: float, source: str = "optical") -> Heartbeat:
    """Make a heartbeat."""
    return Heartbeat(SourceId(source), T + t, last_seq)


def arrivals(book: SequenceBook, *pairs: tuple[int, float]) -> list[Arrival]:
    """Accept samples given as (seq, t)."""
    return [book.accept(sample(seq, t)) for seq, t in pairs]


CASES = {
    # name: ([(seq, t, kind, lost, first lost)], received, lost, duplicates, late, restarts)
    "in order": ([(1, 1, NEW, 0, 0), (2, 2, NEW, 0, 0), (3, 3, NEW, 0, 0)], 3, 0, 0, 0, 0),
    "first heard late": ([(500, 1, NEW, 0, 0), (501, 2, NEW, 0, 0)], 2, 0, 0, 0, 0),
    "gap": ([(1, 1, NEW, 0, 0), (5, 5, NEW, 3, 2)], 2, 3, 0, 0, 0),
    "two gaps": ([(1, 1, NEW, 0, 0), (3, 3, NEW, 1, 2), (7, 7, NEW, 3, 4)], 3, 4, 0, 0, 0),
    "twice": ([(1, 1, NEW, 0, 0), (1, 1, DUPLICATE, 0, 0)], 2, 0, 1, 0, 0),
    "same number, later time": ([(1, 1, NEW, 0, 0), (1, 2, DUPLICATE, 0, 0)], 2, 0, 1, 0, 0),
    "old one again": (
        [(1, 1, NEW, 0, 0), (2, 2, NEW, 0, 0), (1, 1, DUPLICATE, 0, 0)], 3, 0, 1, 0, 0),
    "late": ([(1, 1, NEW, 0, 0), (3, 3, NEW, 1, 2), (2, 2, LATE, 0, 0)], 3, 0, 0, 1, 0),
    "late twice": (
        [(1, 1, NEW, 0, 0), (3, 3, NEW, 1, 2), (2, 2, LATE, 0, 0), (2, 2, DUPLICATE, 0, 0)],
        4, 0, 1, 1, 0),
    "late from before the first": (
        [(10, 10, NEW, 0, 0), (9, 9, LATE, 0, 0), (9, 9, DUPLICATE, 0, 0), (11, 11, NEW, 0, 0)],
        4, 0, 1, 1, 0),
    "restart": (
        [(100, 1, NEW, 0, 0), (101, 2, NEW, 0, 0), (0, 3, RESTART, 0, 0), (1, 4, NEW, 0, 0)],
        4, 0, 0, 0, 1),
    "restart one below": ([(5, 1, NEW, 0, 0), (4, 2, RESTART, 0, 0)], 2, 0, 0, 0, 1),
    "loss after a restart": (
        [(100, 1, NEW, 0, 0), (0, 3, RESTART, 0, 0), (4, 7, NEW, 3, 1)], 3, 3, 0, 0, 1),
    "restart into a gap of the old run": (
        [(0, 0, NEW, 0, 0), (9, 9, NEW, 8, 1), (3, 12, RESTART, 0, 0)], 3, 8, 0, 0, 1),
    "straggler of the old run": (
        [(100, 1, NEW, 0, 0), (102, 3, NEW, 1, 101), (0, 4, RESTART, 0, 0),
         (101, 2, LATE, 0, 0), (101, 2, DUPLICATE, 0, 0), (1, 5, NEW, 0, 0)],
        6, 0, 1, 1, 1),
    "clock set back": (
        [(1, 100, NEW, 0, 0), (2, 50, NEW, 0, 0), (0, 51, RESTART, 0, 0)], 3, 0, 0, 0, 1),
    "huge leap": ([(1, 1, NEW, 0, 0), (2**63 - 1, 2, NEW, 2**63 - 3, 2)], 2, 2**63 - 3, 0, 0, 0),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_cases(case):
    """Each case tells its kinds and keeps its counts."""
    steps, received, lost, duplicates, late, restarts = case
    book = SequenceBook()
    found = arrivals(book, *((seq, t) for seq, t, *_ in steps))
    assert [Arrival(kind, lost, first) for _, _, kind, lost, first in steps] == found
    expected = StreamCounts(received, lost, duplicates, late, restarts)
    assert expected == book.counts(OPTICAL)
    assert expected == book.total()


def test_each_source_and_kind_counts_for_itself():
    """Sources, and samples and capture statuses of one source, have counters of their own."""
    book = SequenceBook()
    book.accept(sample(1, 1))
    assert Arrival(NEW) == book.accept(sample(50, 1, "radio"))
    assert Arrival(NEW) == book.accept(CaptureStatus(OPTICAL, 900, T))
    assert Arrival(NEW, 2, 2) == book.accept(sample(4, 4))
    assert Arrival(NEW) == book.accept(CaptureStatus(OPTICAL, 901, T + 1))
    assert book.sources() == (OPTICAL, "radio")
    assert StreamCounts(2, 2) == book.stream_counts(Kind.RELATIVE, OPTICAL)
    assert StreamCounts(4, 2) == book.counts(OPTICAL)
    assert StreamCounts() == book.counts(SourceId("nobody"))


def test_heartbeat_shows_loss_at_the_tail():
    """A heartbeat counts what never came, once; the next sample is then in order."""
    book = SequenceBook()
    arrivals(book, (1, 1), (2, 2))
    assert book.heartbeat(beat(2, 2.5)) == 0
    assert book.heartbeat(beat(5, 5.5)) == 3
    assert book.heartbeat(beat(5, 6.5)) == 0
    assert [Arrival(NEW)] == arrivals(book, (6, 7))
    assert book.counts(OPTICAL).lost == 3


def test_sample_behind_its_heartbeat_is_not_late():
    """A sample that only a heartbeat overtook is the newest all the same, and not lost."""
    book = SequenceBook()
    arrivals(book, (1, 1))
    assert book.heartbeat(beat(3, 3.2)) == 2
    assert [Arrival(NEW), Arrival(NEW), Arrival(DUPLICATE)] == arrivals(
        book, (2, 2), (3, 3), (3, 3)
    )
    assert StreamCounts(4, 0, 1) == book.counts(OPTICAL)


def test_heartbeat_before_any_sample_shows_nothing():
    """What came before the first sample cannot be told from what was lost."""
    book = SequenceBook()
    assert book.heartbeat(beat(77, 1)) == 0
    assert [Arrival(NEW)] == arrivals(book, (70, 2))
    assert book.heartbeat(beat(77, 3)) == 7


def test_heartbeat_of_an_older_number_changes_nothing():
    """A heartbeat behind its samples, or of a source that just restarted, shows no loss."""
    book = SequenceBook()
    arrivals(book, (10, 10), (11, 11))
    assert book.heartbeat(beat(9, 12)) == 0
    assert [Arrival(NEW)] == arrivals(book, (12, 12))


def test_restart_after_a_heartbeat():
    """A source that starts again after its heartbeat is a new run, not a late sample."""
    book = SequenceBook()
    arrivals(book, (10, 10))
    assert book.heartbeat(beat(15, 15)) == 5
    assert [Arrival(RESTART), Arrival(NEW)] == arrivals(book, (12, 16), (13, 17))
    assert book.counts(OPTICAL).lost == 5


def test_a_heartbeat_of_the_run_before_a_restart_shows_nothing():
    """It comes late, with the old run's high number: 997 lost for good, and a false restart."""
    book = SequenceBook()
    arrivals(book, (996, 99.8), (997, 99.9))
    assert [Arrival(RESTART)] == arrivals(book, (0, 100.2))
    assert book.heartbeat(beat(998, 100.0)) == 0
    assert [Arrival(NEW)] == arrivals(book, (1, 100.3))
    assert StreamCounts(4, 0, 0, 0, 1) == book.counts(OPTICAL)


def test_a_run_whose_clock_is_set_back_is_the_same_run_still():
    """Its heartbeats, older now than its first sample, are believed."""
    book = SequenceBook()
    arrivals(book, (10, 100.0), (11, 50.0))
    assert book.heartbeat(beat(13, 50.5)) == 2


def test_a_heartbeat_of_a_number_no_source_reaches_shows_nothing():
    """One wrong number must not stand as lost for good; what a fast source loses is believed."""
    book = SequenceBook()
    arrivals(book, (10, 10.0))
    assert book.heartbeat(beat(2**63 - 1, 11.0)) == 0
    assert [Arrival(NEW)] == arrivals(book, (11, 11.5))
    assert book.heartbeat(beat(100_011, 12.5)) == 100_000
    assert book.counts(OPTICAL).lost == 100_000


def test_heartbeat_of_a_source_of_capture_statuses():
    """Where a source sends capture statuses alone, its heartbeat speaks for those."""
    book = SequenceBook()
    book.accept(CaptureStatus(OPTICAL, 1, T))
    assert book.heartbeat(beat(3, 3)) == 2
    assert book.stream_counts(Kind.CAPTURE, OPTICAL).lost == 2


def test_ordered_input_has_nothing_late():
    """In a table ties of time may disorder numbers: such a sample is new, its loss taken back."""
    book = SequenceBook(ordered=True)
    found = arrivals(book, (1, 1), (3, 2), (2, 2), (2, 2), (1, 3))
    assert [arrival.kind for arrival in found] == [NEW, NEW, NEW, DUPLICATE, RESTART]
    assert StreamCounts(5, 0, 1, 0, 1) == book.counts(OPTICAL)
    assert [Arrival(NEW), Arrival(NEW)] == [
        SequenceBook(ordered=True).accept(sample(9, 9)),
        SequenceBook(ordered=False).accept(sample(9, 9)),
    ]


def test_ordered_input_takes_a_stray_as_new():
    """Even a sample of an earlier time is not late where the caller did the ordering."""
    book = SequenceBook(ordered=True)
    assert [arrival.kind for arrival in arrivals(book, (1, 1), (3, 3), (2, 2))] == [NEW, NEW, NEW]
    assert book.counts(OPTICAL) == StreamCounts(3, 0, 0, 0, 0)


def test_memory_of_streams_is_bounded():
    """A flood of invented sources pushes out its own, never one that sends."""
    book = SequenceBook()
    arrivals(book, (1, 1), (2, 2), (3, 3))
    for number in range(3 * STREAMS_KEPT):
        book.accept(sample(1, 1, f"x{number}"))
    assert len(book.sources()) == STREAMS_KEPT
    assert [Arrival(NEW)] == arrivals(book, (4, 4))


def test_memory_of_gaps_is_bounded():
    """Ever new gaps keep a bounded list, and the newest of them stay known."""
    gaps = Gaps()
    for number in range(0, 20 * INTERVALS_KEPT, 10):
        gaps.add(number, number + 4)
    newest = 20 * INTERVALS_KEPT - 10
    assert INTERVALS_KEPT == len(gaps._first) == len(gaps._last)
    assert newest in gaps
    assert 0 not in gaps


@given(
    taken=st.lists(st.integers(0, 40), max_size=60),
    intervals=st.lists(st.tuples(st.integers(0, 3), st.integers(1, 4)), max_size=8),
)
def test_gaps_are_a_set(taken, intervals):
    """A list of intervals behaves like the set of its numbers."""
    gaps, numbers, at = Gaps(), set(), 0
    for skip, size in intervals:
        first, last = at + skip, at + skip + size - 1
        gaps.add(first, last)
        numbers.update(range(first, last + 1))
        at = last + 2
    for number in taken:
        assert (number in numbers) == (number in gaps)
        assert (number in numbers) == gaps.take(number)
        numbers.discard(number)


class NaiveRun:
    """The rules said again over plain sets, for one source without heartbeats or clock steps."""

    def __init__(self) -> None:
        self.seen: set[int] = set()
        self.top = (-1, -1.0)
        self.finished = 0

    def accept(self, seq: int, t: float) -> ArrivalKind:
        """Tell what a sample is."""
        if seq < self.top[0] and t > self.top[1]:
            self.finished += self.missing()
            self.seen, self.top = {seq}, (seq, t)
            return RESTART
        if seq in self.seen:
            return DUPLICATE
        first = not self.seen
        self.seen.add(seq)
        if first or seq > self.top[0]:
            self.top = (seq, t)
            return NEW
        return LATE

    def missing(self) -> int:
        """Count numbers between the first heard and the newest that never came."""
        return len(set(range(self.low, self.top[0])) - self.seen) if self.seen else 0

    low = 0


@pytest.mark.parametrize("seed", range(30))
def test_against_a_naive_count(seed):
    """Shuffled, doubled and thinned runs with restarts give the counts of plain sets."""
    rng = random.Random(seed)
    book, naive, t = SequenceBook(), NaiveRun(), 0.0
    for run in range(4):
        start = 0 if run else 1000
        sent = [(start + i, t + 1 + i) for i in range(200)]
        t += 300.0
        kept = [pair for pair in sent[1:] if rng.random() > 0.1]
        stream = kept + [pair for pair in kept if rng.random() < 0.1]
        # A local disorder: nothing travels further than a few places.
        stream.sort(key=lambda pair: pair[1] + rng.uniform(0, 4))
        if run:
            naive.finished += naive.missing()
            naive.seen = set()
        for index, (seq, when) in enumerate([sent[0], *stream]):
            expected = naive.accept(seq, when)
            if index == 0:
                naive.low = seq
                expected = RESTART if run else NEW
                naive.top = (seq, when)
            assert expected == book.accept(sample(seq, when)).kind
        assert naive.finished + naive.missing() == book.counts(OPTICAL).lost
    assert book.counts(OPTICAL).restarts == 3


def test_a_copy_goes_its_own_way():
    """A checkpoint of the book is not changed by what the book accepts later."""
    book = SequenceBook()
    arrivals(book, (1, 1), (5, 5))
    kept = copy.deepcopy(book)
    arrivals(book, (3, 3), (9, 9))
    assert StreamCounts(2, 3) == kept.counts(OPTICAL)
    assert [Arrival(LATE)] == arrivals(kept, (3, 3))
