"""How good the data was: counts of every source, gaps, changes of source, what was rejected."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from console.approach.event import AnyEvent, SourceChanged, SourceRestarted
from console.approach.snapshot import LinkGap, Snapshot, SourceNow
from console.archive.recorded_pass import Pass
from console.archive.recording import RecordedGap


@dataclass(frozen=True, slots=True)
class DataQuality:
    """How good the data of a pass was.

    Attributes
    ----------
    sources : tuple of SourceNow
        As they stood at the end.
    gaps : tuple of LinkGap
        Stretches in which the source in use was stale; the newest hundred.
    changes : tuple of SourceChanged
    restarts : tuple of SourceRestarted
    rejected : tuple of (str, int)
        Messages or rows that did not validate, by reason, the commonest first.
    missing : tuple of RecordedGap
        Frames that were received and are not in the recording.
    damage : str
        What was salvaged of a damaged recording; empty for a whole one.
    was_closed : bool
        False for a recording that was killed, or is still being written.
    """

    sources: tuple[SourceNow, ...]
    gaps: tuple[LinkGap, ...]
    changes: tuple[SourceChanged, ...]
    restarts: tuple[SourceRestarted, ...]
    rejected: tuple[tuple[str, int], ...]
    missing: tuple[RecordedGap, ...]
    damage: str
    was_closed: bool


def data_quality(one: Pass, last: Snapshot, events: Sequence[AnyEvent]) -> DataQuality:
    """Give the data quality of a pass from its last snapshot and its events."""
    recording = one.recording
    rejects = dict(last.counts.rejects_by_reason)
    if recording is None:
        rejects.update(one.rejected)  # before any record was made of the row: no reason is in both
    return DataQuality(
        sources=last.sources,
        gaps=last.link_gaps,
        changes=tuple(e for e in events if isinstance(e, SourceChanged)),
        restarts=tuple(e for e in events if isinstance(e, SourceRestarted)),
        rejected=tuple(sorted(rejects.items(), key=lambda pair: (-pair[1], pair[0]))),
        missing=() if recording is None else recording.gaps(),
        damage="" if recording is None or recording.damage is None else recording.damage.words,
        was_closed=recording is None or recording.was_closed,
    )
