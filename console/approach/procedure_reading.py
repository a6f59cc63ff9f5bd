"""Read a procedure file, strictly: every fault with its line, the file refused whole."""

from __future__ import annotations

from console.approach.event import Phase
from console.approach.procedure import (
    FLAGS,
    CaptureField,
    Condition,
    DataTest,
    Poll,
    Procedure,
    Step,
    hold_zone_m,
)
from console.core.utc import parse_utc
from console.envelope.strict import Reader
from console.envelope.strict_table import Table, words_of
from console.envelope.strict_value import NOT_NEGATIVE, POSITIVE, Bounds

FORMAT = 1
PHASES = words_of(Phase)
ANY_NUMBER = Bounds()
CONDITION_MEND = "a condition of at least one part, such as { range_below_m = 20 }"


def parse_procedure(data: bytes, name: str) -> Procedure:
    """Read and check a procedure file.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        What errors call it.

    Returns
    -------
    Procedure
        With the text and the sha256 of ``data``.

    Raises
    ------
    InputError
        With every fault found, each with its line where known.
    """
    reader = Reader(data, name)
    root = reader.root
    version = root.integer("format")
    if version != FORMAT and not root.was_refused("format"):
        root.refuse("format", f"found {version}", f"this version reads format {FORMAT}")
    step_tables = root.tables("step", "id")
    poll_tables = root.tables("poll", "id")
    procedure = Procedure(
        title=root.text("title", may_be_empty=False),
        revision=root.integer("revision", least=1),
        author=root.text("author", ""),
        reason=root.text("reason", ""),
        console=root.text("console", ""),
        steps=tuple(_step(table) for table in step_tables),
        polls=tuple(_poll(table) for table in poll_tables),
        sha256=reader.sha256,
        text=reader.text,
    )
    _check_ids(step_tables, [step.id for step in procedure.steps])
    _check_ids(poll_tables, [poll.id for poll in procedure.polls])
    _check_holds(poll_tables, procedure.polls)
    _check_order(step_tables, procedure.steps)
    _check_console(root, procedure)
    reader.finish()
    return procedure


def _step(table: Table) -> Step:
    return Step(
        id=_id(table),
        who=table.text("who", may_be_empty=False),
        words=table.text("words", may_be_empty=False),
        due=_condition(table, "due"),
        done=_condition(table, "done") if table.has("done") else None,
        overdue_s=table.number_or_none("overdue_s", POSITIVE),
    )


def _poll(table: Table) -> Poll:
    hold_m = table.number("hold_m", bounds=POSITIVE)
    zone_m = hold_zone_m(hold_m)
    standing_there = Condition(
        range_below_m=hold_m + zone_m, range_above_m=hold_m - zone_m, phases=(Phase.HOLD,)
    )
    return Poll(
        id=_id(table),
        words=table.text("words", may_be_empty=False),
        hold_m=hold_m,
        positions=_positions(table),
        due=_condition(table, "due") if table.has("due") else standing_there,
        overdue_s=table.number_or_none("overdue_s", POSITIVE),
    )


def _id(table: Table) -> str:
    id_ = table.text("id", may_be_empty=False)
    if ":" in id_:
        table.refuse("id", f'found "{id_}"', 'an id holds no ":"')
    return id_


def _positions(table: Table) -> tuple[str, ...]:
    positions = table.texts("positions")
    if table.was_refused("positions"):
        return positions
    if not positions:
        table.refuse("positions", "found none", "name at least one position")
    for n, position in enumerate(positions):
        if not position.strip() or position in positions[:n]:
            found = "an empty name" if not position.strip() else f'"{position}" again'
            table.refuse("positions", f"found {found}", "every position once, by its name", n)
    return positions


def _condition(owner: Table, key: str) -> Condition:
    table = owner.table(key)
    after = table.choice("after", PHASES) if table.has("after") else None
    after_step = table.text("after_step", "")
    if after is not None and after_step:
        table.refuse("after_step", "stands beside after", "give one of the two")
    if table.has("after_s") and after is None and not after_step:
        table.refuse("after_s", "stands alone", "say after which phase (after) or after_step")
    condition = Condition(
        range_below_m=table.number_or_none("range_below_m", NOT_NEGATIVE),
        range_above_m=table.number_or_none("range_above_m", NOT_NEGATIVE),
        phases=_phases(table),
        after=after,
        after_step=after_step,
        after_s=table.number("after_s", 0.0, NOT_NEGATIVE),
        at_t=_time(table),
        data=_data(table),
    )
    if condition == Condition() and not table.is_absent and not table.names():
        owner.refuse(key, "found an empty table", CONDITION_MEND)
    return condition


def _phases(table: Table) -> tuple[Phase, ...]:
    """Read one phase, or a list of them."""
    if not table.has("phase"):
        return ()
    if not table.holds_list("phase"):
        return (table.choice("phase", PHASES),)
    words = table.texts("phase")
    for n, word in enumerate(words):
        if word not in PHASES:
            table.refuse("phase", f'found "{word}"', "allowed: " + ", ".join(PHASES), n)
    if not words and not table.was_refused("phase"):
        table.refuse("phase", "found an empty list", "allowed: " + ", ".join(PHASES))
    return tuple(PHASES[word] for word in words if word in PHASES)


def _time(table: Table) -> float | None:
    if not table.has("at"):
        return None
    text = table.text("at", may_be_empty=False)
    try:
        return parse_utc(text)
    except ValueError:
        if not table.was_refused("at"):
            table.refuse("at", f'found "{text}"', "a time such as 2031-04-10T09:35:00Z")
        return None


def _data(table: Table) -> tuple[DataTest, ...]:
    if not table.has("data"):
        return ()
    data = table.table("data")
    known = words_of(CaptureField)
    tests = [_data_test(data, field) for name, field in known.items() if data.has(name)]
    if not data.names() and not data.is_absent:
        table.refuse("data", "found an empty table", "name a field: " + ", ".join(known))
    return tuple(tests)


def _data_test(data: Table, field: CaptureField) -> DataTest:
    if field in FLAGS:
        return DataTest(field, flag=data.flag(field.value))
    bounds = data.table(field.value)
    above = bounds.number_or_none("above", ANY_NUMBER)
    below = bounds.number_or_none("below", ANY_NUMBER)
    if above is None and below is None and not bounds.is_absent:
        data.refuse(field.value, "neither above nor below", "{ above = 0.5 } or { below = 0.5 }")
    return DataTest(field, above=above, below=below)


# -- across the file ---------------------------------------------------------------------------


def _check_ids(tables: tuple[Table, ...], ids: list[str]) -> None:
    for n, (table, id_) in enumerate(zip(tables, ids, strict=True)):
        if id_ and id_ in ids[:n]:
            table.refuse("id", f'"{id_}" again', "every id once")


def _check_holds(tables: tuple[Table, ...], polls: tuple[Poll, ...]) -> None:
    """Refuse two polls at one hold: a release would not know which it must wait for."""
    for n, (table, poll) in enumerate(zip(tables, polls, strict=True)):
        for other in polls[:n]:
            if abs(poll.hold_m - other.hold_m) <= poll.zone_m + other.zone_m:
                found = f'{poll.hold_m:g} m, where poll "{other.id}" is'
                table.refuse("hold_m", found, "one poll at a hold point; join their positions")


def _check_order(tables: tuple[Table, ...], steps: tuple[Step, ...]) -> None:
    """Refuse a step that waits for itself, for a later one, or for one that is not there."""
    for n, (table, step) in enumerate(zip(tables, steps, strict=True)):
        earlier = [other.id for other in steps[:n]]
        for key, condition in (("due", step.due), ("done", step.done)):
            if condition is None or not condition.after_step:
                continue
            if condition.after_step not in earlier:
                mend = "allowed: " + (", ".join(earlier) or "nothing, no step stands before it")
                table.refuse(key, f'after_step "{condition.after_step}" is no earlier step', mend)


def _check_console(root: Table, procedure: Procedure) -> None:
    positions = dict.fromkeys(name for poll in procedure.polls for name in poll.positions)
    if procedure.console and procedure.console not in positions:
        mend = "allowed: " + (", ".join(positions) or "nothing, there is no poll")
        root.refuse("console", f'found "{procedure.console}"', mend)
