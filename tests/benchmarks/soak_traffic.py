"""What a soak receives: cycles of approach, hold and retreat with every kind of trouble in each.

A cycle of 400 s comes in from 60 m at a rate that ends above the limit, holds, and goes out again.
In it one source falls silent, samples are marked invalid, values freeze, both sources fall silent,
and garbage comes all along. The last minutes are the shipped nominal approach from 20 m, through
contact and capture.
"""

from __future__ import annotations

from collections.abc import Iterator
from heapq import merge
from typing import NamedTuple

import numpy as np

from console.app.input_file import load_limits, load_scenario
from console.core.ids import SourceId
from console.core.records import Heartbeat, Record, RelativeSample
from console.envelope.setup import Setup
from console.simulation.simulate import simulate
from console.wire.encode import encode

CYCLE_S = 400.0
LAST_LEG_S = 420.0
STEP_S = 0.01
FAR_M = 60.0
ACCELERATION_MPS2 = 0.02
PLAN = ((40.0, -0.18), (200.0, 0.0), (40.0, 0.30), (120.0, 0.0))
"""For so many seconds the former rate, then this one, m/s; the first stands still."""

OPTICAL, RADIO = SourceId("optical"), SourceId("radio")
SILENT_S = {OPTICAL: ((70.0, 73.0), (330.0, 338.0)), RADIO: ((150.0, 152.0), (330.0, 338.0))}
INVALID_S = (120.0, 121.0)
FROZEN_S = (300.0, 303.0)
GARBAGE_EVERY_S = 7.0
GARBAGE = (b"", b"\xc1", b'{"seq": 1, "t": NaN}', b"\x81\xa1t\xcb\x7f\xf8\0\0\0\0\0\0", b"[1]")


class Sent(NamedTuple):
    """A message and when it is sent, seconds since the begin; its record where it has one."""

    at_s: float
    topic: bytes
    payload: bytes
    record: Record | None


def traffic(length_s: float, rates_hz: dict[SourceId, float], begin_t: float) -> Iterator[Sent]:
    """Give the messages of a soak, in order.

    Parameters
    ----------
    length_s : float
    rates_hz : dict
        Samples a second of each source.
    begin_t : float
        UTC of the begin; every sample's time is the moment it is sent.
    """
    legs_from_s = last_leg_from_s(length_s)
    streams = [_samples(name, hz, legs_from_s, begin_t) for name, hz in rates_hz.items()]
    yield from merge(*streams, _garbage(legs_from_s), key=lambda sent: sent.at_s)
    if legs_from_s < length_s:
        yield from _last_leg(legs_from_s, begin_t)


def last_leg_from_s(length_s: float) -> float:
    """Give when the last approach begins; a short soak has none."""
    return length_s - LAST_LEG_S if length_s >= 3.0 * LAST_LEG_S else length_s


def _ranges() -> tuple[np.ndarray, np.ndarray]:
    """Give range and range rate over one cycle, every ``STEP_S``."""
    wanted = np.zeros(round(CYCLE_S / STEP_S))
    at_s = 0.0
    for lasts_s, then_mps in PLAN:
        at_s += lasts_s
        wanted[round(at_s / STEP_S) :] = then_mps
    rate = np.empty_like(wanted)
    now = 0.0
    most = ACCELERATION_MPS2 * STEP_S
    for index, target in enumerate(wanted):
        now += float(np.clip(target - now, -most, most))
        rate[index] = now
    return FAR_M + np.cumsum(rate) * STEP_S, rate


def _samples(name: SourceId, hz: float, until_s: float, begin_t: float) -> Iterator[Sent]:
    range_m, rate_mps = _ranges()
    rng = np.random.default_rng(len(name))
    noise = rng.normal(0.0, 1.0, (4096, 7)) * (0.01, 0.002, 0.01, 0.01, 0.08, 0.08, 0.08)
    before = noise[0]
    offset_s = 0.5 / hz if name == RADIO else 0.0
    for seq in range(int(until_s * hz)):
        at_s = seq / hz + offset_s
        cycle_s = at_s % CYCLE_S
        if seq and at_s % 1.0 < 1.0 / hz:
            yield _sent(at_s, Heartbeat(name, begin_t + at_s, seq - 1))
        if any(begin <= cycle_s < end for begin, end in SILENT_S[name]):
            continue
        place = min(int(cycle_s / STEP_S), len(range_m) - 1)
        if not FROZEN_S[0] <= cycle_s < FROZEN_S[1] or name == RADIO:
            sway = np.sin(at_s / 37.0)
            true = (range_m[place], rate_mps[place], 0.05 * sway, -0.05 * sway, 0.2, 0.1, -0.1)
            before = noise[seq % 4096] + true
        is_valid = not INVALID_S[0] <= cycle_s < INVALID_S[1]
        values = [float(value) for value in before]
        yield _sent(at_s, RelativeSample(name, seq, begin_t + at_s, *values, valid=is_valid))


def _sent(at_s: float, record: Record) -> Sent:
    return Sent(at_s, *encode(record), record)


def _garbage(until_s: float) -> Iterator[Sent]:
    for number in range(int(until_s / GARBAGE_EVERY_S)):
        yield Sent(number * GARBAGE_EVERY_S, b"rel/optical", GARBAGE[number % len(GARBAGE)], None)


def _last_leg(from_s: float, begin_t: float) -> Iterator[Sent]:
    flown = simulate(load_scenario("nominal"), load_limits(None), Setup(), 1, 20.0)
    first_s = flown.messages[0].t_publish_s
    for message in flown.messages:
        at_s = from_s + message.t_publish_s - first_s
        if at_s >= from_s + LAST_LEG_S:
            return
        moved = type(message.record)(
            **{
                name: getattr(message.record, name)
                for name in message.record.__struct_fields__
                if name != "t"
            },
            t=message.record.t - first_s + begin_t + from_s,
        )
        yield _sent(at_s, moved)
