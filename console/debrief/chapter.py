"""A pass's debrief as a chapter of sections, and several passes compared."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from console.approach.words import LABEL, not_kept_words
from console.bench.outcome import outside_of
from console.debrief import tables, tables_data, tables_rehearsal
from console.debrief.page import Block, Chapter, Column, Line, Lines, Row, Section, Table
from console.debrief.review import Debrief
from console.debrief.summary import contact_verdict, summary
from console.debrief.written import metres, moment, share
from console.envelope.limits import Level
from console.present import text
from console.present.tone import WARNING_MARK

ROWS_MOST = 400
"""Rows of a table that are told."""


def chapter(d: Debrief, number: int = 1) -> Chapter:
    """Give a pass's debrief; ``number`` tells several in one document apart."""
    made = (
        summary(d),
        tables_data.pictures(d),
        tables.margins(d),
        tables.exceedances(d),
        tables.calls(d),
        tables.procedure(d),
        tables_data.predicted(d),
        tables_data.capture(d),
        tables_rehearsal.rehearsal(d),
        tables.notes(d),
        tables_data.data(d),
    )
    begin = moment(d.course.t_first)
    return Chapter(
        f"pass{number}",
        d.facts.title or d.facts.name,
        f"{d.facts.name}, {begin}",
        tuple(_bounded(section) for section in made if section is not None),
    )


def _bounded(section: Section) -> Section:
    """Cut tables that nobody reads to their end; say how much is left out."""
    blocks: list[Block] = []
    for block in section.blocks:
        if not isinstance(block, Table) or len(block.rows) <= ROWS_MOST:
            blocks.append(block)
            continue
        left_out = text.count(len(block.rows) - ROWS_MOST, "more row")
        said = f"{left_out} left out here; leadmark score --json gives every exceedance"
        blocks += [replace(block, rows=block.rows[:ROWS_MOST]), Lines((Line(said),))]
    return replace(section, blocks=tuple(blocks))


def comparison(debriefs: Sequence[Debrief]) -> Section:
    """Give several passes side by side, in the order given."""
    columns = (
        Column("Pass"), Column("Begin"), Column("Length", is_number=True),
        Column("Warnings", is_number=True), Column("Cautions", is_number=True),
        Column("Least margin"), Column("Contact"),
    )  # fmt: skip
    table = Table("The passes of this document", columns, tuple(_compared(d) for d in debriefs))
    return Section("comparison", "Passes compared", (table,))


def _compared(d: Debrief) -> Row:
    counts = {level: sum(e.level is level for e in d.exceedances) for level in Level}
    cells = (
        d.facts.name,
        moment(d.course.t_first),
        text.duration(d.outcome["duration_s"]),
        str(counts[Level.WARNING]),
        str(counts[Level.CAUTION]),
        _least(d),
        _contact(d),
    )
    return Row(cells, is_strong=bool(counts[Level.WARNING] or contact_verdict(d).mark))


def _least(d: Debrief) -> str:
    one = next((one for one in d.margins if one.least is not None), None)
    if one is None or one.least is None:
        return text.UNKNOWN
    return f"{share(one.least.share)} {one.limit.id} at {metres(one.least.range_m)}"


def _contact(d: Debrief) -> str:
    contact = d.outcome["contact"]
    if contact is None:
        return "none"
    if contact["within_limits"]:
        return "within limits"
    outside = [(LABEL[q].lower(), value) for q, value in outside_of(contact)]
    return f"{WARNING_MARK} {not_kept_words(outside, 'outside: ')}"
