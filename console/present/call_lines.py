"""Calls and steps: what was done, the call to make now, what comes next and when."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from console.approach.snapshot import CallLine, Snapshot
from console.present import text
from console.present.tone import Tone

DONE_KEPT = 3
"""So many of the newest done lines stay in sight; the log has the rest."""


class Turn(StrEnum):
    """Where a line stands; the value is the state's name in a snapshot."""

    DONE = "done"
    NOW = "now"
    NEXT = "next"
    LATER = "later"


SPOKEN = ("mark:", "hands_off", "contact")
"""Keys of calls whose words go on with figures after the first clause."""

SHAPE = {Turn.DONE: "✓", Turn.NOW: "●", Turn.NEXT: "○", Turn.LATER: "○"}
TONE = {
    Turn.DONE: Tone.QUIET,
    Turn.NOW: Tone.STRONG,
    Turn.NEXT: Tone.PLAIN,
    Turn.LATER: Tone.QUIET,
}


@dataclass(frozen=True, slots=True)
class CallRow:
    """One line; ``when`` is the time it was done, ``now``, or a countdown."""

    key: str
    turn: Turn
    shape: str
    words: str
    when: str
    tone: Tone

    @property
    def spoken(self) -> str:
        """The line as words for a screen reader."""
        return ", ".join(part for part in (self.turn.value, self.words, self.when) if part)


@dataclass(frozen=True, slots=True)
class CallsView:
    """The lines in their order."""

    rows: tuple[CallRow, ...]

    @property
    def due(self) -> CallRow | None:
        """The call to make now, if there is one."""
        return next((row for row in self.rows if row.turn is Turn.NOW), None)


def call_lines(snapshot: Snapshot | None) -> CallsView:
    """Give the lines of a snapshot; older done ones are left to the log."""
    if snapshot is None:
        return CallsView(())
    rows = [_row(line) for line in snapshot.calls]
    done = [row for row in rows if row.turn is Turn.DONE][-DONE_KEPT:]
    return CallsView((*done, *(row for row in rows if row.turn is not Turn.DONE)))


def cut(view: CallsView, rows: int) -> tuple[CallRow, ...]:
    """Cut the lines to a number of rows.

    The call now and what comes next outlast what is done, and this what comes later.
    """
    kept = list(view.rows)
    for turn, from_end in ((Turn.LATER, True), (Turn.DONE, False), (Turn.NEXT, True)):
        while len(kept) > rows and any(row.turn is turn for row in kept):
            places = [i for i, row in enumerate(kept) if row.turn is turn]
            del kept[places[-1] if from_end else places[0]]
    return tuple(kept[: max(rows, 0)])


def _row(line: CallLine) -> CallRow:
    turn = Turn(line.state)
    return CallRow(line.key, turn, SHAPE[turn], _words(line, turn), _when(line, turn), TONE[turn])


def _words(line: CallLine, turn: Turn) -> str:
    """Give the words; a spoken call that is not due keeps its first clause alone."""
    if line.key.startswith(SPOKEN) and turn is not Turn.NOW:
        return line.words.split(",", 1)[0]
    return line.words


def _when(line: CallLine, turn: Turn) -> str:
    if turn is Turn.DONE:
        return text.clock(line.t) if line.t is not None else ""
    if turn is Turn.NOW:
        return "now"
    return f"in {text.duration(line.in_s)}" if line.in_s is not None else ""
