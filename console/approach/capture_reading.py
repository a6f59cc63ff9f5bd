"""The numbers of a capture status that can be readings at all.

A sensor or sender at fault gives absolute zero, 9999 or the largest float there is. Such a value
is no reading, as if it had not been sent; the flags and the other numbers of its status count.
"""

from __future__ import annotations

import msgspec

from console.core.records import CaptureStatus
from console.envelope.strict_value import Bounds

KPA = Bounds(least=-10.0, most=1000.0)
DEGC = Bounds(least=-100.0, most=200.0)
"""What sensors of people's air can show, with the zero error of a gauge in vacuum (no source)."""
MPS, DPS = Bounds(most=10.0), Bounds(most=100.0)
"""A hundred times what docks (no source)."""
SHARE = Bounds(least=-1.0, most=2.0)
"""Of a way that is all gone at 1, with room for a sensor that is set badly."""


def readable(status: CaptureStatus) -> CaptureStatus:
    """Give a status without the numbers that can be no reading, as if they had not been sent.

    Of a sender with signed rates the magnitude counts. One wrong hook hides all hooks.
    """
    hooks = status.hooks
    return msgspec.structs.replace(
        status,
        rel_rate_mps=_size(status.rel_rate_mps, MPS),
        rel_rate_dps=_size(status.rel_rate_dps, DPS),
        ring_extension=_within(status.ring_extension, SHARE),
        hooks=hooks if hooks is not None and all(map(SHARE.hold, hooks)) else None,
        vestibule_kpa=_within(status.vestibule_kpa, KPA),
        vestibule_degc=_within(status.vestibule_degc, DEGC),
    )


def _within(value: float | None, bounds: Bounds) -> float | None:
    return value if value is not None and bounds.hold(value) else None


def _size(value: float | None, bounds: Bounds) -> float | None:
    return None if value is None else _within(abs(value), bounds)
