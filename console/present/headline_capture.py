"""The headline's first four cells after contact: phase, closing at contact, time since, hooks."""

from __future__ import annotations

from console.approach.snapshot import CaptureNow, Snapshot
from console.envelope.limits import LimitsFile
from console.envelope.quantity import Quantity
from console.present import text
from console.present.cell import BLANK, Cell, Note
from console.present.tone import CAUTION_MARK, WARNING_MARK, Tone

Q = Quantity


def capture_cells(s: Snapshot, limits: LimitsFile) -> tuple[Cell, Cell, Cell, Cell]:
    """Give the cells that take the places of range, closing rate, contact and hands-off."""
    capture = s.capture
    assert capture is not None
    return _phase(s), _contact_rate(capture, limits), _since(s), _mechanism(capture)


def _phase(s: Snapshot) -> Cell:
    since = Note(f"for {text.duration(s.t - s.phase_since)}")
    return Cell("Phase", s.phase.value, notes=(since, _awaited(s.capture)), is_words=True)


def _awaited(capture: CaptureNow | None) -> Note:
    """Say what leads to the next phase, and for how long it has been late."""
    if capture is None:
        return BLANK
    if capture.age_s is None:
        return Note("no capture status received")
    if not capture.awaited:
        return BLANK
    first = capture.awaited[0]
    if not first.is_late:
        return Note(f"awaits {first.words}")
    waited = text.duration(first.waited_s)
    return Note(f"{CAUTION_MARK} {first.words} late, {waited}", Tone.CAUTION)


def _contact_rate(capture: CaptureNow, limits: LimitsFile) -> Cell:
    title = "Closing rate at contact"
    limit = next((c for c in limits.contact_limits if c.quantity is Q.CLOSING_RATE), None)
    bounds = Note(f"limit {text.band(limit.minimum, limit.maximum, 3)}") if limit else BLANK
    if capture.contact is None:
        return Cell(title, text.UNKNOWN, "m/s", (bounds, Note("not measured")))
    outside = capture.contact.outside
    unknown = sum(capture.contact.values.get(quantity) is None for quantity in outside)
    is_out = Q.CLOSING_RATE in outside
    return Cell(
        title,
        text.number(capture.contact.values.get(Q.CLOSING_RATE), 3),
        "m/s",
        (bounds, _verdict(len(outside) - unknown, unknown)),
        Tone.WARNING if is_out else Tone.STRONG,
        WARNING_MARK if is_out else "",
    )


def _verdict(outside: int, unknown: int) -> Note:
    if outside and unknown:
        return Note(f"{WARNING_MARK} {outside} outside limits, {unknown} unknown", Tone.WARNING)
    if unknown:
        return Note(f"{WARNING_MARK} {text.count(unknown, 'value')} unknown", Tone.WARNING)
    if outside:
        return Note(f"{WARNING_MARK} {text.count(outside, 'value')} outside limits", Tone.WARNING)
    return Note("contact inside all limits", Tone.PLAIN)


def _since(s: Snapshot) -> Cell:
    title = "Since contact"
    if s.contact_t is None:
        return Cell(title, text.UNKNOWN, notes=(BLANK, BLANK))
    note = Note(f"contact at {text.clock(s.contact_t)} UTC")
    return Cell(title, "+" + text.duration(s.t - s.contact_t), notes=(note, BLANK))


def _mechanism(capture: CaptureNow) -> Cell:
    ring = capture.status.ring_extension
    extended = BLANK if ring is None else Note(f"ring {ring * 100.0:.0f} % extended")
    second = Note("hard capture", Tone.PLAIN) if capture.status.hard_capture else BLANK
    if capture.hooks_closed is None or capture.hooks_total is None:
        return Cell("Hooks closed", text.UNKNOWN, notes=(extended, second))
    beside = f"of {capture.hooks_total}"
    return Cell("Hooks closed", str(capture.hooks_closed), beside, (extended, second))
