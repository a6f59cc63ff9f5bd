"""The vehicle's true flight to contact: orbit, guidance, thruster pulses, attitude.

Thrusters fire at most once a control cycle of 1 s; in between the vehicle coasts in its orbit,
so each cycle is one exact transition, and the ``STEP_S`` grid inside it is filled in afterwards
for all cycles at once.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from console.envelope.limits import GlideSlope
from console.envelope.setup import Setup
from console.simulation.coast import CYCLE_S, STEPS_A_CYCLE, Coast
from console.simulation.faults import VEHICLE_KINDS, Fault, FaultSpan
from console.simulation.pilot import Pilot, Randomness
from console.simulation.scenario import Scenario
from console.simulation.truth import STEP_S, HoldSpan

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Flight:
    """The flight on the truth grid, from the start to contact or the end.

    Attributes
    ----------
    states : ndarray, shape (n, 12)
        Columns as ``truth.STATE_COLUMNS``; the last row is the first at or behind contact.
    """

    states: Array
    made_contact: bool
    holds: tuple[HoldSpan, ...]
    spans: tuple[FaultSpan, ...]


def fly(scenario: Scenario, glide_slope: GlideSlope, setup: Setup, random: Randomness) -> Flight:
    """Fly an approach to contact, or until the vehicle is to stay where it is.

    Parameters
    ----------
    scenario : Scenario
        Start, steering, holds, orders and the vehicle's faults.
    glide_slope : GlideSlope
        Planned closing rate where the scenario sets none.
    setup : Setup
        Orbit, port axis and port offset.
    random : Randomness
        Generators for the navigation's error, the thrusters and the attitude.
    """
    orbit = Coast(setup)
    pilot = Pilot(scenario, glide_slope, random, orbit)
    states: list[list[float]] = []
    pushes: list[list[float]] = []
    turns: list[list[float]] = []
    state = pilot.start()
    t_s = 0.0
    while state[0] > 0.0 and t_s < scenario.longest_s and not pilot.guidance.is_over(t_s):
        push = pilot.cycle(t_s, state)
        states.append(list(state))
        pushes.append(push)
        turns.append([*pilot.attitude.angles_deg, *pilot.attitude.rates_dps])
        state = orbit.on(state, push)
        pilot.attitude.turn(CYCLE_S)
        t_s += CYCLE_S
    last = [*state, *pilot.attitude.angles_deg, *pilot.attitude.rates_dps]
    dense = np.vstack([_dense(orbit, states, pushes, turns), last])
    behind = np.flatnonzero(dense[:, 0] <= 0.0)
    made_contact = behind.size > 0
    if made_contact:
        dense = dense[: int(behind[0]) + 1]
    spans = fault_spans(scenario, dense[:, 0], pilot.fault_spans)
    return Flight(dense, made_contact, pilot.guidance.spans(scenario.start_t), spans)


def _dense(
    orbit: Coast, states: list[list[float]], pushes: list[list[float]], turns: list[list[float]]
) -> Array:
    """Fill in the truth grid between the cycles' beginnings, shape (n, 12)."""
    within = np.arange(STEPS_A_CYCLE) * STEP_S
    begun = np.asarray(states).reshape(-1, 6)
    moved = np.einsum("jab,kb->kja", orbit.matrices, begun) + orbit.constants
    moved += np.einsum("jab,kb->kja", orbit.responses, np.asarray(pushes).reshape(-1, 3))
    turn = np.asarray(turns).reshape(-1, 6)
    angles = turn[:, None, :3] + within[None, :, None] * turn[:, None, 3:]
    rates = np.broadcast_to(turn[:, None, 3:], angles.shape)
    dense = np.concatenate([moved, angles, rates], axis=2)
    return np.asarray(dense.reshape(-1, 12))


def fault_spans(
    scenario: Scenario, range_m: Array, of_vehicle: Mapping[int, tuple[float, float]]
) -> tuple[FaultSpan, ...]:
    """Give each fault of a scenario with the time it really stood.

    Parameters
    ----------
    scenario : Scenario
        Whose faults.
    range_m : ndarray, shape (n,)
        True range on the truth grid, m.
    of_vehicle : mapping
        Begin and end of the vehicle's own faults as they were flown, s, by number.

    Returns
    -------
    tuple of FaultSpan
        In the scenario's order; a fault that never came has no span.
    """
    spans = []
    for number, fault in enumerate(scenario.faults):
        is_flown = fault.kind in VEHICLE_KINDS
        span = of_vehicle.get(number) if is_flown else _span_of(fault, range_m)
        if span is not None:
            start_s, end_s = span
            if is_flown and math.isfinite(end_s):
                end_s = math.ceil(end_s / CYCLE_S) * CYCLE_S  # the pilot looks once a cycle
            t0 = scenario.start_t
            spans.append(FaultSpan(fault, t0 + start_s, t0 + end_s))
    return tuple(spans)


def _span_of(fault: Fault, range_m: Array) -> tuple[float, float] | None:
    """Give when a fault of a source or the link begins and ends, s; None where it never does."""
    start = math.ceil((fault.at_s or 0.0) / STEP_S)
    if fault.at_range_m is not None:
        reached = _first_row(fault.at_range_m, range_m)
        if reached is None:
            return None
        start = reached
    end_s = start * STEP_S + fault.for_s
    if fault.until_range_m is not None:
        until = _first_row(fault.until_range_m, range_m[start:])
        if until is not None:
            end_s = min(end_s, (start + until) * STEP_S)
    return (start * STEP_S, end_s) if end_s > start * STEP_S else None


def _first_row(limit_m: float, range_m: Array) -> int | None:
    """Give the first row at or inside a range; None where there is none."""
    there = np.flatnonzero(range_m <= limit_m)
    return int(there[0]) if there.size else None
