"""What the closing lines of a watch say of capture: predicted and measured, damping, leak."""

from __future__ import annotations

from console.approach.capture_words import damping_line, leak_line
from console.approach.snapshot import CaptureNow
from console.approach.state import StateModel
from console.approach.words import DECIMALS, LABEL
from console.envelope.quantity import UNIT


def capture_summary(state: StateModel) -> list[str]:
    """Give the lines on capture; none where nothing was heard of it."""
    capture = state.snapshot().capture
    if capture is None:
        return []
    lines = _predicted_line(capture)
    if capture.damping is not None:
        lines.append(f"  {damping_line(capture.damping, state.now)}")
    if capture.leak is not None:
        lines.append(f"  {leak_line(capture.leak)}")
    raised = [e for e in state.register if e.id.startswith("capture:")]
    lines += [f"    {e.level.word:<8} {e.id}: {e.words}" for e in raised]
    lines += [
        f"  awaited: {each.words}, {each.waited_s:.0f} s so far{', late' if each.is_late else ''}"
        for each in capture.awaited
    ]
    return lines


def _predicted_line(capture: CaptureNow) -> list[str]:
    """Say what was predicted last before contact, in the units of what was measured."""
    if capture.predicted is None or capture.contact is None or capture.predicted_t is None:
        return []
    said = [
        f"{LABEL[each.quantity].lower()} {each.predicted.mean:.{DECIMALS[each.quantity]}f}"
        f" {UNIT[each.quantity]}"
        for each in capture.predicted.quantities
        if each.predicted is not None
    ]
    before_s = capture.contact.t - capture.predicted_t
    return [f"    predicted {before_s:.1f} s before: {', '.join(said)}"]
