"""What judging needs of an estimator: said by shape alone, so that it need not know one."""

from __future__ import annotations

from typing import Protocol


class RateSource(Protocol):
    """Whatever knows the rates a source does not send; None where it does not know them."""

    @property
    def y_rate_mps(self) -> float | None:
        """Lateral rate along y, m/s."""

    @property
    def z_rate_mps(self) -> float | None:
        """Lateral rate along z, m/s."""

    @property
    def roll_rate_dps(self) -> float | None:
        """Roll rate, deg/s."""

    @property
    def pitch_rate_dps(self) -> float | None:
        """Pitch rate, deg/s."""

    @property
    def yaw_rate_dps(self) -> float | None:
        """Yaw rate, deg/s."""


class StateSource(Protocol):
    """An estimated state, as far as the judged quantities need it."""

    @property
    def range_m(self) -> float:
        """Range, m."""

    @property
    def closing_rate_mps(self) -> float:
        """Closing rate, m/s, positive while approaching."""

    @property
    def y_m(self) -> float:
        """Lateral position along y, m."""

    @property
    def z_m(self) -> float:
        """Lateral position along z, m."""

    @property
    def roll_deg(self) -> float:
        """Roll, deg."""

    @property
    def pitch_deg(self) -> float:
        """Pitch, deg."""

    @property
    def yaw_deg(self) -> float:
        """Yaw, deg."""

    @property
    def y_rate_mps(self) -> float:
        """Lateral rate along y, m/s."""

    @property
    def z_rate_mps(self) -> float:
        """Lateral rate along z, m/s."""

    @property
    def roll_rate_dps(self) -> float:
        """Roll rate, deg/s."""

    @property
    def pitch_rate_dps(self) -> float:
        """Pitch rate, deg/s."""

    @property
    def yaw_rate_dps(self) -> float:
        """Yaw rate, deg/s."""
