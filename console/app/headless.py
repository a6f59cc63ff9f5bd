"""The text form of a watch: one line for each call and exceedance, a summary at the end."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from console import CAUTION_TEXT
from console.app.capture_text import capture_summary
from console.app.procedure_lines import procedure_summary, procedure_tag_and_words
from console.approach.event import (
    Acknowledged,
    AnyEvent,
    AuthorityChanged,
    CallMade,
    CaptureStep,
    CaptureVerdict,
    ContactMade,
    ExceedanceCleared,
    ExceedanceRaised,
    HandsOffPassed,
    MarkPassed,
    NoteMade,
    OutlookNoted,
    PhaseChanged,
    SamplesLost,
    SourceChanged,
    SourceRestarted,
)
from console.approach.snapshot import Snapshot
from console.approach.state import StateModel
from console.approach.words import DECIMALS, LABEL, exceedance_words, not_kept_words
from console.core.utc import format_utc
from console.envelope.quantity import UNIT
from console.judging.exceedance import Exceedance
from console.present.port import WatchStatus
from console.present.trouble_words import Trouble, troubles

TAG_WIDTH = 9
NOTICE_AFTER_S = 2.0
"""Said only when it has stood so long: every link is down for a moment at the begin."""
AGAIN_AFTER_S = 10.0
"""Numbers that grow are said again so often at most."""


def line_of(event: AnyEvent) -> str:
    """Write an event as one line that begins with its UTC."""
    tag, words = procedure_tag_and_words(event) or _tag_and_words(event)
    return f"{format_utc(event.t, 1)}  {tag:<{TAG_WIDTH}} {words}"


def _tag_and_words(event: AnyEvent) -> tuple[str, str]:
    match event:
        case MarkPassed() | HandsOffPassed() | ContactMade():
            return "call", event.words
        case CaptureStep() | CaptureVerdict():
            return "capture", event.words
        case ExceedanceRaised():
            return event.level, f"{event.words}  [{event.id}]"
        case ExceedanceCleared():
            stood_s = event.t - event.raised
            return "cleared", f"{event.level} {event.id}, stood {stood_s:.1f} s"
        case PhaseChanged():
            return "phase", f"{event.phase.value} ({event.evidence})"
        case AuthorityChanged():
            return "authority", " + ".join(event.holders) or "none: captured"
    return _operator_or_data(event)


def _operator_or_data(event: AnyEvent) -> tuple[str, str]:
    match event:
        case SourceChanged():
            return "source", f"{event.source} in use ({event.reason})"
        case SourceRestarted():
            return "source", f"{event.source} began a new run at {event.seq}"
        case SamplesLost():
            return "data", f"{event.source}: {event.count} lost from {event.first_seq}"
        case Acknowledged():
            return "operator", f"{event.initials or '--'} acknowledged {event.id}"
        case OutlookNoted():
            return event.level, event.words
        case NoteMade():
            return "note", f"{event.initials or '--'}: {event.text}"
        case CallMade():
            return "operator", f"{event.initials or '--'} called {event.call}"
    return "event", ""


def printer(write: Callable[[str], None]) -> Callable[[AnyEvent], None]:
    """Give a listener that writes each event's line."""

    def on_event(event: AnyEvent) -> None:
        write(line_of(event))

    return on_event


class StatusLines:
    """Says how link and recording do, when that changes: what a window's status line shows.

    Parameters
    ----------
    write : callable
        Takes a line.
    """

    def __init__(self, write: Callable[[str], None]) -> None:
        self._write = write
        self._recording = ""
        self._notice = ""
        self._notice_since_s = 0.0
        self._said_notice = ""
        self._said_insecure = False
        self._said_troubles: dict[str, tuple[str, float]] = {}

    def look(
        self, status: WatchStatus, path: Path, now_s: float, snapshot: Snapshot | None = None
    ) -> None:
        """Compare with what was said; ``now_s`` is of any clock that only goes forward."""
        if status.insecure and not self._said_insecure:
            self._said_insecure = True
            self._write("INSECURE: the link leaves this machine without keys")
        behind = status.not_recording_because
        recording = f"Recording to {path}" + (f", behind: {behind}" if behind else "")
        if status.recording is None:
            recording = f"NOT RECORDING: {status.not_recording_because}; the watch goes on"
        if recording != self._recording:
            self._recording = recording
            self._write(recording)
        if status.notice != self._notice:
            self._notice, self._notice_since_s = status.notice, now_s
        elif now_s - self._notice_since_s >= NOTICE_AFTER_S and self._notice != self._said_notice:
            self._said_notice = self._notice
            self._write(self._notice or "link is up")
        self._look_at_troubles(troubles(status, snapshot), now_s)

    def _look_at_troubles(self, found: tuple[Trouble, ...], now_s: float) -> None:
        for trouble in found:
            words, said_s = self._said_troubles.get(trouble.kind, ("", now_s - AGAIN_AFTER_S))
            if trouble.words != words and now_s - said_s >= AGAIN_AFTER_S:
                self._said_troubles[trouble.kind] = trouble.words, now_s
                self._write(f"{trouble.level.word}: {trouble.words}")


def summary(state: StateModel, watched: WatchStatus | None = None) -> list[str]:
    """Give the closing lines: counts, hands-off, contact, what stood, the cautions.

    What a live watch dropped itself is told apart from what was lost on the way.
    """
    total = state.sequence.total()
    lost, dropped = total.lost, ""
    if watched is not None and watched.overflowed:
        lost, dropped = watched.lost, f"dropped here {watched.overflowed}, "
    rejected = sum(state.rejects.values())
    lines = [
        (
            f"Summary  {state.limits.title} revision {state.limits.revision}, "
            f"limits {state.limits.sha256[:12]}"
        ),
        (
            f"  messages {total.received}, lost {lost}, {dropped}repeated {total.duplicates}, "
            f"rejected {rejected}; samples judged {state.judged}"
        ),
    ]
    passing = state.milestones.hands_off
    if passing is not None:
        lines.append(
            f"  hands-off {format_utc(passing.t, 1)}, closing {passing.closing_rate_mps:.3f} m/s"
        )
    lines += _contact_lines(state)
    lines += capture_summary(state)
    raised = list(state.register)
    limits = [e for e in raised if ":" not in e.id]
    data = [e for e in raised if e.source is not None]
    lines.append(f"  exceedances of limits {len(limits)}, of data {len(data)}")
    lines += [f"    {e.level.word:<8} {e.id}: {_peak_words(e)}" for e in limits]
    lines += procedure_summary(state)
    lines.append(f"  phase at the end: {state.phases.phase.value}")
    lines.append(CAUTION_TEXT)
    return lines


def _peak_words(exceedance: Exceedance) -> str:
    quantity, peak, limit = exceedance.quantity, exceedance.peak, exceedance.peak_limit
    if quantity is None or peak is None or limit is None:
        return exceedance.words
    stands = ", stands" if exceedance.stands else ""
    return exceedance_words(quantity, peak, limit) + stands


def _contact_lines(state: StateModel) -> list[str]:
    contact = state.contact.measured()
    if contact is None:
        return ["  contact: none"]
    values = ", ".join(
        f"{LABEL[quantity].lower()} "
        + ("unknown" if value is None else f"{value:.{DECIMALS[quantity]}f} {UNIT[quantity]}")
        for quantity, value in contact.values.items()
    )
    verdict = (
        "within its limits"
        if not contact.outside
        else not_kept_words(
            [(LABEL[q].lower(), contact.values.get(q)) for q in contact.outside],
            "OUTSIDE its limits: ",
        )
    )
    return [f"  contact {format_utc(contact.t, 1)}, {verdict}", f"    {values}"]
