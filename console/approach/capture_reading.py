"""The numbers of a capture status that can be readings at all.

A sensor or sender at fault gives absolute zero, 9999 or the largest float there is. Such a value
is no reading, as if it had not been sent; the flags and the other numbers of its status count.
"""

from __future__ import annotations

from dataclasses import dataclass

from console.core.records import CaptureStatus
from console.envelope.strict_value import Bounds

KPA = Bounds(least=-10.0, most=1000.0)
DEGC = Bounds(least=-100.0, most=200.0)
"""What sensors of people's air can show, with the zero error of a gauge in vacuum (no source)."""
MPS, DPS = Bounds(most=10.0), Bounds(most=100.0)
"""A hundred times what docks (no source)."""
SHARE = Bounds(least=-1.0, most=2.0)
"""Of a way that is all gone at 1, with room for a sensor that is set badly."""


@dataclass(frozen=True, slots=True)
class Readings:
    """Numbers of a capture status; None where none was sent, or none that can be."""

    rel_rate_mps: float | None
    rel_rate_dps: float | None
    """Sizes: of a sender with signed rates the magnitude."""
    ring_extension: float | None
    hooks: tuple[float, ...] | None
    """None unless each can be."""
    vestibule_kpa: float | None
    vestibule_degc: float | None

    @classmethod
    def of(cls, status: CaptureStatus) -> Readings:
        """Take the readings out of a status."""
        hooks = status.hooks
        return cls(
            _size(status.rel_rate_mps, MPS),
            _size(status.rel_rate_dps, DPS),
            _within(status.ring_extension, SHARE),
            hooks if hooks is not None and all(map(SHARE.hold, hooks)) else None,
            _within(status.vestibule_kpa, KPA),
            _within(status.vestibule_degc, DEGC),
        )


def _within(value: float | None, bounds: Bounds) -> float | None:
    return value if value is not None and bounds.hold(value) else None


def _size(value: float | None, bounds: Bounds) -> float | None:
    return None if value is None else _within(abs(value), bounds)
