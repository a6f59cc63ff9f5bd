"""Follow many simulated captures from contact to docked: phases, flags, verdicts and their times.

Run from the top of the checkout::

    python -m tests.benchmarks.capture_campaign --captures 40 --scenario nominal

Each is the shipped scenario flown anew from three metres with a seed of its own, its statuses fed
to the state model that the console runs. What is wanted: every phase in order, no flag, settled
before the ring moves, the leak check passed.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass

import numpy as np

from console.app.input_file import demo_setup, load_limits, load_scenario, load_setup
from console.approach.engine_time import EngineTime
from console.approach.event import CaptureVerdict, Phase, PhaseChanged
from console.approach.intake import Intake
from console.approach.phase import CHAIN
from console.approach.state import StateModel
from console.simulation.simulate import simulate

FROM_M = 3.0


@dataclass(frozen=True)
class Followed:
    """One capture: its phases, flags and verdicts, in s from contact, and the damping's error."""

    seed: int
    phases: list[Phase]
    flags: list[str]
    damping: list[tuple[str, float]]
    leak: list[tuple[str, float]]
    decay_error: float
    retraction_s: float
    statuses: int

    @property
    def is_as_wanted(self) -> bool:
        """Whether it went as a nominal capture should."""
        ends = [self.damping[-1][0], self.leak[-1][0]] if self.damping and self.leak else []
        is_in_time = bool(self.damping) and self.damping[-1][1] < self.retraction_s
        is_whole = self.phases == list(CHAIN) and ends == ["settled", "passes"]
        return is_whole and is_in_time and not self.flags


def follow(scenario_name: str, seed: int) -> Followed:
    """Fly one capture and follow it."""
    limits, setup = load_limits(None), load_setup(demo_setup())
    scenario = load_scenario(scenario_name)
    flown = simulate(scenario, limits, setup, seed, FROM_M)
    state = StateModel(limits, setup)
    intake = Intake(state, EngineTime.NEWEST)
    events = [event for m in flown.messages for event in intake.record(m.record)]
    contact = flown.truth.contact
    now = state.snapshot().capture
    assert contact is not None
    assert now is not None
    changes = {e.phase: e.t - contact.t for e in events if isinstance(e, PhaseChanged)}
    told = [e for e in events if isinstance(e, CaptureVerdict)]
    decays = [] if now.damping is None else [c.decay_s.best for c in now.damping.channels]
    errors = [abs(d / scenario.capture.decay_s - 1.0) for d in decays if d is not None]
    return Followed(
        seed=seed,
        phases=[phase for phase in changes if phase in CHAIN],
        flags=[f"{e.id} {e.words}" for e in state.register if e.id.startswith("capture:")],
        damping=[(e.verdict, e.t - contact.t) for e in told if e.check == "damping"],
        leak=[(e.verdict, e.t - contact.t) for e in told if e.check == "leak"],
        decay_error=max(errors, default=float("inf")),
        retraction_s=changes.get(Phase.RING_RETRACTION, float("inf")),
        statuses=sum(m.record.source == "mechanism" for m in flown.messages),
    )


def main() -> None:
    """Print what was not as wanted, and when verdicts came."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--captures", type=int, default=40)
    parser.add_argument("--scenario", default="nominal")
    chosen = parser.parse_args()
    every = [follow(chosen.scenario, seed) for seed in range(chosen.captures)]
    for one in every:
        if not one.is_as_wanted:
            print(f"seed {one.seed}: {one.flags} damping {one.damping} leak {one.leak}")
    print(f"{sum(one.is_as_wanted for one in every)} of {len(every)} as wanted")
    for name, times in (
        ("settling said", [t for one in every for v, t in one.damping if v == "settling"]),
        ("settled", [one.damping[-1][1] for one in every if one.damping]),
        ("leak check passes", [t for one in every for v, t in one.leak if v == "passes"]),
    ):
        if times:
            low, middle, high = np.quantile(times, (0.0, 0.5, 1.0))
            print(f"{name}: {low:.1f} to {high:.1f} s from contact, median {middle:.1f}")
    errors = [one.decay_error for one in every]
    print(
        f"decay time, error of the worse channel: 95th percentile {np.quantile(errors, 0.95):.2%}"
    )


if __name__ == "__main__":
    main()
