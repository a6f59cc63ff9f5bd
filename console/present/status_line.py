"""The status line: link, loss, recording, limits in force, and what this display is."""

from __future__ import annotations

from dataclasses import dataclass

from console import CAUTION_TEXT
from console.present import text
from console.present.cell import Note
from console.present.frozen import FROZEN_AFTER_S
from console.present.port import Watched, WatchStatus
from console.present.tone import CAUTION_MARK, WARNING_MARK, Tone
from console.present.trouble_words import troubles


@dataclass(frozen=True, slots=True)
class StatusView:
    """Short texts in order; the first group stands left, the second right where they fit."""

    left: tuple[Note, ...]
    right: tuple[Note, ...]

    @property
    def spoken(self) -> str:
        """All of it as one sentence."""
        return ", ".join(note.text for note in (*self.left, *self.right))


def status_line(watched: Watched) -> StatusView:
    """Give the status line of a watch."""
    status = watched.status
    left = [Note(status.mode), Note(status.endpoint)]
    if status.is_replay:
        left += [Note("paused", Tone.STRONG)] if status.paused else []
        left += _wire(watched)
    else:
        left += [*_link(watched), _recording(status)]
    if status.other_limits:
        left.append(
            Note(f"{CAUTION_MARK} under other limits: {status.other_limits}", Tone.CAUTION)
        )
    if status.speech:
        left.append(Note(status.speech))
    if status.notice:
        left.append(Note(f"{CAUTION_MARK} {status.notice}", Tone.CAUTION))
    limits = f"Limits {status.limits_title} r{status.limits_revision}"
    digest = f"{text.short_hash(status.limits_sha256)}"
    return StatusView(tuple(left), (Note(f"{limits} {digest}"), Note(CAUTION_TEXT)))


def _link(watched: Watched) -> list[Note]:
    status = watched.status
    rate = text.number(status.samples_per_s, 1)
    notes = [Note(f"{rate} samples/s"), *_wire(watched)]
    if status.insecure:
        notes.append(Note(f"{CAUTION_MARK} link without keys", Tone.CAUTION))
    if status.paused:
        notes.append(Note("paused", Tone.STRONG))
    elif watched.unchanged_s >= FROZEN_AFTER_S:
        words = f"{WARNING_MARK} picture is {text.age(watched.unchanged_s)} old"
        notes.append(Note(words, Tone.WARNING))
    return notes


def _wire(watched: Watched) -> list[Note]:
    found = troubles(watched.status, watched.snapshot)
    return [Note(f"{watched.status.lost} lost"), *(trouble.note for trouble in found)]


def _recording(status: WatchStatus) -> Note:
    why = f": {status.not_recording_because}" if status.not_recording_because else ""
    if status.recording is None:
        return Note(f"{CAUTION_MARK} not recording{why}", Tone.CAUTION)
    if why:
        return Note(f"{CAUTION_MARK} recording {status.recording} is behind{why}", Tone.CAUTION)
    return Note(f"recording {status.recording}")
