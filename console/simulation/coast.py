"""The orbit's transition over one control cycle, port frame: exact between thruster pulses."""

from __future__ import annotations

import numpy as np

from console.envelope.setup import Setup
from console.motion.orbit import mean_motion_of_altitude
from console.motion.port_axes import Offset, port_forced_response, port_transition
from console.simulation.truth import STEP_S

CYCLE_S = 1.0
STEPS_A_CYCLE = round(CYCLE_S / STEP_S)


class Coast:
    """The orbit's transition over one cycle and over each step inside it, port frame."""

    def __init__(self, setup: Setup) -> None:
        n = mean_motion_of_altitude(setup.orbit.altitude_km)
        axis, offset = setup.port.axis, port_offset(setup)
        within = np.arange(STEPS_A_CYCLE) * STEP_S
        self.matrices, self.constants = port_transition(axis, offset, n, within)
        self.responses = port_forced_response(axis, n, within)
        matrix, constant = port_transition(axis, offset, n, CYCLE_S)
        self._rows: list[list[float]] = matrix.tolist()
        self._constant: list[float] = constant.tolist()
        # What a state gains in velocity over 1 s is its acceleration, to parts in a thousand.
        gain = (matrix - np.eye(6))[3:] / CYCLE_S
        self._push_rows: list[list[float]] = gain.tolist()
        self._push_constant: list[float] = (constant[3:] / CYCLE_S).tolist()
        self._response: list[list[float]] = port_forced_response(axis, n, CYCLE_S).tolist()

    def push(self, state: list[float]) -> list[float]:
        """Give the acceleration the orbit gives a state, m/s^2, port frame."""
        s0, s1, s2, s3, s4, s5 = state
        return [
            r[0] * s0 + r[1] * s1 + r[2] * s2 + r[3] * s3 + r[4] * s4 + r[5] * s5 + c
            for r, c in zip(self._push_rows, self._push_constant, strict=True)
        ]

    def on(self, state: list[float], push: list[float]) -> list[float]:
        """Carry a state over one cycle under a steady push."""
        s0, s1, s2, s3, s4, s5 = state
        out = [
            r[0] * s0 + r[1] * s1 + r[2] * s2 + r[3] * s3 + r[4] * s4 + r[5] * s5 + c
            for r, c in zip(self._rows, self._constant, strict=True)
        ]
        if any(push):
            for i, g in enumerate(self._response):
                out[i] += g[0] * push[0] + g[1] * push[1] + g[2] * push[2]
        return out


def port_offset(setup: Setup) -> Offset:
    """Give the port's place from the centre of mass along V, H, R, m."""
    offset = setup.port.offset_m
    return (offset[0], setup.port.offset_across_m, offset[1])
