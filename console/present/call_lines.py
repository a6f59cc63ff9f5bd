"""Calls and steps: what was done, the call to make now, what comes next and when.

Steps of the procedure stand among the calls, told apart by their box and by who does them. A poll
that is open stands above them with its positions.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from console.approach.procedure import Answer
from console.approach.snapshot import CallLine, PollNow, PositionNow, Snapshot
from console.present import text
from console.present.tone import CAUTION_MARK, Tone

DONE_KEPT = 3
"""So many of the newest done lines stay in sight; the log has the rest."""


class Turn(StrEnum):
    """Where a line stands; the value is the state's name in a snapshot."""

    DONE = "done"
    MISSED = "missed"
    NOW = "now"
    NEXT = "next"
    LATER = "later"


SPOKEN = ("mark:", "hands_off", "contact")
"""Keys of calls whose words go on with figures after the first clause."""

STEP = "step:"
"""Keys of steps begin so."""
SHAPE = {Turn.DONE: "✓", Turn.MISSED: "✗", Turn.NOW: "●", Turn.NEXT: "○", Turn.LATER: "○"}
STEP_SHAPE = {
    Turn.DONE: "✓", Turn.MISSED: "✗", Turn.NOW: "☐", Turn.NEXT: "☐", Turn.LATER: "☐",
}  # fmt: skip
ANSWER_SHAPE = {Answer.GO: "✓", Answer.NO_GO: CAUTION_MARK, Answer.NOT_YET: "○"}
ANSWER_TONE = {
    Answer.GO: Tone.PLAIN,
    Answer.NO_GO: Tone.CAUTION,
    Answer.NOT_YET: Tone.QUIET,
}
"""No-go is what must be seen; nothing else here takes a colour."""
TONE = {
    Turn.DONE: Tone.QUIET,
    Turn.MISSED: Tone.QUIET,
    Turn.NOW: Tone.STRONG,
    Turn.NEXT: Tone.PLAIN,
    Turn.LATER: Tone.QUIET,
}
CUT_ORDER = (
    (Turn.LATER, True), (Turn.DONE, False), (Turn.MISSED, False), (Turn.NEXT, True),
)  # fmt: skip
"""What gives way first where there is no room, and from which end."""


@dataclass(frozen=True, slots=True)
class CallRow:
    """One line; ``when`` is the time it was done, ``missed``, ``now``, or a countdown."""

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

    @property
    def is_step(self) -> bool:
        """Whether it is a step of the procedure, to be ticked, and not a call."""
        return self.key.startswith(STEP)

    @property
    def can_be_done(self) -> bool:
        """Whether somebody may still say that it is done."""
        return self.is_step and self.turn is not Turn.DONE


@dataclass(frozen=True, slots=True)
class PositionRow:
    """One position of a poll: its answer, by whom and when; empty before."""

    key: str
    poll: str
    position: str
    shape: str
    answer: str
    initials: str
    when: str
    tone: Tone
    is_go: bool
    is_mine: bool

    @property
    def spoken(self) -> str:
        """The row as words for a screen reader."""
        mine = "yours" if self.is_mine else ""
        parts = (self.position, mine, self.answer, self.initials, self.when)
        return ", ".join(part for part in parts if part)


@dataclass(frozen=True, slots=True)
class PollBlock:
    """An open poll: a head line with how many are go, and its positions.

    Once the hold was left only the head is kept: there is nothing to poll any more.

    Attributes
    ----------
    is_complete : bool
        Every position is go: the hold may be released.
    hold_m : float
        Whose release it guards.
    """

    key: str
    title: str
    summary: str
    tone: Tone
    positions: tuple[PositionRow, ...]
    is_complete: bool
    hold_m: float

    @property
    def spoken(self) -> str:
        """The poll as words for a screen reader."""
        return ". ".join([f"{self.title}, {self.summary}", *(p.spoken for p in self.positions)])


@dataclass(frozen=True, slots=True)
class CallsView:
    """The open polls, and the lines in their order."""

    rows: tuple[CallRow, ...]
    polls: tuple[PollBlock, ...] = ()

    @property
    def due(self) -> CallRow | None:
        """The call to make now, if there is one."""
        return next((r for r in self.rows if r.turn is Turn.NOW and not r.is_step), None)

    @property
    def due_step(self) -> CallRow | None:
        """The step to do now that has waited longest, if there is one."""
        return next((r for r in self.rows if r.turn is Turn.NOW and r.is_step), None)

    @property
    def choosable(self) -> tuple[str, ...]:
        """Keys of what an operator may choose: positions of polls, steps not done."""
        positions = [position.key for poll in self.polls for position in poll.positions]
        return (*positions, *(row.key for row in self.rows if row.can_be_done))

    def position(self, key: str | None) -> PositionRow | None:
        """Give a position of an open poll by its key."""
        rows = (position for poll in self.polls for position in poll.positions)
        return next((position for position in rows if position.key == key), None)

    @property
    def own_position(self) -> PositionRow | None:
        """The position that answers from this console, in a poll that waits for it."""
        rows = [p for poll in self.polls for p in poll.positions if p.is_mine]
        return next((p for p in rows if not p.is_go), rows[0] if rows else None)


def call_lines(snapshot: Snapshot | None) -> CallsView:
    """Give the lines of a snapshot; older done ones are left to the log."""
    if snapshot is None:
        return CallsView(())
    rows = [_row(line) for line in snapshot.calls]
    done = [row for row in rows if row.turn is Turn.DONE][-DONE_KEPT:]
    polls = tuple(_poll(poll) for poll in snapshot.polls if poll.t_released is None)
    return CallsView((*done, *(row for row in rows if row.turn is not Turn.DONE)), polls)


def cut(view: CallsView, rows: int, chosen: str | None = None) -> tuple[CallRow, ...]:
    """Cut the lines to a number of rows.

    The call now and what comes next outlast what is done, and this what comes later. The chosen
    row outlasts them all.
    """
    kept = list(view.rows)
    for turn, from_end in CUT_ORDER:
        while len(kept) > rows:
            places = [i for i, row in enumerate(kept) if row.turn is turn and row.key != chosen]
            if not places:
                break
            del kept[places[-1] if from_end else places[0]]
    return tuple(kept[: max(rows, 0)])


def _row(line: CallLine) -> CallRow:
    turn = Turn(line.state)
    shape = STEP_SHAPE[turn] if line.key.startswith(STEP) else SHAPE[turn]
    return CallRow(line.key, turn, shape, _words(line, turn), _when(line, turn), TONE[turn])


def _poll(poll: PollNow) -> PollBlock:
    go = sum(position.answer is Answer.GO for position in poll.positions)
    no_go = [p.position for p in poll.positions if p.answer is Answer.NO_GO]
    count = f"{go} of {len(poll.positions)} go"
    if poll.overdue_s is not None:
        count = f"{count}, {text.duration(poll.overdue_s)} late"
    title = f"Poll at {poll.hold_m:g} m: {poll.words}"
    return PollBlock(
        key=f"poll:{poll.id}",
        title=f"{title}, hold left unreleased" if poll.is_left else title,
        summary=f"{CAUTION_MARK} no-go" if no_go else count,
        tone=Tone.CAUTION if no_go else Tone.STRONG,
        positions=()
        if poll.is_left
        else tuple(_position(poll, position) for position in poll.positions),
        is_complete=not poll.refusal,
        hold_m=poll.hold_m,
    )


def _position(poll: PollNow, position: PositionNow) -> PositionRow:
    return PositionRow(
        key=f"poll:{poll.id}/{position.position}",
        poll=poll.id,
        position=position.position,
        shape=ANSWER_SHAPE[position.answer],
        answer=position.answer.value,
        initials=position.initials,
        when=text.clock(position.t) if position.t is not None else "",
        tone=ANSWER_TONE[position.answer],
        is_go=position.answer is Answer.GO,
        is_mine=position.is_mine,
    )


def _words(line: CallLine, turn: Turn) -> str:
    """Give the words; a spoken call that is not due keeps its first clause alone."""
    if line.key.startswith(SPOKEN) and turn is not Turn.NOW:
        return line.words.split(",", 1)[0]
    return f"{line.who}: {line.words}" if line.who else line.words


def _when(line: CallLine, turn: Turn) -> str:
    if turn is Turn.DONE:
        return text.clock(line.t) if line.t is not None else ""
    if turn is Turn.MISSED:
        return "missed"
    if turn is Turn.NOW:
        return "now" if line.overdue_s is None else f"{text.duration(line.overdue_s)} late"
    return f"in {text.duration(line.in_s)}" if line.in_s is not None else ""
