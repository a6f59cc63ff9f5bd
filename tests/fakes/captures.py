"""Believable snapshots from contact until docked."""

from __future__ import annotations

import math

from fakes.approach import sample_at, source_now, values_of
from fakes.snapshots import T_CONTACT, approach_at, nominal

from console.approach.event import Phase
from console.approach.snapshot import (
    Authority,
    CallLine,
    CaptureNow,
    MeasuredContact,
    Snapshot,
    Timed,
)
from console.core.ids import SourceId
from console.core.records import CaptureStatus
from console.tracking.outlook import Countdown, Motion
from tests.fakes.changed import replace

STEPS = (
    ("contact", "Contact, soft capture confirmed", 1.0),
    ("damped", "Motion damped, retract ring", 96.0),
    ("retracted", "Ring retracted", 340.0),
    ("hooks", "Hooks closed 12 of 12", 520.0),
    ("hard", "Hard capture", 524.0),
    ("leak", "Leak check within limit, docked", 2000.0),
)


def status_after(after_s: float) -> CaptureStatus:
    """Give the mechanism's state so many seconds after contact."""
    ring = min(max(1.0 - (after_s - 110.0) / 230.0, 0.0), 1.0)
    hooks = tuple(min(max((after_s - 360.0 - 10.0 * i) / 40.0, 0.0), 1.0) for i in range(12))
    damping = math.exp(-after_s / 22.0)
    return CaptureStatus(
        SourceId("optical"), int(after_s * 2), T_CONTACT + after_s, True, after_s > 1.0, ring,
        tuple(ring < 0.02 for _ in range(3)), hooks, after_s > 524.0,
        101.31 - 0.00004 * after_s if after_s > 560.0 else 0.02, 21.4,
        0.071 * damping, 0.15 * damping,
    )  # fmt: skip


def _when(after_s: float, at_s: float) -> float | None:
    return T_CONTACT + at_s if after_s >= at_s else None


def capture_after(after_s: float, phase: Phase) -> Snapshot:
    """Give the snapshot so many seconds after contact."""
    s = approach_at(0.05)
    t = T_CONTACT + after_s
    status = status_after(after_s)
    closed = sum(h >= 1.0 for h in status.hooks or ())
    sample = sample_at(T_CONTACT, 0.0, 0.071)
    calls = tuple(
        CallLine(
            key, words, "done" if after_s >= at else "next",
            t - after_s + at if after_s >= at else None, None,
        )
        for key, words, at in STEPS
    )  # fmt: skip
    first = next((i for i, c in enumerate(calls) if c.state == "next"), None)
    if first is not None:
        calls = (*calls[:first], replace(calls[first], state="now"), *calls[first + 1 :])
    nowhere = Countdown()
    return replace(
        s, t=t, phase=phase, phase_since=t - 20.0, measured=sample, values={},
        estimate=None, motion=Motion.UNKNOWN, limits=(), to_contact=nowhere,
        to_hands_off=nowhere, to_next_mark=nowhere, next_mark_m=None, at_contact=None,
        if_thrust_stops=None, stop=None, path=(), authority=Authority(("crew",), None, None),
        calls=calls, sources=(source_now("optical", True, 0.3),),
        exceedances=tuple(
            replace(e, cleared=e.cleared or T_CONTACT) for e in nominal().exceedances
        ),
        capture=CaptureNow(
            status, T_CONTACT, _when(after_s, 1.0), _when(after_s, 96.0), _when(after_s, 340.0),
            _when(after_s, 520.0), _when(after_s, 524.0), closed, 12,
            MeasuredContact(T_CONTACT, values_of(sample), ()), age_s=0.0,
        ),
        timeline=(*s.timeline, Timed(T_CONTACT, "contact", "contact")),
        contact_t=T_CONTACT, hands_off_t=T_CONTACT - 25.0, planned_closing_mps=None,
        outlook_facts=(),
    )  # fmt: skip


def soft_captured() -> Snapshot:
    """Give 3 s after contact."""
    return capture_after(3.0, Phase.SOFT_CAPTURE)


def damping() -> Snapshot:
    """Give 40 s after contact: motion dying down."""
    return capture_after(40.0, Phase.DAMPING)


def retracting() -> Snapshot:
    """Give the ring half way in."""
    return capture_after(220.0, Phase.RING_RETRACTION)


def hooking() -> Snapshot:
    """Give hooks part closed."""
    return capture_after(460.0, Phase.HOOKS)


def docked() -> Snapshot:
    """Give the end: hard capture, leak check passed."""
    return capture_after(2100.0, Phase.DOCKED)


CAPTURES = {
    "soft capture": soft_captured,
    "damping": damping,
    "ring retraction": retracting,
    "hooks": hooking,
    "docked": docked,
}
