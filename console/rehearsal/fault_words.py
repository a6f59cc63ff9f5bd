"""A fault in words, for lists and reports."""

from __future__ import annotations

from console.simulation.faults import Channel, Fault, FaultKind

KIND_WORDS = {
    FaultKind.DROPOUT: "drop-out",
    FaultKind.INVALID: "samples flagged invalid",
    FaultKind.FREEZE: "frozen values",
    FaultKind.BIAS: "bias",
    FaultKind.SCALE: "scale error",
    FaultKind.OUTLIERS: "outliers",
    FaultKind.NOISE: "noise",
    FaultKind.LATE: "late data",
    FaultKind.LINK_LOSS: "link loss",
    FaultKind.THRUSTER_STUCK: "thruster stuck on",
    FaultKind.LATERAL_DRIFT: "lateral drift",
    FaultKind.ATTITUDE_RUNAWAY: "attitude build-up",
    FaultKind.FAST_CLOSING: "closing too fast",
    FaultKind.LATE_BRAKING: "late braking",
}

CHANNEL_UNIT = {
    Channel.RANGE: "m", Channel.Y: "m", Channel.Z: "m",
    Channel.RANGE_RATE: "m/s", Channel.Y_RATE: "m/s", Channel.Z_RATE: "m/s",
    Channel.ROLL: "deg", Channel.PITCH: "deg", Channel.YAW: "deg",
    Channel.ROLL_RATE: "deg/s", Channel.PITCH_RATE: "deg/s", Channel.YAW_RATE: "deg/s",
}  # fmt: skip

_KIND_UNIT = {
    FaultKind.LATE: "s",
    FaultKind.THRUSTER_STUCK: "m/s²",
    FaultKind.LATERAL_DRIFT: "m/s",
    FaultKind.ATTITUDE_RUNAWAY: "deg/s²",
    FaultKind.FAST_CLOSING: "times the plan",
    FaultKind.LATE_BRAKING: "m/s",
    FaultKind.NOISE: "times as much",
}


def size_unit(kind: FaultKind, channel: Channel | None) -> str:
    """Give the unit of a fault's size; empty where it is a plain share or none."""
    if kind is FaultKind.BIAS and channel is not None:
        return CHANNEL_UNIT[channel]
    return _KIND_UNIT.get(kind, "")


def fault_words(fault: Fault) -> str:
    """Word a fault: ``bias of optical, range, +0.5 m``."""
    words = KIND_WORDS[fault.kind]
    if fault.source is not None:
        words += f" of {fault.source}"
    if fault.channel is not None:
        name = fault.channel.value.rsplit("_", 1)[0].replace("_", " ")
        words += f", {name}"
    if fault.size:
        sign = "+" if fault.kind is FaultKind.BIAS and fault.size > 0.0 else ""
        number = f"{fault.size:g}".replace("-", "−")
        words += f", {sign}{number} {size_unit(fault.kind, fault.channel)}".rstrip()
    return words
