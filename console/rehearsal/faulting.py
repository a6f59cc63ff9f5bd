"""Faults played into an approach: into a scenario's own list, or into a recorded pass's stream.

A scenario is simulated with them. A recorded pass is what it is: its sensors and its link can
fail once more, its vehicle cannot, since nobody knows where it would have gone.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right, insort
from collections.abc import Iterable, Sequence
from dataclasses import replace

import msgspec
import numpy as np

from console.core.ids import SourceId
from console.core.records import Heartbeat, Record, RelativeSample
from console.envelope.setup import Setup
from console.simulation.faults import VEHICLE_KINDS, Fault, FaultKind, FaultSpan
from console.simulation.scenario import Scenario
from console.simulation.sensor import CHANNELS, FAULT_OUTLIER_SIGMA, sigmas
from console.simulation.simulate import Published
from console.wire.sequence import ArrivalKind, SequenceBook


def with_faults(scenario: Scenario, faults: Sequence[Fault]) -> Scenario:
    """Give a scenario with more faults behind its own."""
    return replace(scenario, faults=(*scenario.faults, *faults))


def refusal_for_pass(fault: Fault) -> str:
    """Say why a fault cannot be played into a recorded pass; empty where it can."""
    if fault.kind in VEHICLE_KINDS:
        return f"{fault.kind.value} needs a simulated vehicle, and a recorded pass has none"
    if fault.kind is FaultKind.NOISE:
        return "noise needs the true state, and a recorded pass has none"
    return ""


def spoil(
    messages: Sequence[Published],
    faults: Sequence[Fault],
    setup: Setup,
    rng: np.random.Generator,
) -> tuple[list[Published], tuple[FaultSpan, ...]]:
    """Play sensor and link faults into a recorded pass.

    Parameters
    ----------
    messages : sequence of Published
        The untouched pass, in order of delivery.
    faults : sequence of Fault
        Of kinds :func:`refusal_for_pass` lets through.
    setup : Setup
        Noise of the sources, for the size of outliers.
    rng : numpy.random.Generator
        Draws which values are hit by outliers.

    Returns
    -------
    messages : list of Published
        What is delivered instead, in order of delivery.
    spans : tuple of FaultSpan
        The faults that came, with their times, in the order of ``faults``.
    """
    spans = fault_spans(messages, faults)
    spoiled: list[Published] = []
    frozen: dict[SourceId, dict[int, RelativeSample]] = {}
    newest: dict[SourceId, RelativeSample] = {}
    book = SequenceBook()
    dropped: dict[SourceId, list[int]] = {}
    for message in messages:
        source = message.record.source
        draws, is_repeated = None, False
        if isinstance(message.record, RelativeSample):
            # every sample draws, so that one fault does not change the chances of another
            draws = rng.random(len(CHANNELS))
            arrival = book.accept(message.record).kind
            is_repeated = arrival is ArrivalKind.DUPLICATE
            if arrival is ArrivalKind.RESTART:  # a new run counts from its own begin
                dropped.pop(source, None)
        if _is_lost(message, spans):
            continue
        record, late_s = message.record, 0.0
        if isinstance(record, RelativeSample) and draws is not None:
            mine = [s for s in spans if s.fault.concerns(source) and _stands(s, record.t)]
            if any(s.fault.kind is FaultKind.DROPOUT for s in mine):
                if not is_repeated:
                    insort(dropped.setdefault(source, []), record.seq)
                continue
            held = frozen.setdefault(source, {})
            for number, span in enumerate(spans):
                if span.fault.kind is FaultKind.FREEZE and span in mine:
                    held.setdefault(number, newest.get(source, record))
            late_s = sum(s.fault.size for s in mine if s.fault.kind is FaultKind.LATE)
            frozen_by = [(s, held[n]) for n, s in enumerate(spans) if n in held and s in mine]
            record = _spoiled(record, mine, frozen_by, draws, setup)
            newest[source] = record
        counted = _counted(record, dropped.get(source, ()))
        spoiled.append(Published(message.t_publish_s + late_s, counted))
    spoiled.sort(key=lambda message: message.t_publish_s)
    return spoiled, spans


def fault_spans(messages: Sequence[Published], faults: Iterable[Fault]) -> tuple[FaultSpan, ...]:
    """Give each fault with the time it stands; one that never comes has no span.

    A range is reached when the first valid sample of any source lies at it or inside; where a
    fault ends at one, the first from its begin on.
    """
    if not messages:
        return ()
    samples = [
        (m.record.t, m.record.range_m)
        for m in messages
        if isinstance(m.record, RelativeSample) and m.record.valid
    ]
    begin_s = min([messages[0].t_publish_s, *(t for t, _ in samples[:1])])
    spans = []
    for fault in faults:
        start = begin_s + (fault.at_s or 0.0)
        if fault.at_range_m is not None:
            reached = _first_inside(samples, fault.at_range_m, -math.inf)
            if reached is None:
                continue
            start = reached
        end = start + fault.for_s
        if fault.until_range_m is not None:
            end = min(end, _first_inside(samples, fault.until_range_m, start) or math.inf)
        if start < end and start <= messages[-1].t_publish_s:
            spans.append(FaultSpan(fault, start, end))
    return tuple(spans)


def _first_inside(
    samples: Sequence[tuple[float, float]], range_m: float, from_s: float
) -> float | None:
    return next((t for t, at_m in samples if t >= from_s and at_m <= range_m), None)


def _stands(span: FaultSpan, t: float) -> bool:
    return span.t_start <= t < span.t_end


def _is_lost(message: Published, spans: Sequence[FaultSpan]) -> bool:
    return any(
        span.fault.kind is FaultKind.LINK_LOSS
        and _stands(span, message.t_publish_s)
        and span.fault.source in (None, message.record.source)
        for span in spans
    )


def _counted(record: Record, dropped: Sequence[int]) -> Record:
    """Take what was never measured, numbers in order, out of a source's counter."""
    if not dropped:
        return record
    if isinstance(record, Heartbeat):
        last_seq = record.last_seq - bisect_right(dropped, record.last_seq)
        return msgspec.structs.replace(record, last_seq=max(last_seq, 0))
    if isinstance(record, RelativeSample):
        return msgspec.structs.replace(record, seq=record.seq - bisect_left(dropped, record.seq))
    return record


def _spoiled(
    record: RelativeSample,
    mine: Sequence[FaultSpan],
    frozen_by: Sequence[tuple[FaultSpan, RelativeSample]],
    draws: np.ndarray,
    setup: Setup,
) -> RelativeSample:
    """Give a sample as it is sent: outliers, scale and bias, then what is frozen."""
    values = {channel: getattr(record, channel.value) for channel in CHANNELS}
    sigma = sigmas(setup.noise(record.source), np.array([record.range_m]))[0]
    for span in mine:
        fault = span.fault
        for place, channel in enumerate(CHANNELS):
            before = values[channel]
            if before is None or fault.channel not in (None, channel):
                continue
            if fault.kind is FaultKind.BIAS:
                values[channel] = before + fault.size
            elif fault.kind is FaultKind.SCALE:
                values[channel] = before * (1.0 + fault.size)
            elif fault.kind is FaultKind.OUTLIERS and draws[place] < fault.size:
                sign = 1.0 if draws[place] < fault.size / 2.0 else -1.0
                values[channel] = before + sign * FAULT_OUTLIER_SIGMA * float(sigma[place])
    for span, held in frozen_by:
        for channel in CHANNELS:
            if span.fault.channel in (None, channel):
                values[channel] = getattr(held, channel.value)
    is_valid = record.valid and all(s.fault.kind is not FaultKind.INVALID for s in mine)
    changed = {channel.value: value for channel, value in values.items()}
    return msgspec.structs.replace(record, valid=is_valid, **changed)
