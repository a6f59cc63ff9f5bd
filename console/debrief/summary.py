"""The first section: what was flown under which rules, and what it came to, in a few lines."""

from __future__ import annotations

from console.approach.capture_now import LeakState
from console.approach.event import Phase
from console.approach.snapshot import ExceedanceNow
from console.approach.words import LABEL, not_kept_words
from console.bench.outcome import CONTACT_FIELD, outside_of
from console.debrief.page import Column, Facts, Line, Lines, Row, Section, Table
from console.debrief.review import Debrief
from console.debrief.written import contact_band, metres, moment, seconds, sha, share
from console.envelope.limits import ContactLimit, Level
from console.envelope.quantity import AT_CONTACT, UNIT, Quantity
from console.present import text
from console.present.tone import CAUTION_MARK, WARNING_MARK, mark_of


def summary(d: Debrief) -> Section:
    """Give the summary of a pass."""
    return Section(
        "summary",
        "Summary",
        (Lines(verdicts(d)), _facts(d), contact_table(d)),
    )


def verdicts(d: Debrief) -> tuple[Line, ...]:
    """Give what a pass came to, the weightiest first."""
    lines = [
        contact_verdict(d),
        *_exceedances(d),
        _least_margin(d),
        _stop(d),
        _data(d),
        _capture(d),
    ]
    return tuple(line for line in lines if line is not None)


def contact_verdict(d: Debrief) -> Line:
    """Say whether contact came, and within its limits."""
    contact = d.outcome["contact"]
    if contact is None:
        return Line("No contact in this pass")
    if contact["within_limits"]:
        words = "within every contact limit" if d.limits.contact_limits else "no limit is set"
        return Line(f"Contact at {text.clock(contact['t'])}: {words}")
    outside = [(LABEL[q].lower(), value) for q, value in outside_of(contact)]
    words = not_kept_words(outside, " outside its limits: ", ", its values unknown: ")
    return Line(f"Contact at {text.clock(contact['t'])}{words}", WARNING_MARK)


def _exceedances(d: Debrief) -> list[Line]:
    found = []
    for level in (Level.WARNING, Level.CAUTION):
        mine = [e for e in d.exceedances if e.level is level]
        if not mine:
            continue
        never = sum(e.acknowledged_t is None and e.waits for e in mine)
        data = sum(e.id.startswith("data:") for e in mine)
        words = text.count(len(mine), level.word)
        if data:
            words += f", {data} of them of the data"
        if d.facts.form == "recording":
            words += f"; {never} never acknowledged" if never else _acknowledged(mine)
        found.append(Line(words, mark_of(level)))
    return found or [Line("No warning and no caution")]


def _acknowledged(mine: list[ExceedanceNow]) -> str:
    if all(e.acknowledged_t is not None for e in mine):
        return "; all acknowledged"
    return "; none left to acknowledge"  # shelved ones wait for nobody


def _least_margin(d: Debrief) -> Line | None:
    one = next((one for one in d.margins if one.least is not None), None)
    if one is None or one.least is None:
        return Line("No limit was applied to any sample")
    least = one.least
    return Line(
        f"Least margin {share(least.share)} of {one.limit.id}, at {metres(least.range_m)}",
        mark_of(one.limit.level) if least.share < 0.0 else "",
    )


def _stop(d: Debrief) -> Line | None:
    stops = [call for call in d.calls if call.was_useful is not None]
    if not stops:
        return None
    first = stops[0]
    helped = "while it still helped" if first.was_useful else "too late to help"
    return Line(
        f"{first.words} at {text.clock(first.called_t)} by {first.initials or 'nobody named'}, "
        f"{helped}",
        "" if first.was_useful else WARNING_MARK,
    )


def _data(d: Debrief) -> Line:
    last = d.course.t_last  # a gap that stands lasts to the end of the pass
    ends = [(g.t_start, last if g.t_end is None else g.t_end) for g in d.data.gaps]
    longest = max((end - start for start, end in ends), default=None)
    words = (
        f"{text.count(d.outcome['samples'], 'sample')}, {d.outcome['lost']} lost, "
        f"{d.outcome['rejected']} rejected"
    )
    if longest is not None:
        words += f"; longest gap {seconds(longest)}"
    if d.data.damage or d.data.missing or d.events_dropped:
        return Line(f"{words}; the recording is not whole, see Data", CAUTION_MARK)
    return Line(words)


def _capture(d: Debrief) -> Line | None:
    if d.outcome["contact"] is None:
        return None
    reached = [stage.phase for stage in d.stages]
    if Phase.DOCKED in reached:
        return Line("Docked: the leak check passed")
    leak = None if d.capture is None else d.capture.leak
    last = reached[-1].value if reached else "contact"
    words = f"The pass ends in {last}"
    if leak is not None and leak.state is LeakState.FAILS:
        return Line(f"{words}; {leak.words}", WARNING_MARK)
    return Line(words)


def _facts(d: Debrief) -> Facts:
    facts, limits = d.facts, d.limits
    own = "kept in the recording" if facts.limits_are_own else "given"
    whose = own if facts.form == "recording" else "in force for this report"
    by = f"judged by version {facts.judged_by}"
    rows = [
        ("Pass", f"{facts.name} ({facts.form})"),
        ("Title", facts.title),
        ("Vehicle", facts.vehicle),
        ("Port", facts.port),
        ("Begin", moment(d.course.t_first)),
        ("End", f"{moment(d.course.t_last)}, after {text.duration(_length(d))}"),
        ("People", ", ".join(facts.people)),
        ("Limits", f"{limits.title}, revision {limits.revision}, {whose}"),
        ("Limits sha256", limits.sha256),
        ("Setup sha256", facts.setup_sha256 or sha("")),
        ("Procedure", _procedure(d)),
        ("Source at the end", d.outcome["source"] or text.UNKNOWN),
        (
            "Software",
            f"recorded by version {facts.recorded_by}, {by}" if facts.recorded_by else by,
        ),
    ]
    return Facts("What this is", tuple(row for row in rows if row[1]))


def _length(d: Debrief) -> float:
    return float(d.outcome["duration_s"])


def _procedure(d: Debrief) -> str:
    procedure = d.facts.procedure
    if procedure is None:
        return ""
    return f"{procedure.title}, revision {procedure.revision}, sha256 {sha(procedure.sha256)}"


def contact_table(d: Debrief) -> Table:
    """Give what was measured at contact against its limits."""
    columns = (
        Column("Quantity"), Column("At contact", is_number=True),
        Column("Limit", is_number=True), Column("Unit"), Column("Verdict"),
    )  # fmt: skip
    hands_off = d.outcome["hands_off"]
    rows = []
    if hands_off is not None:
        value = text.quantity(hands_off["closing_rate_mps"], Quantity.CLOSING_RATE)
        words = f"Closing rate at the hands-off point, {text.clock(hands_off['t'])}"
        rows.append(Row((words, value, text.UNKNOWN, "m/s", "no limit"), hands_off["t"]))
    contact = d.outcome["contact"]
    if contact is not None:
        values = _contact_values(d)
        limits = {limit.quantity: limit for limit in d.limits.contact_limits}
        rows += [_contact_row(q, values[q], limits.get(q), contact) for q in AT_CONTACT]
    return Table("Contact against its limits", columns, tuple(rows), "no contact")


def _contact_values(d: Debrief) -> dict[Quantity, float | None]:
    return {q: d.outcome["contact"][CONTACT_FIELD[q]] for q in AT_CONTACT}


def _contact_row(
    q: Quantity, value: float | None, limit: ContactLimit | None, contact: dict[str, object]
) -> Row:
    outside = contact["outside"]
    is_out = isinstance(outside, list) and q.value in outside
    verdict = "no limit" if limit is None else f"{WARNING_MARK} outside" if is_out else "inside"
    if value is None:
        verdict = "unknown"
    cells = (LABEL[q], text.quantity(value, q), contact_band(limit), UNIT[q], verdict)
    t = contact["t"]
    return Row(cells, t if isinstance(t, float) else None, is_out)
