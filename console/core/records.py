"""What comes over the wire, once it is validated.

The records are msgspec structs, frozen: they are made for each of thousands of samples a second,
and a struct costs a fraction of a dataclass. A record that exists is valid: only the decoders in
``wire`` and the simulation make them.
"""

from __future__ import annotations

from typing import TypeAlias

import msgspec

from console.core.ids import SourceId


class RelativeSample(msgspec.Struct, frozen=True, gc=False):
    """One relative-navigation measurement in the port frame.

    Attributes
    ----------
    source : SourceId
        Who measured.
    seq : int
        Counter of the source, +1 a sample.
    t : float
        Time of measurement, UTC seconds since 1970.
    range_m : float
        Axial distance between the contact planes, positive before contact.
    range_rate_mps : float
        d(range)/dt, negative while closing.
    y_m, z_m : float
        Lateral position of the interface centre.
    roll_deg, pitch_deg, yaw_deg : float
        Misalignment, yaw about z, then pitch about y', then roll about x''.
    y_rate_mps, z_rate_mps, roll_rate_dps, pitch_rate_dps, yaw_rate_dps : float or None
        Rates; None where the source does not send them.
    valid : bool
        The sensor's own flag.
    """

    source: SourceId
    seq: int
    t: float
    range_m: float
    range_rate_mps: float
    y_m: float
    z_m: float
    roll_deg: float
    pitch_deg: float
    yaw_deg: float
    y_rate_mps: float | None = None
    z_rate_mps: float | None = None
    roll_rate_dps: float | None = None
    pitch_rate_dps: float | None = None
    yaw_rate_dps: float | None = None
    valid: bool = True


class CaptureStatus(msgspec.Struct, frozen=True, gc=False):
    """State of the docking mechanism and vestibule; every field but seq and t may be absent."""

    source: SourceId
    seq: int
    t: float
    contact: bool | None = None
    soft_capture: bool | None = None
    ring_extension: float | None = None
    ready_to_hook: tuple[bool, ...] | None = None
    hooks: tuple[float, ...] | None = None
    hard_capture: bool | None = None
    vestibule_kpa: float | None = None
    vestibule_degc: float | None = None
    rel_rate_mps: float | None = None
    rel_rate_dps: float | None = None


class Heartbeat(msgspec.Struct, frozen=True, gc=False):
    """A source's word that it lives, with the last sequence number it published."""

    source: SourceId
    t: float
    last_seq: int


Record: TypeAlias = RelativeSample | CaptureStatus | Heartbeat


class Frame(msgspec.Struct, frozen=True, gc=False):
    """Raw bytes as they came off the link; the authoritative content of a recording."""

    t_received_s: float
    topic: bytes
    payload: bytes
