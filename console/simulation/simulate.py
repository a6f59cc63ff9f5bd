"""A whole simulated pass: flight, touch, sources, mechanism, and what the link delivers when.

Deterministic: the same scenario, limits, setup and seed give the same messages to the bit, and a
fault leaves the noise of everything it does not touch as it was.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import msgspec
import numpy as np
from numpy.typing import NDArray

from console.core.errors import InputError
from console.core.ids import SourceId
from console.core.records import Heartbeat, Record
from console.envelope.limits import LimitsFile
from console.envelope.setup import Setup
from console.simulation.faults import FaultKind, FaultSpan
from console.simulation.flight import Flight, fly
from console.simulation.mechanism import MECHANISM, missed_statuses, statuses
from console.simulation.pilot import Randomness
from console.simulation.scenario import LONGEST_RANGE_M, Scenario
from console.simulation.sensor import Measured, MeasuredColumns, measure, measure_columns
from console.simulation.touch import (
    REBOUND_S,
    contact_of,
    damped_from,
    is_captured,
    states_after,
)
from console.simulation.truth import STATE_COLUMNS, STEP_S, ContactTruth, Truth

Array = NDArray[np.float64]

STATUS_DELAY_S = 0.2
HEARTBEAT_STEP_S = 1.0
_HEARTBEAT_PHASE_S = 0.5


class Published(msgspec.Struct, frozen=True, gc=False):
    """A record and the time the link delivers it, UTC seconds."""

    t_publish_s: float
    record: Record


@dataclass(frozen=True, slots=True)
class SimulatedPass:
    """What a console would receive, in order of publication, and what really happened."""

    scenario: Scenario
    seed: int
    messages: list[Published]
    truth: Truth


@dataclass(frozen=True, slots=True)
class Observed:
    """What really happened and what each source, in the scenario's order, told of it."""

    truth: Truth
    measured: tuple[MeasuredColumns, ...]


def simulate(
    scenario: Scenario,
    limits: LimitsFile,
    setup: Setup,
    seed: int,
    start_range_m: float | None = None,
) -> SimulatedPass:
    """Simulate one approach.

    Parameters
    ----------
    scenario : Scenario
        Start, steering, sources, faults, capture.
    limits : LimitsFile
        Its glide slope is the planned closing rate where the scenario sets none.
    setup : Setup
        Orbit, port axis and offset.
    seed : int
        >= 0; all randomness comes from it.
    start_range_m : float or None
        True range at the start in place of the scenario's own, m.

    Returns
    -------
    SimulatedPass

    Raises
    ------
    InputError
        The start range is not one to approach from.
    """
    scenario = starting_at(scenario, start_range_m)
    truth, touch = _flown(scenario, limits, setup, seed)
    states = truth.columns()
    messages: list[Published] = []
    for i, sensor in enumerate(scenario.sensors):
        measured = measure(sensor, scenario.start_t, states, truth.faults, _stream(seed, 10 + i))
        messages += _sent(measured)
    if touch is not None:
        capture_seed = _stream(seed, 9)
        messages += _mechanism(scenario, truth, touch, capture_seed)
    messages += _heartbeats(scenario, messages)
    end = max((message.t_publish_s for message in messages), default=scenario.start_t)
    truth = replace(truth, faults=tuple(s for s in truth.faults if s.t_start <= end))
    delivered = [m for m in messages if not _is_lost(m, truth.faults)]
    delivered.sort(key=lambda message: message.t_publish_s)
    return SimulatedPass(scenario, seed, delivered, truth)


def observe(scenario: Scenario, limits: LimitsFile, setup: Setup, seed: int) -> Observed:
    """Simulate one approach, but give what the sources measured as arrays, and nothing else.

    The same samples, to the bit, as :func:`simulate` gives; parameters as there.
    """
    truth, _ = _flown(scenario, limits, setup, seed)
    states = truth.columns()
    measured = []
    for i, sensor in enumerate(scenario.sensors):
        one = measure_columns(
            sensor, scenario.start_t, states, truth.faults, _stream(seed, 10 + i)
        )
        measured.append(_delivered(one, sensor.name, truth.faults))
    return Observed(truth, tuple(measured))


def starting_at(scenario: Scenario, start_range_m: float | None) -> Scenario:
    """Give a scenario with another start range, refused where no approach starts; None: itself."""
    if start_range_m is not None:
        if not 0.0 < start_range_m <= LONGEST_RANGE_M:
            raise InputError.of(
                "start range",
                "",
                f"{start_range_m:g} m",
                f"must be above 0 m and at most {LONGEST_RANGE_M:g} m",
            )
        scenario = replace(scenario, start_range_m=start_range_m)
    return scenario


def _flown(
    scenario: Scenario, limits: LimitsFile, setup: Setup, seed: int
) -> tuple[Truth, Array | None]:
    """Fly; give the truth and the state at contact, if it came."""
    randomness = Randomness(*(np.random.default_rng(_stream(seed, i)) for i in range(3)))
    return _complete(scenario, fly(scenario, limits.glide_slope, setup, randomness))


def _delivered(
    measured: MeasuredColumns, source: SourceId, spans: tuple[FaultSpan, ...]
) -> MeasuredColumns:
    """Leave out what the link loses."""
    kept = np.ones(len(measured.t), dtype=np.bool_)
    publish = measured.t_publish
    for span in spans:
        if span.fault.kind is FaultKind.LINK_LOSS and span.fault.source in (None, source):
            kept &= ~((publish >= span.t_start) & (publish < span.t_end))
    if kept.all():
        return measured
    return MeasuredColumns(
        measured.number[kept],
        measured.t[kept],
        measured.values[kept],
        measured.invalid[kept],
        publish[kept],
    )


def _stream(seed: int, purpose: int) -> np.random.SeedSequence:
    return np.random.SeedSequence(entropy=seed, spawn_key=(purpose,))


def _complete(scenario: Scenario, flight: Flight) -> tuple[Truth, Array | None]:
    """Carry the flight past contact; give the truth and the state at contact, if it came."""
    states, contact, captured, touch = flight.states, None, False, None
    if flight.made_contact:
        contact, touch = contact_of(states, scenario.start_t)
        captured = is_captured(contact)
        states = _with_touch(scenario, states, contact, touch, captured)
    t = scenario.start_t + np.round(np.arange(len(states)) * STEP_S, 6)
    columns = {name: states[:, i] for i, name in enumerate(STATE_COLUMNS)}
    # The link goes on after the last sample, as long as the mechanism reports.
    spans = tuple(
        s for s in flight.spans if s.t_start <= t[-1] or s.fault.kind is FaultKind.LINK_LOSS
    )
    truth = Truth(
        t=t, contact=contact, captured=captured, holds=flight.holds, faults=spans, **columns
    )
    return truth, touch


def _with_touch(
    scenario: Scenario, states: Array, contact: ContactTruth, touch: Array, captured: bool
) -> Array:
    capture = scenario.capture
    lasts = capture.soft_capture_s + capture.samples_s if captured else REBOUND_S
    past_s = (len(states) - 1) * STEP_S - (contact.t - scenario.start_t)
    since_s: Array = past_s + STEP_S * np.arange(math.ceil(lasts / STEP_S) + 1, dtype=np.float64)
    return np.vstack([states[:-1], states_after(touch, capture, captured, since_s)])


def _sent(measured: Measured) -> list[Published]:
    return [
        Published(t, sample)
        for t, sample in zip(measured.t_publish.tolist(), measured.samples, strict=True)
    ]


def _mechanism(
    scenario: Scenario, truth: Truth, touch: Array, seed: np.random.SeedSequence
) -> list[Published]:
    contact = truth.contact
    if contact is None:
        return []
    if truth.captured:
        motion = damped_from(touch, scenario.capture)
        sent = statuses(contact.t, motion, scenario.capture, seed)
    else:
        sent = missed_statuses(contact.t)
    return [Published(status.t + STATUS_DELAY_S, status) for status in sent]


def _heartbeats(scenario: Scenario, messages: list[Published]) -> list[Published]:
    """Give each source's heartbeats, about one a second, to the end of the pass."""
    if not messages:
        return []
    end = max(message.t_publish_s for message in messages)
    out: list[Published] = []
    for source in [*(sensor.name for sensor in scenario.sensors), MECHANISM]:
        out += _heartbeats_of(source, scenario.start_t, end, messages)
    return out


def _heartbeats_of(
    source: SourceId, t0: float, end: float, messages: list[Published]
) -> list[Published]:
    sent = sorted(
        (m.t_publish_s, m.record.seq)
        for m in messages
        if m.record.source == source and not isinstance(m.record, Heartbeat)
    )
    out: list[Published] = []
    highest, i = -1, 0
    for beat in range(math.ceil(end - t0) + 1):
        t = t0 + _HEARTBEAT_PHASE_S + beat * HEARTBEAT_STEP_S
        while i < len(sent) and sent[i][0] <= t:
            highest = max(highest, sent[i][1])
            i += 1
        if highest >= 0:
            out.append(Published(t, Heartbeat(source=source, t=t, last_seq=highest)))
    return out


def _is_lost(message: Published, spans: tuple[FaultSpan, ...]) -> bool:
    return any(
        span.fault.kind is FaultKind.LINK_LOSS
        and span.t_start <= message.t_publish_s < span.t_end
        and span.fault.source in (None, message.record.source)
        for span in spans
    )
