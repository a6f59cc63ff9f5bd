"""Read one fault of a scenario: each kind says what its size means and where it can act."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from console.core.ids import SourceId
from console.envelope.physical import DISTANCE_M, DURATION_S, SIZE, WAIT_S
from console.envelope.strict_table import Table, words_of
from console.envelope.strict_value import Bounds
from console.simulation.faults import Channel, Fault, FaultKind

SIGNED = Bounds(least=-10_000.0, most=10_000.0)
PUSH = Bounds(least=-10.0, most=10.0)
"""Of what moves the vehicle itself: m/s, m/s^2 or deg/s^2."""
TIMES = Bounds(above=0.0, most=100.0)
LATE_S = Bounds(above=0.0, most=3600.0)
ANY_CHANNEL = tuple(Channel)
LATERAL = (Channel.Y, Channel.Z)
ANGLES = (Channel.ROLL, Channel.PITCH, Channel.YAW)


@dataclass(frozen=True, slots=True)
class FaultRule:
    """What a kind of fault takes.

    Attributes
    ----------
    size : Bounds or None
        Of its size; None: it has none.
    channels : tuple of Channel
        Where it can act; empty: it has no channel.
    needs_channel : bool
        Whether one must be named.
    of_source : bool
        Whether it can be one source's alone.
    """

    size: Bounds | None = None
    channels: tuple[Channel, ...] = ()
    needs_channel: bool = False
    of_source: bool = False


RULES: Mapping[FaultKind, FaultRule] = {
    FaultKind.DROPOUT: FaultRule(of_source=True),
    FaultKind.INVALID: FaultRule(of_source=True),
    FaultKind.FREEZE: FaultRule(channels=ANY_CHANNEL, of_source=True),
    FaultKind.BIAS: FaultRule(SIGNED, ANY_CHANNEL, needs_channel=True, of_source=True),
    FaultKind.SCALE: FaultRule(
        Bounds(above=-1.0, most=10.0), ANY_CHANNEL, needs_channel=True, of_source=True
    ),
    FaultKind.OUTLIERS: FaultRule(Bounds(above=0.0, most=1.0), ANY_CHANNEL, of_source=True),
    FaultKind.NOISE: FaultRule(TIMES, ANY_CHANNEL, of_source=True),
    FaultKind.LATE: FaultRule(LATE_S, of_source=True),
    FaultKind.LINK_LOSS: FaultRule(of_source=True),
    FaultKind.THRUSTER_STUCK: FaultRule(PUSH, (Channel.RANGE, *LATERAL), needs_channel=True),
    FaultKind.LATERAL_DRIFT: FaultRule(PUSH, LATERAL, needs_channel=True),
    FaultKind.ATTITUDE_RUNAWAY: FaultRule(PUSH, ANGLES, needs_channel=True),
    FaultKind.FAST_CLOSING: FaultRule(TIMES),
    FaultKind.LATE_BRAKING: FaultRule(Bounds(above=0.0, most=10.0)),
}


def read_fault(table: Table, sources: tuple[SourceId, ...]) -> Fault:
    """Read one ``[[fault]]``.

    Parameters
    ----------
    table : Table
        Where it stands.
    sources : tuple of SourceId
        Names of the scenario's sources.
    """
    kind = table.choice("kind", words_of(FaultKind))
    rule = RULES[kind]
    at_range_m = table.number_or_none("at_range_m", DISTANCE_M)
    at_s = table.number_or_none("at_s", WAIT_S)
    if at_range_m is not None and at_s is not None:
        table.refuse("at_s", "stands beside at_range_m", "give one of the two")
    return Fault(
        kind,
        at_range_m=at_range_m,
        at_s=at_s,
        for_s=table.number("for_s", math.inf, DURATION_S),
        until_range_m=table.number_or_none("until_range_m", SIZE),
        size=_size(table, kind, rule),
        source=_source(table, kind, rule, sources),
        channel=_channel(table, kind, rule),
    )


def _size(table: Table, kind: FaultKind, rule: FaultRule) -> float:
    if rule.size is not None:
        return table.number("size", bounds=rule.size)
    if table.has("size"):
        table.refuse("size", f"a fault {kind.value} has none", "leave it out")
    return 0.0


def _source(
    table: Table, kind: FaultKind, rule: FaultRule, sources: tuple[SourceId, ...]
) -> SourceId | None:
    if not table.has("source"):
        return None
    if not rule.of_source:
        table.refuse("source", f"a fault {kind.value} is not of a source", "leave it out")
        return None
    return table.choice("source", {name: name for name in sources}) if sources else None


def _channel(table: Table, kind: FaultKind, rule: FaultRule) -> Channel | None:
    if not rule.channels:
        if table.has("channel"):
            table.refuse("channel", f"a fault {kind.value} has none", "leave it out")
        return None
    if not rule.needs_channel and not table.has("channel"):
        return None
    return table.choice("channel", {channel.value: channel for channel in rule.channels})
