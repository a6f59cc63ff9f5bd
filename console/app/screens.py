"""Pictures of the window for the README and for looking at: ``python -m console.app.screens DIR``.

Each is drawn offscreen by the real window from a simulated approach fed through the real state
model up to the moment named, so that anyone can make them again.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from console.app.around import around_of, demo_coverage
from console.app.demo_crew import Crew, demo_crew
from console.app.input_file import (
    demo_setup,
    load_limits,
    load_procedure,
    load_residuals,
    load_scenario,
    load_setup,
)
from console.app.trail_feed import TrailFeed
from console.approach.action import AcknowledgeAll, AnyAction, PollAnswer, Shelve
from console.approach.engine_time import EngineTime
from console.approach.event import AnyEvent, Phase
from console.approach.intake import Intake
from console.approach.procedure import Answer
from console.approach.snapshot import Snapshot
from console.approach.state import StateModel
from console.envelope.limits import LimitsFile
from console.present.port import WatchStatus
from console.present.trail import Trail
from console.simulation.simulate import Published, simulate

SIZES = {"1280": (1280, 720), "1600": (1600, 900), "3840": (3840, 2160)}


@dataclass(frozen=True, slots=True)
class Moment:
    """When a picture is taken: in which scenario, at which state."""

    scenario: str
    when: Callable[[StateModel], bool]
    acknowledge: bool = False
    silent_s: float = 0.0
    """Let time pass without data for so long before the picture."""
    crew: Crew = Crew.ALL
    """Which of the demo's people answered and did their steps."""
    shelved: tuple[str, ...] = ()
    """Ids of what was put aside before the picture, each at its standing level."""
    no_go: str = ""
    """Position that says no-go before the picture."""
    shows_manual: bool = False


def _inside(range_m: float) -> Callable[[StateModel], bool]:
    def reached(state: StateModel) -> bool:
        estimate = state.tracker.estimate(state.now)
        return estimate is not None and estimate.range_m <= range_m

    return reached


def _in_phase(phase: Phase, for_s: float) -> Callable[[StateModel], bool]:
    def reached(state: StateModel) -> bool:
        return state.phases.phase is phase and state.now - state.phases.since >= for_s

    return reached


MOMENTS: dict[str, Moment] = {
    "nominal": Moment("nominal", _inside(5.1)),
    "far": Moment("nominal", _inside(110.0)),
    "hold": Moment("nominal", _in_phase(Phase.HOLD, 30.0)),
    "fast": Moment("fast_closing", _inside(8.0)),
    "drift": Moment("lateral_drift", _inside(7.0), acknowledge=True),
    "stale": Moment("nominal", _inside(8.0), silent_s=3.2),
    "lost": Moment("nominal", _inside(8.0), silent_s=25.0),
    "hands_off": Moment("nominal", _inside(1.2)),
    "contact": Moment("nominal", _in_phase(Phase.CONTACT, 0.8)),
    "damping": Moment("nominal", _in_phase(Phase.DAMPING, 30.0)),
    "retraction": Moment("nominal", _in_phase(Phase.RING_RETRACTION, 40.0)),
    "hooks": Moment("nominal", _in_phase(Phase.HOOKS, 60.0)),
    "hard_capture": Moment("nominal", _in_phase(Phase.HARD_CAPTURE, 5.0)),
    "pressurising": Moment("nominal", _in_phase(Phase.HARD_CAPTURE, 70.0)),
    "captured": Moment("nominal", _in_phase(Phase.HARD_CAPTURE, 120.0)),
    "leak_check": Moment("nominal", _in_phase(Phase.HARD_CAPTURE, 300.0)),
    "docked": Moment("nominal", _in_phase(Phase.DOCKED, 5.0)),
    "retreat": Moment("retreat", _in_phase(Phase.RETREAT, 20.0)),
    "late": Moment("late_braking", _inside(0.8)),
    "attitude": Moment("attitude_buildup", _inside(6.0)),
    "bias": Moment("source_bias", _inside(9.0)),
    "poll": Moment("nominal", _in_phase(Phase.HOLD, 24.0), crew=Crew.OTHERS),
    "no_go": Moment("nominal", _in_phase(Phase.HOLD, 30.0), crew=Crew.OTHERS, no_go="vehicle"),
    "overdue": Moment("nominal", _inside(9.0), crew=Crew.NONE),
    "shelved": Moment("fast_closing", _inside(8.0), shelved=("closing-fast-caution",)),
    "manual": Moment("nominal", _inside(4.95), shows_manual=True),
}
"""The pictures that can be made."""


class StillPort:
    """A watch that stands still at a moment: the window's port to it."""

    def __init__(self, moment: Moment, seed: int) -> None:
        self.limits: LimitsFile = load_limits(None)
        setup = load_setup(demo_setup())
        _, surroundings = around_of(setup, demo_setup(), demo_coverage()).built(setup)
        scenario = load_scenario(moment.scenario)
        start_m = 200.0 if moment.when is MOMENTS["far"].when else scenario.demo_range_m
        flown = simulate(scenario, self.limits, setup, seed, start_m)
        procedure = load_procedure(None)
        state = StateModel(
            self.limits,
            setup,
            archive=load_residuals(),
            surroundings=surroundings,
            procedure=procedure,
        )
        self._crew = demo_crew(procedure, moment.crew)
        self._trail = TrailFeed(state)
        intake = Intake(state, EngineTime.NEWEST)
        self._play(moment, flown.messages, intake)
        self._snapshot = state.snapshot()
        total = state.sequence.total()
        self._status = WatchStatus(
            mode="Demo",
            endpoint="tcp://127.0.0.1:5556",
            samples_per_s=12.0,
            lost=total.lost,
            recording="2031-04-10T093500Z kittiwake.leadmark",
            limits_title=self.limits.title,
            limits_revision=self.limits.revision,
            limits_sha256=self.limits.sha256,
        )

    def _play(self, moment: Moment, messages: Sequence[Published], intake: Intake) -> None:
        state = intake.state
        for message in messages:
            self._hear(intake.record(message.record), intake)
            self._trail.follow(message.record)
            if moment.when(state):
                break
        intake.advance(intake.now + moment.silent_s)
        if moment.acknowledge:
            intake.action(intake.now, AcknowledgeAll(initials="MK"))
        for exceedance in [e for e in state.register if e.id in moment.shelved and e.stands]:
            why = "known, agreed with the vehicle's position"
            level = exceedance.level.word
            intake.action(intake.now, Shelve("MK", exceedance.id, None, level, why, 480.0))
        if moment.no_go:
            intake.action(intake.now, PollAnswer("RB", "go-20", moment.no_go, Answer.NO_GO.value))

    def _hear(self, events: list[AnyEvent], intake: Intake) -> None:
        """Let the demo's people act on what happened."""
        if self._crew is None:
            return
        for event in events:
            self._crew.note(event, intake.now)
        for action in self._crew.due(intake.now):
            self._hear(intake.action(intake.now, action), intake)

    @property
    def trail(self) -> Trail:
        """The past path."""
        return self._trail.trail

    def snapshot(self) -> Snapshot | None:
        """Give the one snapshot."""
        return self._snapshot

    def take_events(self) -> list[AnyEvent]:
        """Give nothing: time stands still."""
        return []

    def act(self, action: AnyAction) -> None:
        """Do nothing: time stands still."""

    def status(self) -> WatchStatus:
        """Give the status line."""
        return self._status


def make(folder: Path, names: Sequence[str], sizes: Sequence[str], themes: Sequence[str]) -> None:
    """Draw the pictures asked for into a folder."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from console.present.theme import DARK, LIGHT
    from console.window.run import render, watch_window

    folder.mkdir(parents=True, exist_ok=True)
    for name in names:
        port = StillPort(MOMENTS[name], seed=1)
        for theme in (DARK, LIGHT):
            if theme.name not in themes:
                continue
            for size in sizes:
                window, view = watch_window(port, theme=theme, title="Leadmark")
                window.resize(*SIZES[size])
                view.bridge.take()
                if MOMENTS[name].shows_manual:
                    view.toggle_manual()
                render(window, folder / f"{name}-{theme.name}-{size}.png", SIZES[size])
                window.close()


def main() -> None:
    """Read the command line and draw."""
    parser = argparse.ArgumentParser(prog="python -m console.app.screens")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--moments", nargs="+", choices=MOMENTS, default=list(MOMENTS))
    parser.add_argument("--sizes", nargs="+", choices=SIZES, default=["1600"])
    parser.add_argument("--themes", nargs="+", choices=("dark", "light"), default=["dark"])
    options = parser.parse_args()
    make(options.folder, options.moments, options.sizes, options.themes)


if __name__ == "__main__":
    main()
