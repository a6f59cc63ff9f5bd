"""Capture statuses merged: the newest value of each field, and when each thing was first seen."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import msgspec

from console.approach.phase import HOOK_CLOSED, RING_MOVED
from console.approach.snapshot import CaptureNow, MeasuredContact
from console.core.ids import SourceId
from console.core.records import CaptureStatus

DAMPED_MPS = 0.002
DAMPED_DPS = 0.02
"""Relative motion below both counts as damped (project decision: a tenth of the contact rates)."""
QUIET_S = 5.0
SOURCES_KEPT = 16
RING_HOME = 0.01

_FIELDS = tuple(
    name for name in CaptureStatus.__struct_fields__ if name not in ("source", "seq", "t")
)


@dataclass(frozen=True, slots=True)
class Heard:
    """When a source of capture statuses was last heard: by engine time, and by its own."""

    engine_s: float
    t: float


class CaptureBook:
    """What capture has shown so far."""

    def __init__(self) -> None:
        self.merged: CaptureStatus | None = None
        self.heard: dict[SourceId, Heard] = {}
        self._first: dict[str, float] = {}
        self._quiet_since: float | None = None

    def take(self, status: CaptureStatus, engine_s: float) -> Iterator[tuple[str, str]]:
        """Merge a status; give each step seen for the first time, with its words."""
        self._note_heard(status, engine_s)
        merged = self.merged = _merged(self.merged, status)
        for step, words in _steps(merged, self._is_damped(merged)):
            if step not in self._first:
                self._first[step] = status.t
                yield step, words

    def _note_heard(self, status: CaptureStatus, engine_s: float) -> None:
        if status.source in self.heard or len(self.heard) < SOURCES_KEPT:
            self.heard[status.source] = Heard(engine_s, status.t)

    def _is_damped(self, merged: CaptureStatus) -> bool:
        """Tell whether relative motion has stayed small; an oscillation passes through zero."""
        rate, turn = merged.rel_rate_mps, merged.rel_rate_dps
        if rate is None or rate >= DAMPED_MPS or (turn is not None and turn >= DAMPED_DPS):
            self._quiet_since = None
            return False
        if self._quiet_since is None:
            self._quiet_since = merged.t
        return merged.t - self._quiet_since >= QUIET_S

    def picture(self, contact: MeasuredContact | None) -> CaptureNow | None:
        """Give capture as the snapshot shows it; None before any status or contact."""
        merged = self.merged
        if merged is None:
            if contact is None:
                return None
            return CaptureNow(
                CaptureStatus(SourceId(""), 0, contact.t),
                contact.t, None, None, None, None, None, None, None, contact,
            )  # fmt: skip
        hooks = merged.hooks
        first = self._first.get
        return CaptureNow(
            status=merged,
            t_contact=first("contact") if contact is None else contact.t,
            t_soft_capture=first("soft_capture"),
            t_damped=first("damped"),
            t_retracted=first("retracted"),
            t_hooks_closed=first("hooks"),
            t_hard_capture=first("hard_capture"),
            hooks_closed=None if hooks is None else sum(h >= HOOK_CLOSED for h in hooks),
            hooks_total=None if hooks is None else len(hooks),
            contact=contact,
        )


def _merged(merged: CaptureStatus | None, status: CaptureStatus) -> CaptureStatus:
    """Take over what a status says; one that comes late only fills in what is unknown."""
    if merged is None:
        return status
    news = {name: getattr(status, name) for name in _FIELDS}
    known = {name: value for name, value in news.items() if value is not None}
    if status.t < merged.t:
        unknown = {name: value for name, value in known.items() if getattr(merged, name) is None}
        return msgspec.structs.replace(merged, **unknown)
    return msgspec.structs.replace(
        merged, source=status.source, seq=status.seq, t=status.t, **known
    )


def _steps(merged: CaptureStatus, is_damped: bool) -> Iterator[tuple[str, str]]:
    """Give every step the merged status shows, in the order of capture."""
    if merged.contact:
        yield "contact", "Contact reported by the vehicle"
    if merged.soft_capture:
        yield "soft_capture", "Soft capture"
        if is_damped:
            yield "damped", "Relative motion damped"
        yield from _ring_steps(merged)
    hooks = merged.hooks or ()
    for number, hook in enumerate(hooks, start=1):
        if hook >= HOOK_CLOSED:
            yield f"hook {number}", f"Hook {number} closed"
    if hooks and all(hook >= HOOK_CLOSED for hook in hooks):
        yield "hooks", f"Hooks closed, {len(hooks)} of {len(hooks)}"
    if merged.hard_capture:
        yield "hard_capture", "Hard capture"


def _ring_steps(merged: CaptureStatus) -> Iterator[tuple[str, str]]:
    ring = merged.ring_extension
    if ring is not None and ring < RING_MOVED:
        yield "retracting", "Ring retracting"
        if ring <= RING_HOME:
            yield "retracted", "Ring retracted"
    if merged.ready_to_hook and all(merged.ready_to_hook):
        yield "ready", "Ready to hook"
