"""What a merged capture status shows, as evidence for the table and against it.

A field that was never sent shows nothing and contradicts nothing: a mechanism without ring
telemetry still goes through its hooks.
"""

from __future__ import annotations

from collections.abc import Iterator

from console.approach.capture_table import Evidence
from console.approach.event import Phase
from console.core.records import CaptureStatus

RING_MOVED = 0.99
RING_HOME = 0.01
RING_OUT = 0.05
"""A ring known to be further out than this is not in, whatever else is reported."""
RING_ALONE = 0.5
"""Without a word on soft capture a ring this far in shows retraction by itself."""
HOOK_MOVED = 0.02
HOOK_CLOSED = 0.999
AFTER_HARD_CAPTURE = (Phase.HARD_CAPTURE, Phase.DOCKED)


def shown(
    status: CaptureStatus | None, *, is_touching: bool, leak_passed: bool
) -> Iterator[Evidence]:
    """Give the evidence along the chain, in the chain's order.

    Parameters
    ----------
    status : CaptureStatus or None
        The newest value of each field; None before any.
    is_touching : bool
        Contact is known, from the range or a status. Without it a hook's position that is a
        little off zero shows nothing: only what cannot be far from the port does.
    leak_passed : bool
        The vestibule's leak check has passed.
    """
    soft = None if status is None else status.soft_capture
    if is_touching or soft or (status is not None and status.contact):
        yield Evidence.CONTACT
    if status is None:
        return
    if soft:
        yield Evidence.SOFT_CAPTURE
        if status.rel_rate_mps is not None or status.rel_rate_dps is not None:
            yield Evidence.MOTION
    touches = is_touching or bool(soft)
    if _is_retracting(status, touches):
        yield Evidence.RING_MOVING
    if touches and status.ready_to_hook and all(status.ready_to_hook) and not _is_out(status):
        yield Evidence.READY
    yield from _of_hooks(status, touches)
    if status.hard_capture and not open_hooks(status):
        yield Evidence.HARD_CAPTURE
    if leak_passed:
        yield Evidence.LEAK_PASSED


def _is_retracting(status: CaptureStatus, touches: bool) -> bool:
    ring = status.ring_extension
    if ring is None or status.soft_capture is False:
        return False
    return ring < (RING_MOVED if status.soft_capture else RING_ALONE) and touches


def _of_hooks(status: CaptureStatus, touches: bool) -> Iterator[Evidence]:
    hooks = status.hooks
    if not hooks or _is_out(status):
        return
    is_closed = min(hooks) >= HOOK_CLOSED
    if is_closed or (touches and max(hooks) > HOOK_MOVED):
        yield Evidence.HOOKS_MOVING
    if is_closed:
        yield Evidence.HOOKS_CLOSED


def _is_out(status: CaptureStatus) -> bool:
    return status.ring_extension is not None and status.ring_extension > RING_OUT


def open_hooks(status: CaptureStatus) -> tuple[int, ...]:
    """Give the numbers, from 1, of the hooks known to be not closed."""
    hooks = status.hooks or ()
    return tuple(n for n, hook in enumerate(hooks, start=1) if hook < HOOK_CLOSED)


def against(
    status: CaptureStatus | None, phase: Phase, *, was_contact_reported: bool
) -> Iterator[Evidence]:
    """Give the contradictions in a merged status, whether or not the phase minds them."""
    if status is None:
        return
    if status.contact is False and was_contact_reported and not status.soft_capture:
        yield Evidence.CONTACT_LOST
    if status.soft_capture is False:
        yield Evidence.CAPTURE_LOST
    if _is_out(status) and max(status.hooks or (0.0,)) > HOOK_MOVED:
        yield Evidence.HOOKS_EARLY
    if status.hard_capture and open_hooks(status):
        yield Evidence.HOOK_OPEN
    if status.hard_capture is False and phase in AFTER_HARD_CAPTURE:
        yield Evidence.HARD_CAPTURE_LOST
