"""What went wrong with link, queues and recording so far, in plain words for every face.

The status line of the window and the text form say the same words, made here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from console.approach.snapshot import Counts, Snapshot
from console.envelope.limits import Level
from console.present import text
from console.present.cell import Note
from console.present.port import WatchStatus
from console.present.tone import Tone, mark_of, tone_of

BEHIND_FROM_S = 1.0
"""What is shown may be so much older than what was received before it is said."""
CLOCK_FROM_S = 2.0
"""A source's clock may differ so much before it is said."""
REASONS_SAID = 2


@dataclass(frozen=True, slots=True)
class Trouble:
    """One thing that went wrong: ``kind`` stays the same while numbers in the words grow."""

    kind: str
    words: str
    level: Level

    @property
    def note(self) -> Note:
        """The words with their mark and voice."""
        return Note(f"{mark_of(self.level)} {self.words}".strip(), tone_of(self.level, Tone.QUIET))


def troubles(status: WatchStatus, snapshot: Snapshot | None) -> tuple[Trouble, ...]:
    """Give everything that went wrong so far, the worst first; empty in a clean watch."""
    found = [*_queues(status), *_messages(status, snapshot)]
    return tuple(sorted(found, key=lambda trouble: -trouble.level))


def _queues(status: WatchStatus) -> Iterator[Trouble]:
    if status.overflowed:
        words = f"{status.overflowed} dropped, this console is too slow"
        yield Trouble("dropped", words, Level.WARNING)
    if status.behind_s >= BEHIND_FROM_S:
        words = f"shown is {text.age(status.behind_s)} behind what was received"
        yield Trouble("behind", words, Level.WARNING)
    if status.unrecorded:
        words = f"{status.unrecorded} messages are not in the recording"
        yield Trouble("unrecorded", words, Level.WARNING)
    elif status.unrecorded_rows:  # what was received is there, so they can be made again
        words = f"{status.unrecorded_rows} rows made of messages are not in the recording"
        yield Trouble("unrecorded", words, Level.CAUTION)
    if status.recording_moved_because:
        words = f"recording made anew: {status.recording_moved_because}"
        yield Trouble("moved", words, Level.CAUTION)
    if status.events_dropped:
        words = f"{status.events_dropped} events are not listed, there were too many"
        yield Trouble("events", words, Level.CAUTION)
    if status.deeds_dropped:
        words = f"{status.deeds_dropped} keys were not obeyed, there were too many"
        yield Trouble("deeds", words, Level.CAUTION)
    if status.link_given_up:
        words = f"{status.link_given_up} given up unread, more came than can be taken"
        yield Trouble("given up", words, Level.WARNING)
    if status.link_cuts:
        yield Trouble("cuts", f"link was cut {_times(status.link_cuts)}", Level.ADVISORY)


def _messages(status: WatchStatus, snapshot: Snapshot | None) -> Iterator[Trouble]:
    counts = None if snapshot is None else snapshot.counts
    if status.rejected:
        reasons = "" if counts is None else _reasons(counts)
        yield Trouble("rejected", f"{status.rejected} rejected{reasons}", Level.CAUTION)
    if snapshot is None or counts is None:
        return
    if counts.repeated:
        yield Trouble("repeated", f"{counts.repeated} repeated, dropped", Level.CAUTION)
    if counts.late:
        yield Trouble("late", f"{counts.late} late, not judged", Level.CAUTION)
    if counts.leapt:
        words = f"{counts.leapt} with a time far ahead, not used"
        yield Trouble("leapt", words, Level.CAUTION)
    for source in snapshot.sources:
        offset_s = source.clock_offset_s or 0.0
        if abs(offset_s) >= CLOCK_FROM_S:
            way = "behind" if offset_s > 0.0 else "ahead"
            words = f"clock of {source.source} {text.age(abs(offset_s))} {way}"
            yield Trouble(f"clock {source.source}", words, Level.CAUTION)
    if counts.restarts:
        words = f"a source began anew {_times(counts.restarts)}"
        yield Trouble("restarts", words, Level.ADVISORY)


def _reasons(counts: Counts) -> str:
    """Name the commonest reasons, with their numbers where there are several."""
    commonest = sorted(counts.rejects_by_reason, key=lambda pair: (-pair[1], pair[0]))
    if len(commonest) == 1:
        return f": {commonest[0][0]}"
    if not commonest:
        return ""
    said = ", ".join(f"{count} {reason}" for reason, count in commonest[:REASONS_SAID])
    return f": {said}, and others" if len(commonest) > REASONS_SAID else f": {said}"


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"
