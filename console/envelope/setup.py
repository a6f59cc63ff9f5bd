"""The setup file as values: orbit, port, holds, sources, and what else is not a limit.

Reading and checking TOML is ``envelope.setup_reading``; every field has the documented default.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from console.core.ids import SourceId


class PortAxis(StrEnum):
    """Where the port looks: along the velocity (V) or the radius (R); R+ is toward the Earth."""

    V_PLUS = "V+"
    V_MINUS = "V-"
    R_PLUS = "R+"
    R_MINUS = "R-"


@dataclass(frozen=True, slots=True)
class Orbit:
    """A circular orbit, or the name of an orbit message that replaces it.

    The altitude alone tells how long a revolution is, which is all that relative motion needs.
    Light needs to know how the orbit lies in space: the four other values, all or none, in the
    mean equator and equinox of date.
    """

    altitude_km: float = 420.0
    omm_file: str | None = None
    inclination_deg: float | None = None
    raan_deg: float | None = None
    """Right ascension of the ascending node at the epoch."""
    arglat_deg: float | None = None
    """Argument of latitude at the epoch: angle along the orbit from the ascending node."""
    epoch_s: float | None = None
    """UTC seconds since 1970."""


@dataclass(frozen=True, slots=True)
class Port:
    """The port's direction in the local orbital frame and its offset from the centre of mass.

    ``offset_m`` holds the two components along V and R (R toward the Earth), m;
    ``offset_across_m`` the third, along H = R x V (minus the orbit normal). A setup file gives
    all three as ``[V, H, R]``.
    """

    axis: PortAxis = PortAxis.V_PLUS
    offset_m: tuple[float, float] = (0.0, 0.0)
    offset_across_m: float = 0.0


@dataclass(frozen=True, slots=True)
class LinearSigma:
    """A 1-sigma that grows with range: ``at_zero + per_m * range``."""

    at_zero: float
    per_m: float = 0.0

    def at(self, range_m: float) -> float:
        """Give the 1-sigma at a range (its size counts, so that contact is no special case)."""
        return self.at_zero + self.per_m * abs(range_m)


@dataclass(frozen=True, slots=True)
class SourceNoise:
    """White 1-sigma and fixed bias of a source; the defaults are those of an optical sensor."""

    range_m: LinearSigma = LinearSigma(0.02, 0.001)
    lateral_m: LinearSigma = LinearSigma(0.005, 0.0008)
    range_rate_mps: LinearSigma = LinearSigma(0.004, 4e-5)
    lateral_rate_mps: LinearSigma = LinearSigma(0.003, 4e-5)
    angle_deg: LinearSigma = LinearSigma(0.1, 0.002)
    angle_rate_dps: LinearSigma = LinearSigma(0.01, 0.0)
    range_bias_m: float = 0.02
    lateral_bias_m: float = 0.01
    range_rate_bias_mps: float = 0.001
    lateral_rate_bias_mps: float = 0.0007


@dataclass(frozen=True, slots=True)
class Retreat:
    """An ordered retreat: how fast the vehicle backs out and to which range."""

    rate_mps: float = 0.2
    to_m: float = 20.0


@dataclass(frozen=True, slots=True)
class Camera:
    """The vehicle's camera that looks along the docking axis, as far as the Sun dazzles it.

    No standard value is known; the defaults are this project's own.
    """

    half_field_deg: float = 20.0
    baffle_deg: float = 10.0
    """Margin outside the field of view within which the Sun still spoils the picture."""


@dataclass(frozen=True, slots=True)
class Vestibule:
    """The volume that is leak-checked after hard capture."""

    volume_m3: float = 1.0
    leak_limit_pa_per_h: float = 20.0
    sensor_lag_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Setup:
    """Everything about a watch that is neither a limit nor a sample."""

    orbit: Orbit = Orbit()
    port: Port = Port()
    keep_out_radius_m: float = 200.0
    holds_m: tuple[float, ...] = (200.0, 20.0)
    retreat: Retreat = Retreat()
    sources: dict[SourceId, SourceNoise] = field(default_factory=dict)
    vestibule: Vestibule = Vestibule()
    ground_holds_authority: bool = True
    withdraw_s: float = 20.0
    sha256: str = ""
    text: str = ""
    camera: Camera = Camera()

    def noise(self, source: SourceId) -> SourceNoise:
        """Give a source's noise, the default for one the file does not name."""
        return self.sources.get(source, SourceNoise())
