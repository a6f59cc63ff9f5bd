"""Sections on how the pass was watched: margins, exceedances, calls, steps and polls, notes."""

from __future__ import annotations

from console.approach.event import Shelved
from console.approach.procedure import Answer
from console.approach.snapshot import ExceedanceNow
from console.approach.words import DECIMALS
from console.debrief.call_log import CallEntry
from console.debrief.margin import LimitMargin
from console.debrief.page import Column, Figure, Picture, Row, Section, Table
from console.debrief.procedure_log import PollEntry, StepEntry
from console.debrief.review import Debrief
from console.debrief.written import delay, metres, seconds, share
from console.envelope.limits import Level
from console.envelope.quantity import UNIT
from console.present import text
from console.present.tone import CAUTION_MARK, WARNING_MARK, mark_of

MARGIN_COLUMNS = (
    Column("Limit"), Column("Level"), Column("Least margin", is_number=True),
    Column("Margin", is_number=True), Column("Value", is_number=True),
    Column("Limit there", is_number=True), Column("Unit"), Column("Range", is_number=True),
    Column("Time", is_number=True),
)  # fmt: skip
EXCEEDANCE_COLUMNS = (
    Column("Raised", is_number=True), Column("Range", is_number=True), Column("Level"),
    Column("What"), Column("Peak at", is_number=True),
    Column("Acknowledged"), Column("Cleared", is_number=True),
    Column("Lasted", is_number=True),
)  # fmt: skip
CALL_COLUMNS = (
    Column("What to call"), Column("Passed", is_number=True),
    Column("Called", is_number=True), Column("By"), Column("Delay", is_number=True),
    Column("Remark"),
)  # fmt: skip
STEP_COLUMNS = (
    Column("Who"), Column("Step"), Column("Due", is_number=True),
    Column("Done", is_number=True), Column("By"), Column("Took", is_number=True),
    Column("Overdue", is_number=True),
)  # fmt: skip
ANSWER_COLUMNS = (
    Column("Time", is_number=True), Column("Position"), Column("Answer"),
    Column("By"), Column("After opening", is_number=True),
)  # fmt: skip


def margins(d: Debrief) -> Section:
    """Give the margins to every limit, the least first, over range and as a table."""
    picture = Picture(
        Figure.MARGINS,
        "Margin over range, as a share of the limit: 0 % is at the limit, below it outside. "
        "The limits with the least margin come first.",
        "Small plots, one a limit, of the least margin that held near each range; "
        + "; ".join(
            f"{one.limit.id} {share(one.least.share)} at {metres(one.least.range_m)}"
            for one in d.margins[:6]
            if one.least is not None
        ),
    )
    table = Table(
        "Least margin that held for the limit's own on-delay",
        MARGIN_COLUMNS,
        tuple(_margin(one) for one in d.margins),
        "the limits file holds no limit",
    )
    return Section("margins", "Margins", (picture, table))


def _margin(one: LimitMargin) -> Row:
    limit, least = one.limit, one.least
    mark = mark_of(limit.level)
    level = f"{mark}\N{NO-BREAK SPACE}{limit.level.word}" if mark else limit.level.word
    if least is None:
        blank = (text.UNKNOWN,) * 4
        return Row((limit.id, level, "not applied", *blank[:3], UNIT[limit.quantity], *blank[:2]))
    cells = (
        limit.id, level, share(least.share),
        text.signed(least.margin, DECIMALS[limit.quantity]),
        text.quantity(least.value, limit.quantity), text.quantity(least.limit, limit.quantity),
        UNIT[limit.quantity], metres(least.range_m), text.clock(least.t),
    )  # fmt: skip
    return Row(cells, least.t, is_strong=least.share < 0.0)


def exceedances(d: Debrief) -> Section:
    """Give every exceedance with its life, and what was shelved."""
    told = [e for e in d.exceedances if e.level is not Level.ADVISORY]
    advised = [e for e in d.exceedances if e.level is Level.ADVISORY]
    blocks = [
        Table("Warnings and cautions", EXCEEDANCE_COLUMNS, tuple(_life(d, e) for e in told)),
    ]
    if advised:
        rows = tuple(_life(d, e) for e in advised)
        blocks.append(Table("Advisories", EXCEEDANCE_COLUMNS, rows))
    if d.shelvings:
        columns = (
            Column("Time", is_number=True), Column("What"), Column("By"),
            Column("For", is_number=True), Column("Reason"),
        )  # fmt: skip
        blocks.append(Table("Shelved", columns, tuple(_shelving(s) for s in d.shelvings)))
    return Section("exceedances", "Exceedances", tuple(blocks))


def _life(d: Debrief, e: ExceedanceNow) -> Row:
    mark = mark_of(e.level)
    name = e.id if e.source is None else f"{e.id} {e.source}"
    words = f"{name}: {e.words}" if e.words else name
    lasted = None if e.cleared is None else e.cleared - e.raised
    cells = (
        text.clock(e.raised),
        metres(d.course.range_at(e.raised)),
        f"{mark}\N{NO-BREAK SPACE}{e.level.word}" if mark else e.level.word,
        words,
        text.clock(e.peak_t),
        _acknowledged(d, e),
        "stands" if e.cleared is None else text.clock(e.cleared),
        text.UNKNOWN if lasted is None else seconds(lasted),
    )
    return Row(cells, e.raised, is_strong=e.level is Level.WARNING)


def _acknowledged(d: Debrief, e: ExceedanceNow) -> str:
    if e.acknowledged_t is not None:
        return f"{e.acknowledged_by or 'unnamed'} after {seconds(e.acknowledged_t - e.raised)}"
    if e.level is Level.ADVISORY or not e.waits or d.facts.form != "recording":
        return text.UNKNOWN
    return "never"


def _shelving(s: Shelved) -> Row:
    name = s.id if s.source is None else f"{s.id} {s.source}"
    what = f"{s.level} {name}"
    return Row((text.clock(s.t), what, s.initials, text.duration(s.for_s), s.reason), s.t)


def calls(d: Debrief) -> Section:
    """Give the call log beside what was passed, as measured."""
    table = Table(
        "What there was to call, and the calls logged",
        CALL_COLUMNS,
        tuple(_call(d, entry) for entry in d.calls),
        "nothing was passed and nothing called",
    )
    return Section("calls", "Calls", (table,))


def _call(d: Debrief, entry: CallEntry) -> Row:
    cells = (
        entry.words.split(",", 1)[0] if entry.key.startswith("mark:") else entry.words,
        text.clock(entry.passed_t),
        text.clock(entry.called_t),
        entry.initials or text.UNKNOWN,
        delay(entry.delay_s),
        _remark(d, entry),
    )
    return Row(cells, entry.t, is_strong=entry.was_useful is False)


def _remark(d: Debrief, entry: CallEntry) -> str:
    if entry.called_t is None:
        return f"{CAUTION_MARK} no call logged" if d.facts.form == "recording" else ""
    if entry.was_useful is not None:
        return "it still helped" if entry.was_useful else f"{WARNING_MARK} too late to help"
    if entry.passed_t is None:
        return "nothing of the kind was passed" if entry.key.startswith("mark:") else ""
    return "ahead of time" if entry.called_t < entry.passed_t else ""


def procedure(d: Debrief) -> Section:
    """Give steps and polls as they went."""
    steps = Table(
        "Steps", STEP_COLUMNS, tuple(_step(d, step) for step in d.steps), "no procedure was kept"
    )
    return Section("procedure", "Steps and polls", (steps, *(_poll(poll) for poll in d.polls)))


def _step(d: Debrief, entry: StepEntry) -> Row:
    late_s = entry.late_s(d.course.t_last)
    took = None
    if entry.done_t is not None and entry.due_t is not None:
        took = entry.done_t - entry.due_t
    not_done = "not done, missed" if entry.is_missed else "not done"
    shown = "the data" if entry.done_t is not None and not entry.initials else entry.initials
    cells = (
        entry.step.who,
        entry.step.words,
        "never due" if entry.due_t is None else text.clock(entry.due_t),
        text.clock(entry.done_t) if entry.done_t is not None else not_done,
        shown or text.UNKNOWN,
        seconds(took),
        "" if late_s is None else f"{CAUTION_MARK}\N{NO-BREAK SPACE}{seconds(late_s)}",
    )
    if entry.due_t is None and entry.done_t is None:
        cells = (*cells[:3], text.UNKNOWN, *cells[4:])
    t = entry.due_t if entry.due_t is not None else entry.done_t
    return Row(cells, t, is_strong=late_s is not None)


def _poll(poll: PollEntry) -> Table:
    rows = tuple(
        Row(
            (
                text.clock(a.t), a.position,
                f"{CAUTION_MARK} {a.answer.value}" if a.answer is Answer.NO_GO else a.answer.value,
                a.initials or text.UNKNOWN, delay(a.t - poll.opened_t),
            ),
            a.t,
        )
        for a in poll.answers
    )  # fmt: skip
    return Table(
        f"Poll at {poll.hold_m:g} m: {poll.words}. {_poll_end(poll)}", ANSWER_COLUMNS, rows
    )


def _poll_end(poll: PollEntry) -> str:
    said = [f"Opened {text.clock(poll.opened_t)}"]
    if poll.complete_t is None:
        said.append("never every position go")
    else:
        took_s = poll.complete_t - poll.opened_t
        said.append(f"every position go after {seconds(took_s)}")
        if poll.overdue_s is not None and took_s > poll.overdue_s:
            said.append(
                f"{CAUTION_MARK}\N{NO-BREAK SPACE}{seconds(took_s - poll.overdue_s)} overdue"
            )
    if poll.released_t is None:
        said.append("hold not released")
    else:
        said.append(f"hold released {text.clock(poll.released_t)} by {poll.released_by}")
    return ", ".join(said) + "."


def notes(d: Debrief) -> Section:
    """Give the notes: the watch's own, and those made afterwards."""
    columns = (
        Column("Time", is_number=True), Column("Range", is_number=True), Column("By"),
        Column("Made"), Column("Words"),
    )  # fmt: skip
    rows = tuple(
        Row(
            (
                text.clock(n.t), metres(d.course.range_at(n.t)), n.initials or text.UNKNOWN,
                "live" if n.origin == "live" else "afterwards", n.text,
            ),
            n.t,
        )
        for n in d.notes
    )  # fmt: skip
    return Section("notes", "Notes and marks", (Table("Notes", columns, rows),))
