"""The headline strip: where it is, how fast, when contact is, who may call a stop, what to trust.

One value a cell with its unit, and up to two quiet notes below it. Before contact the cells
speak of the approach, after it of capture.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from console.approach.event import Phase
from console.approach.snapshot import Snapshot, Verdict
from console.envelope.limits import LimitsFile
from console.envelope.quantity import Quantity
from console.present import text
from console.present.cell import BLANK, Cell, Note
from console.present.headline_capture import capture_cells
from console.present.levels import (
    judged_value,
    limits_on,
    shown_band,
    standing_level,
    unknown_note,
)
from console.present.source_lines import SourceLine, source_lines
from console.present.stop_notes import stop_notes
from console.present.tone import CAUTION_MARK, WARNING_MARK, Tone, mark_of, tone_of
from console.present.trouble_words import BEHIND_FROM_S
from console.tracking.outlook import Motion

UNSEEN = "not seen: small stuck thruster, shared bias"
NOT_CLOSING = {
    Motion.NOT_CLOSING: "not closing",
    Motion.OPENING: "opening",
}


@dataclass(frozen=True, slots=True)
class HeadlineView:
    """The strip's cells from left to right, then the sources.

    ``unseen`` says beside the sources what none of their data can show (manual, trust in data).
    """

    cells: tuple[Cell, ...]
    sources: tuple[SourceLine, ...]
    unseen: str = ""


def headline(
    snapshot: Snapshot | None,
    limits: LimitsFile,
    *,
    is_under_other_limits: bool = False,
    behind_s: float = 0.0,
) -> HeadlineView:
    """Give the headline strip of a snapshot; None is a watch that has no state yet.

    Parameters
    ----------
    is_under_other_limits : bool
        A replay judges by other limits than the pass was watched under: said in the strip.
    behind_s : float
        How much older the snapshot is than what was received, s: from a second on its figures
        are stale, whatever their own age says.
    """
    if snapshot is None:
        titles = ("Range to contact", "Closing rate", "Time to contact", _hands_off_title(limits))
        cells = tuple(Cell(title, text.UNKNOWN, notes=(BLANK,)) for title in titles)
        cells = (*cells, Cell("Abort authority", text.UNKNOWN, notes=(BLANK,)))
        return HeadlineView(cells, ())
    first: tuple[Cell, ...] = (
        (_range(snapshot), _closing(snapshot), _contact(snapshot), _hands_off(snapshot, limits))
        if snapshot.capture is None
        else capture_cells(snapshot, limits)
    )
    if is_under_other_limits:
        first = (_under_other_limits(first[0]), *first[1:])
    if behind_s >= BEHIND_FROM_S:
        first = (_late(first[0], behind_s), *(_struck(cell) for cell in first[1:]))
    unseen = UNSEEN if snapshot.contact_t is None else ""
    return HeadlineView((*first, _authority(snapshot)), source_lines(snapshot), unseen)


def _under_other_limits(cell: Cell) -> Cell:
    """Say it in the strip's first cell, in place of what is least needed there."""
    note = Note(f"{CAUTION_MARK} under other limits", Tone.CAUTION)
    return replace(cell, notes=(note, *cell.notes[1:]))


def _late(cell: Cell, behind_s: float) -> Cell:
    """Say in the strip's first cell that everything in it comes late."""
    note = Note(f"{WARNING_MARK} shown {text.age(behind_s)} late", Tone.WARNING)
    return replace(_struck(cell), notes=(note, *cell.notes[1:]))


def _struck(cell: Cell) -> Cell:
    return replace(cell, tone=Tone.STALE) if cell.tone is Tone.STRONG else cell


def _range(s: Snapshot) -> Cell:
    value = s.estimate.range_m if s.estimate else s.measured.range_m if s.measured else None
    if s.next_mark_m is None:
        ahead = BLANK
    elif s.to_next_mark.best_s is None:
        ahead = Note(f"next mark {s.next_mark_m:g} m")
    else:
        ahead = Note(f"next mark {s.next_mark_m:g} m in {text.duration(s.to_next_mark.best_s)}")
    return Cell(
        "Range to contact", text.range_m(value), "m", (ahead, phase_note(s)), tone=_freshness(s)
    )


def phase_note(s: Snapshot) -> Note:
    """Say the phase and for how long it has been so; lost data speaks as a warning."""
    if s.phase is Phase.WAITING:
        return Note("waiting for data")
    words = f"{s.phase.value} for {text.duration(s.t - s.phase_since)}"
    if s.phase is Phase.DATA_LOST:
        return Note(f"{WARNING_MARK} {words}", Tone.WARNING)
    return Note(words, Tone.PLAIN)


def _closing(s: Snapshot) -> Cell:
    level = standing_level(s, Quantity.CLOSING_RATE)
    value = judged_value(s, Quantity.CLOSING_RATE)
    if s.estimate is not None and (s.stale or value is None):
        value = s.estimate.closing_rate_mps
    low, high = shown_band(s, Quantity.CLOSING_RATE)
    notes = (
        Note(_allowed(low, high) if low is not None or high is not None else _no_bound(s)),
        Note(f"planned {text.number(s.planned_closing_mps, 3)}")
        if s.planned_closing_mps is not None
        else BLANK,
    )
    tone = tone_of(level, Tone.STRONG) if not s.stale else Tone.STALE
    return Cell("Closing rate", text.number(value, 3), "m/s", notes, tone, mark_of(level))


def _allowed(low: float | None, high: float | None) -> str:
    if low is not None and high is not None:
        return f"allowed {text.band(low, high, 3)} here"
    if high is not None:
        return f"allowed to {text.number(high, 3)} here"
    return f"allowed from {text.number(low, 3)} here"


def _no_bound(s: Snapshot) -> str:
    """Say why no limit stands beside the rate: there is none here, or it is not known."""
    on = limits_on(s, Quantity.CLOSING_RATE)
    is_unknown = bool(on) and all(n.verdict is Verdict.UNKNOWN for n in on)
    return "limit not known" if is_unknown else "no limit here"


def _contact(s: Snapshot) -> Cell:
    title = "Time to contact"
    best = s.to_contact.best_s
    if best is None:
        return _no_countdown(s, title)
    about = Note(f"contact about {text.clock(s.t + best)} UTC")
    unit = text.doubt(s.to_contact)
    second = BLANK
    if s.coasted:
        second = Note(f"{CAUTION_MARK} coasted, data {text.age(s.age_s)} old", Tone.CAUTION)
    elif s.to_contact.high_s is None:
        second = Note(f"not before {text.clock(s.t + (s.to_contact.low_s or 0.0))}")
    elif s.to_contact.at_present_rate_s is not None:
        second = Note(f"{text.duration(s.to_contact.at_present_rate_s)} at the present rate")
    return Cell(title, text.duration(best), unit, (about, second))


def _no_countdown(s: Snapshot, title: str) -> Cell:
    if s.withdrawn:
        note = Note(f"{WARNING_MARK} coasted {text.age(s.age_s)}: not given", Tone.WARNING)
        return Cell(title, text.UNKNOWN, notes=(note, BLANK))
    words = NOT_CLOSING.get(s.motion)
    if words is None:
        return Cell(title, text.UNKNOWN, notes=(unknown_note(s), BLANK))
    return Cell(title, words, notes=(Note("no time of contact"), BLANK), is_words=True)


def _hands_off(s: Snapshot, limits: LimitsFile) -> Cell:
    title = _hands_off_title(limits)
    best = s.to_hands_off.best_s
    if best is not None:
        return Cell(title, text.duration(best), "to go", stop_notes(s))
    if s.phase is Phase.HANDS_OFF or (s.hands_off_t is not None and s.motion is Motion.CLOSING):
        passed = Note(
            f"passed at {text.clock(s.hands_off_t)} UTC" if s.hands_off_t else "passed",
            Tone.PLAIN,
        )
        return Cell(title, "inside", notes=(passed, stop_notes(s)[0]), is_words=True)
    cell = _no_countdown(s, title)
    if s.withdrawn or s.motion is Motion.UNKNOWN:
        return cell
    return Cell(title, text.UNKNOWN, notes=(Note(cell.value), BLANK))


def _hands_off_title(limits: LimitsFile) -> str:
    return f"Hands-off point ({limits.hands_off.range_m:.2f} m)"


def _authority(s: Snapshot) -> Cell:
    holders = [h.upper() for h in s.authority.holders]
    value = holders[0] if holders else text.UNKNOWN
    beside = "".join(f"+ {h} " for h in holders[1:]).strip()
    note = BLANK if holders else Note(_no_holder(s))
    if s.authority.passes_to is not None:
        note = Note(f"passes to {s.authority.passes_to.upper()}")
        if s.authority.passes_at_m is not None:
            note = Note(f"{note.text} at {s.authority.passes_at_m:.2f} m")
    return Cell("Abort authority", value, beside, (note, BLANK))


def _no_holder(s: Snapshot) -> str:
    """Say why no holder stands there: who holds it is not known before data, later nobody does."""
    return "not known" if s.phase is Phase.WAITING else "held by nobody"


def _freshness(s: Snapshot) -> Tone:
    return Tone.STALE if s.stale else Tone.STRONG
