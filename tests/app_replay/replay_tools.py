"""Recordings made as a live watch makes them, without waiting, and a replay engine over them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import msgspec

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
from console.approach.engine_time import EngineTime
from console.approach.event import AnyEvent
from console.approach.intake import Intake
from console.approach.state import StateModel
from console.archive.recording.meta import RecordingMeta
from console.archive.recording.recorder import Recorder
from console.core.records import Frame
from console.simulation.simulate import simulate
from console.wire.encode import encode

IDLE_S = 1.0


@dataclass(frozen=True)
class Flown:
    """A scenario flown, with everything a demo's watch is put together from."""

    frames: list[Frame]
    make: Callable[[], StateModel]
    meta: RecordingMeta


def flown(scenario: str, range_m: float, mode: EngineTime, seed: int = 1) -> Flown:
    """Fly a scenario of the demo's outpost."""
    limits, setup = load_limits(None), load_setup(demo_setup())
    around = around_of(setup, demo_setup(), demo_coverage())
    built, surroundings = around.built(setup)
    procedure = load_procedure(None)
    messages = simulate(load_scenario(scenario), limits, setup, seed, range_m).messages
    frames = [Frame(m.t_publish_s, *encode(m.record)) for m in messages]
    meta = RecordingMeta(
        started_s=frames[0].t_received_s, engine_time=mode, limits_text=limits.text,
        limits_sha256=limits.sha256, limits_name=limits.title, setup_text=setup.text,
        setup_sha256=setup.sha256, procedure_text=procedure.text,
        procedure_sha256=procedure.sha256, procedure_name=procedure.title, more=around.kept(),
    )  # fmt: skip

    def make() -> StateModel:
        return StateModel(
            limits, built, archive=load_residuals(), procedure=procedure,
            surroundings=surroundings,
        )  # fmt: skip

    return Flown(frames, make, meta)


def record(path: Path, one: Flown, frames: list[Frame] | None = None) -> list[bytes]:
    """Watch frames with the demo's crew and record it all; give the event log."""
    recorder = Recorder(path, one.meta, synchronous="OFF")
    intake = Intake(one.make(), one.meta.engine_time)
    crew = demo_crew(load_procedure(None), Crew.ALL)
    assert crew is not None
    log: list[bytes] = []
    number = 0

    def publish(events: list[AnyEvent]) -> None:
        for event in events:
            log.append(msgspec.json.Encoder(order="deterministic").encode(event))
            recorder.event(log[-1], number)
            crew.note(event, intake.now)

    def let_crew_act() -> None:
        for action in crew.due(intake.now):
            recorder.action(intake.now, action, number)
            publish(intake.action(intake.now, action))

    for frame in one.frames if frames is None else frames:
        if one.meta.engine_time is EngineTime.RECEIVE and intake.now:
            while frame.t_received_s - intake.now > 2 * IDLE_S:
                events = intake.advance(intake.now + IDLE_S)
                recorder.tick_end(intake.now, number)
                publish(events)
                let_crew_act()
        number = recorder.frame(frame)
        publish(intake.frame(frame))
        let_crew_act()
    recorder.tick_end(intake.now, number)
    recorder.close()
    return log


def shown(state: StateModel) -> bytes:
    """Give everything that is known as bytes: the snapshot and every exceedance's life."""
    lives = [repr(one) for one in state.register]
    return repr((state.snapshot(), lives, state.rejects, state.judged)).encode()


def infinite() -> float:
    """Give the speed that hands everything in at once."""
    return math.inf
