"""The vehicle's pilot: guidance, navigation error, thrusters and attitude, cycle by cycle.

One pulse an axis at most in each control cycle of 1 s, in whole minimum impulse bits.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from console.envelope.limits import GlideSlope
from console.simulation.attitude import AXES, Attitude
from console.simulation.coast import CYCLE_S, Coast
from console.simulation.faults import VEHICLE_KINDS, Channel, Fault, FaultKind
from console.simulation.guidance import Guidance, closing_law
from console.simulation.scenario import Scenario

LATERAL_LEAD_S = 25.0
LATERAL_RATE_LIMIT_MPS = 0.05
STEADY_PUSH_MPS2 = 5e-5
_AXIS_OF = {Channel.RANGE: 0, Channel.Y: 1, Channel.Z: 2}


@dataclass(frozen=True, slots=True)
class Randomness:
    """Generators of the flight, one for each purpose."""

    navigation: np.random.Generator
    thrust: np.random.Generator
    attitude: np.random.Generator


class _FaultClock:
    """When the vehicle's own faults stand, cycle by cycle."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        self._waiting = {
            number: fault for number, fault in enumerate(faults) if fault.kind in VEHICLE_KINDS
        }
        self._standing: dict[int, tuple[Fault, float]] = {}
        self.spans: dict[int, tuple[float, float]] = {}
        """From when to when each fault stood so far, by its number, s; an end to come as told."""

    def update(self, t_s: float, x_m: float) -> None:
        for number, fault in tuple(self._waiting.items()):
            by_range = fault.at_range_m is not None and x_m <= fault.at_range_m
            by_time = t_s >= (fault.at_s or 0.0) and fault.at_range_m is None
            if by_range or by_time:
                del self._waiting[number]
                self._standing[number] = fault, t_s
                self.spans[number] = t_s, t_s + fault.for_s
        for number, (fault, since) in tuple(self._standing.items()):
            if t_s < since + fault.for_s and x_m > _until_m(fault):
                continue
            del self._standing[number]
            if t_s > since:
                self.spans[number] = since, t_s
            else:
                del self.spans[number]

    def sizes(self, kind: FaultKind, channel: Channel | None = None) -> list[float]:
        """Give the sizes of all that stand of a kind, on an axis where it has one."""
        return [
            fault.size
            for fault, _ in self._standing.values()
            if fault.kind is kind and fault.channel in (None, channel)
        ]

    def newest(self, kind: FaultKind, channel: Channel) -> tuple[int, float] | None:
        """Give number and size of the one that began last, None where none stands."""
        mine = [
            (since, number, fault.size)
            for number, (fault, since) in self._standing.items()
            if fault.kind is kind and fault.channel is channel
        ]
        return max(mine)[1:] if mine else None


def _until_m(fault: Fault) -> float:
    return -math.inf if fault.until_range_m is None else fault.until_range_m


class _Thrusters:
    """Pulses in whole minimum impulse bits, each with its own error."""

    def __init__(self, scenario: Scenario, rng: np.random.Generator) -> None:
        steering = scenario.steering
        self._bit_mps = steering.pulse_mps
        self._limit_mps = steering.pulse_limit_mps
        self._noise = steering.thrust_noise
        cycles = math.ceil(scenario.longest_s / CYCLE_S) + 1
        self._errors: list[float] = rng.standard_normal(3 * cycles).tolist()
        self._next = 0

    def rest(self) -> None:
        """Fire nothing, and leave the errors of all other pulses as they are."""
        self._next += 1

    def fire(self, wanted_mps: float, deadband_mps: float) -> float:
        """Give the velocity change for a wanted one; nothing inside the dead band."""
        error = self._errors[self._next]
        self._next += 1
        if abs(wanted_mps) <= deadband_mps:
            return 0.0
        pulse = self._bit_mps * max(round(abs(wanted_mps) / self._bit_mps), 1)
        pulse = min(pulse, self._limit_mps) * (1.0 + self._noise * error)
        return math.copysign(pulse, wanted_mps)


class Pilot:
    """Guidance, navigation error, thrusters and attitude of one flight."""

    def __init__(
        self, scenario: Scenario, glide_slope: GlideSlope, random: Randomness, orbit: Coast
    ) -> None:
        self._orbit = orbit
        self._scenario = scenario
        self._steering = scenario.steering
        self._law = closing_law(scenario.steering, glide_slope)
        self.guidance = Guidance(scenario, self._law)
        self._faults = _FaultClock(scenario.faults)
        self._thrusters = _Thrusters(scenario, random.thrust)
        draws = random.navigation.standard_normal(6)
        self._nav_m: list[float] = (draws[:3] * self._steering.nav_offset_m).tolist()
        self._nav_mps: list[float] = (draws[3:] * self._steering.nav_rate_offset_mps).tolist()
        rng = random.attitude
        bands = rng.uniform(*self._steering.attitude_deadband_deg, 3)
        self.attitude = Attitude(
            (rng.uniform(-0.8, 0.8, 3) * bands).tolist(),
            rng.uniform(-0.01, 0.01, 3).tolist(),
            bands.tolist(),
        )
        cycles = math.ceil(scenario.longest_s / CYCLE_S) + 1
        self._kicks: list[tuple[float, float, float]] = [
            (row[0], row[1], row[2]) for row in rng.standard_normal((cycles, 3)).tolist()
        ]
        self._drifting: dict[Channel, int] = {}

    @property
    def fault_spans(self) -> Mapping[int, tuple[float, float]]:
        """From when to when each of the vehicle's own faults stood, s, by its number.

        One that still stands ends when it was to end; one that never came is not there.
        """
        return self._faults.spans

    def start(self) -> list[float]:
        """Give position and velocity at the start, port frame."""
        scenario = self._scenario
        y_m, z_m = scenario.start_y_m, scenario.start_z_m
        standing = self.guidance.standing_at_m
        if standing is not None:
            return [standing, y_m, z_m, 0.0, 0.0, 0.0]
        ranges = self._law.ranges_m
        speed = self._law.at(min(max(scenario.start_range_m, ranges[0]), ranges[-1])) or 0.0
        return [scenario.start_range_m, y_m, z_m, -speed, 0.0, 0.0]

    def cycle(self, t_s: float, state: list[float]) -> list[float]:
        """Fire this cycle's pulses into the state's velocity; give the steady push, m/s^2."""
        faults = self._faults
        faults.update(t_s, state[0])
        self._steer_axially(t_s, state)
        self._steer_sideways(state, 1, Channel.Y)
        self._steer_sideways(state, 2, Channel.Z)
        runaway: list[float | None] = [None, None, None]
        for i, axis in enumerate(AXES):
            if sizes := faults.sizes(FaultKind.ATTITUDE_RUNAWAY, axis):
                runaway[i] = sum(sizes)
        self.attitude.control(self._kicks[round(t_s)], tuple(runaway))
        push = [0.0, 0.0, 0.0]
        for channel, i in _AXIS_OF.items():
            push[i] = sum(faults.sizes(FaultKind.THRUSTER_STUCK, channel), 0.0)
        return push

    def _steer_axially(self, t_s: float, state: list[float]) -> None:
        faults = self._faults
        factor = math.prod(faults.sizes(FaultKind.FAST_CLOSING))
        least = max(faults.sizes(FaultKind.LATE_BRAKING), default=0.0)
        x_m = state[0] + self._nav_m[0]
        v_mps = state[3] + self._nav_mps[0]
        wanted = self.guidance.command(t_s, x_m, v_mps, factor, least)
        state[3] += self._thrusters.fire(wanted - v_mps, self._steering.rate_deadband_mps)

    def _steer_sideways(self, state: list[float], i: int, channel: Channel) -> None:
        drift = self._faults.newest(FaultKind.LATERAL_DRIFT, channel)
        if drift is not None:
            number, rate_mps = drift
            if self._drifting.get(channel) != number:
                self._drifting[channel] = number
                state[3 + i] = rate_mps
            self._thrusters.rest()
            return
        self._drifting.pop(channel, None)
        home = (state[i] + self._nav_m[i]) / LATERAL_LEAD_S
        home = max(-LATERAL_RATE_LIMIT_MPS, min(home, LATERAL_RATE_LIMIT_MPS))
        band = self._steering.lateral_deadband_mps
        switch = home + state[3 + i] + self._nav_mps[i]
        # Against the orbit's own steady push the pulse goes to the far side of the band, so
        # that the limit cycle stays centred on the axis.
        push = self._orbit.push(state)[i]
        if abs(push) > STEADY_PUSH_MPS2 and push * switch > 0.0 and abs(switch) > band:
            switch += math.copysign(band, switch)
        state[3 + i] += self._thrusters.fire(-switch, band)
