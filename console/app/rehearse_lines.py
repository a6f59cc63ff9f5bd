"""Rehearsals among scored passes, as lines for a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from console.archive.recording import is_recording, open_recording
from console.core.errors import InputError
from console.present.rehearse_score import compare_lines, score_lines
from console.rehearsal.review import is_rehearsal, review
from console.rehearsal.score import RehearsalScore


def rehearsal_lines(paths: Sequence[Path]) -> Iterator[str]:
    """Give the scores of the rehearsals among files, and several of them compared.

    What cannot be read has been refused by the judging already and is left out.
    """
    scores = [score for path in paths for score in _scored(path)]
    for score in scores:
        yield from score_lines(score)
    if len(scores) > 1:
        yield from compare_lines(scores)


def _scored(path: Path) -> Iterator[RehearsalScore]:
    if not is_recording(path):
        return
    try:
        with open_recording(path) as recording:
            if is_rehearsal(recording.meta):
                yield review(recording)
    except InputError:
        return
