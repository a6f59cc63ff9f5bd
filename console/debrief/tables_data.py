"""Sections on the data and what was made of it: quality, predicted contact, capture, rehearsal."""

from __future__ import annotations

from console.approach.snapshot import SourceNow
from console.approach.words import LABEL
from console.bench.outcome import CONTACT_FIELD
from console.debrief.page import (
    Block,
    Column,
    Facts,
    Figure,
    Line,
    Lines,
    Picture,
    Row,
    Section,
    Table,
)
from console.debrief.prediction import PredictedAt
from console.debrief.review import Debrief
from console.debrief.written import contact_band, delay, metres, seconds, spread
from console.envelope.quantity import AT_CONTACT, UNIT, Quantity
from console.present import text
from console.present.tone import CAUTION_MARK
from console.tracking.outlook import ContactQuantity


def pictures(d: Debrief) -> Section:
    """Give the course over time and the lanes over range."""
    course = Picture(
        Figure.COURSE,
        "Range over time. Below it what stood: warnings filled, cautions hatched, gaps in the "
        "data as crosses.",
        f"Range from {metres(_first_range(d))} over {text.duration(d.outcome['duration_s'])}; "
        f"{text.count(len(d.exceedances), 'exceedance')} below it as bars.",
    )
    lanes = Picture(
        Figure.LANES,
        "Closing rate, lateral offset and misalignment over range, contact at the right. The "
        "warning limits bound the grey band, cautions are dotted, the glide slope is dashed; "
        "triangles are where an exceedance was raised.",
        "Three lanes over range on a square-root axis with the envelope as a band. "
        "The least margins stand in the table of margins.",
    )
    return Section("course", "Course", (course, lanes))


def _first_range(d: Debrief) -> float | None:
    ranges = d.course.path["range_m"]
    return float(ranges[0]) if ranges.size else None


def data(d: Debrief) -> Section:
    """Give how good the data was."""
    columns = (
        Column("Source"), Column("Received", is_number=True),
        Column("Lost", is_number=True), Column("Late", is_number=True),
        Column("Duplicate", is_number=True), Column("Invalid", is_number=True),
        Column("Rate", is_number=True), Column("Clock"),
    )  # fmt: skip
    sources = Table(
        "Sources", columns, tuple(_source(d, source) for source in d.data.sources), "no source"
    )
    gaps = Table(
        "Gaps in the source in use",
        (
            Column("From", is_number=True), Column("To", is_number=True),
            Column("Length", is_number=True), Column("Range", is_number=True),
        ),
        tuple(
            Row(
                (
                    text.clock(g.t_start), text.clock(g.t_end),
                    "to the end" if g.t_end is None else seconds(g.t_end - g.t_start),
                    metres(d.course.range_at(g.t_start)),
                ),
                g.t_start,
            )
            for g in d.data.gaps
        ),
    )  # fmt: skip
    changes = Table(
        "Changes of the source in use",
        (
            Column("Time", is_number=True), Column("From"), Column("To"),
            Column("Reason"),
        ),
        tuple(
            Row((text.clock(c.t), c.before or text.UNKNOWN, c.source, c.reason), c.t)
            for c in d.data.changes
        ),
    )  # fmt: skip
    rejected = Table(
        "Rejected, by reason",
        (Column("Reason"), Column("Messages or rows", is_number=True)),
        tuple(Row((reason, str(count))) for reason, count in d.data.rejected),
    )
    return Section("data", "Data", (sources, gaps, changes, rejected, *_whole(d)))


def _source(d: Debrief, s: SourceNow) -> Row:
    name = f"{s.source} (in use)" if s.in_use and d.outcome["contact"] is None else s.source
    rate = text.UNKNOWN if s.rate_hz is None else f"{text.number(s.rate_hz, 1)} Hz"
    offset = s.clock_offset_s
    clock = "agrees" if offset is None else f"{CAUTION_MARK} differs by {delay(offset)}"
    counts = (s.received, s.lost, s.late, s.duplicates, s.invalid)
    return Row((name, *(str(count) for count in counts), rate, clock))


def _whole(d: Debrief) -> tuple[Block, ...]:
    """Say what is missing of the recording itself."""
    lines = [Line(f"Damaged: {d.data.damage}", CAUTION_MARK)] if d.data.damage else []
    lines += [
        Line(f"{gap.frames} frames are not in the recording: {gap.reason}", CAUTION_MARK)
        for gap in d.data.missing
    ]
    lines += [
        Line(f"{r.source} began a new run at {text.clock(r.t)}, number {r.seq}")
        for r in d.data.restarts
    ]
    if not d.data.was_closed:
        lines.append(Line("The recording was not ended: it was killed, or is still written"))
    if d.events_dropped:
        lines.append(Line(f"{d.events_dropped} events are left out here", CAUTION_MARK))
    return (Lines(tuple(lines)),) if lines else ()


def predicted(d: Debrief) -> Section | None:
    """Give what was predicted of contact beside what was measured; None before any."""
    if not d.predictions:
        return None
    contact = d.outcome["contact"]
    columns = (
        Column("At contact"), Column("Unit"),
        *(Column(f"from {p.at_m:g} m", is_number=True) for p in d.predictions),
        Column("Measured", is_number=True), Column("Limit", is_number=True),
    )  # fmt: skip
    limits = {limit.quantity: limit for limit in d.limits.contact_limits}
    rows = [_contact_time(d.predictions, contact)]
    for q in AT_CONTACT:
        found = [_of(p, q) for p in d.predictions]
        measured = None if contact is None else contact[CONTACT_FIELD[q]]
        cells = [spread(None if f is None else f.predicted, q) for f in found]
        last = (text.quantity(measured, q), contact_band(limits.get(q)))
        rows.append(Row((LABEL[q], UNIT[q], *cells, *last)))
    rows.append(_chances(d.predictions))
    table = Table(
        "Predicted with 95 % bounds, as the vehicle passed each range, beside what was measured",
        columns,
        tuple(rows),
    )
    picture = Picture(
        Figure.PREDICTED,
        "Predicted contact with 95 % bounds from each range; the line is what was measured, the "
        "grey band what the contact limits allow.",
        "Closing rate, lateral offset and pitch/yaw predicted at contact; the figures stand in "
        "the table.",
    )
    return Section("predicted", "Predicted against measured contact", (picture, table))


def _of(p: PredictedAt, q: Quantity) -> ContactQuantity | None:
    if p.contact is None:
        return None
    return next((c for c in p.contact.quantities if c.quantity is q), None)


def _contact_time(predictions: tuple[PredictedAt, ...], contact: dict[str, float] | None) -> Row:
    cells = []
    for p in predictions:
        best = p.to_contact.best_s
        t = None if best is None else p.t + best
        cells.append(f"{text.clock(t)} {text.doubt(p.to_contact)}".strip())
    measured = text.UNKNOWN if contact is None else text.clock(contact["t"])
    return Row(("Time of contact", "UTC", *cells, measured, text.UNKNOWN))


def _chances(predictions: tuple[PredictedAt, ...]) -> Row:
    chances = [None if p.contact is None else p.contact.chance_all for p in predictions]
    cells = (text.chance(chance) for chance in chances)
    return Row(("Chance of all limits", "", *cells, text.UNKNOWN, text.UNKNOWN))


def capture(d: Debrief) -> Section | None:
    """Give what followed contact; None where no capture status came."""
    now = d.capture
    if now is None or d.outcome["contact"] is None:
        return None
    contact_t = d.outcome["contact"]["t"]
    stages = tuple(
        Row((s.phase.value, text.clock(s.t), delay(s.t - contact_t), s.evidence), s.t)
        for s in d.stages
        if s.t >= contact_t
    )
    blocks: list[Block] = []
    if d.course.capture["t"].size > 1:
        blocks.append(
            Picture(
                Figure.CAPTURE,
                "After contact: relative motion as it is damped, ring and hooks, vestibule "
                "pressure.",
                "Relative motion, ring extension, share of the hooks closed and vestibule "
                "pressure over the time since contact.",
            )
        )
    columns = (
        Column("Stage"), Column("From", is_number=True),
        Column("After contact", is_number=True), Column("Evidence"),
    )  # fmt: skip
    blocks.append(Table("Stages", columns, stages, "no stage was reached"))
    told = [
        ("Damping", "" if now.damping is None else now.damping.words),
        ("Leak check", "" if now.leak is None else now.leak.words),
        ("Hooks", "" if now.hooks_total is None else f"{now.hooks_closed} of {now.hooks_total}"),
    ]
    if verdicts := tuple(pair for pair in told if pair[1]):
        blocks.append(Facts("Verdicts", verdicts))
    return Section("capture", "Capture to docked", tuple(blocks))
