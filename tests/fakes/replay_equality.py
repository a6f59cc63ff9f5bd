"""One recording's event log by every way there is to it; all of them must be the same bytes."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import msgspec

from console.app.around import around_of, demo_coverage
from console.app.clock import SystemClock
from console.app.demo_crew import Crew, demo_crew
from console.app.feeder import Feeder
from console.app.input_file import (
    demo_setup,
    load_limits,
    load_procedure,
    load_residuals,
    load_scenario,
    load_setup,
)
from console.app.pass_rules import rules_of, watching_model
from console.app.replay_engine import ReplayEngine
from console.app.replay_headless import ReplayOrder, replay_headless
from console.app.replay_inputs import inputs_of
from console.app.watching import WatchOrder, subscribe, watch_headless
from console.archive.passes import read_pass
from console.archive.recording import open_recording
from console.bench.scoring import score_pass
from console.link.publisher import Publisher
from console.simulation.simulate import simulate

FRAME_S = 1.0 / 30.0
PIECES = 12
SEED = 11

encode = msgspec.json.Encoder(order="deterministic").encode


def watch_live(
    scenario: str, path: Path, *, range_m: float | None, speed: float, most: int | None = None
) -> list[str]:
    """Fly a scenario over a real socket, watched and recorded; give what the watch wrote.

    ``most`` ends it after so many messages.
    """
    limits, setup, procedure = load_limits(None), load_setup(demo_setup()), load_procedure(None)
    flight = load_scenario(scenario)
    start_m = flight.demo_range_m if range_m is None else range_m
    messages = simulate(flight, limits, setup, SEED, start_m).messages[:most]
    clock = SystemClock(messages[0].t_publish_s if speed == 1.0 else None)
    lines: list[str] = []
    with Publisher("tcp://127.0.0.1:*", clock=clock) as publisher:
        order = WatchOrder(
            "Demo", [publisher.endpoint], limits, setup, speed=speed, record=path,
            procedure=procedure, crew=demo_crew(procedure, Crew.ALL),
            around=around_of(setup, demo_setup(), demo_coverage()),
        )  # fmt: skip
        feeder = Feeder(publisher, messages, speed=speed, clock=clock, on_begin=clock.start)
        source = subscribe(order.endpoints, clock, keys=None, insecure=False)
        watch_headless(
            order, clock, source, lambda: feeder.is_done, lines.append, begin=feeder.start
        )
        feeder.stop()
    return lines


def recorded(path: Path) -> list[bytes]:
    """Give the log that the live watch wrote as it went."""
    with open_recording(path) as recording:
        return list(recording.events())


def engine_over(path: Path) -> ReplayEngine:
    """Give a replay's engine that has read the pass."""
    one = read_pass(path)
    state = watching_model(one, rules_of(one, None, None), load_residuals())
    engine = ReplayEngine(state, inputs_of(one))
    engine.scan.read(10**9)
    return engine


def by_reading(engine: ReplayEngine) -> list[bytes]:
    """Give the log of the replay's reading: everything at once."""
    return [encode(found.event) for found in engine.scan.events]


def by_playing(engine: ReplayEngine, speed: float) -> list[bytes]:
    """Give the log of a replay played in frames of a screen at a speed."""
    engine.seek_count(0)
    t, log = engine.scan.time_at(1), []
    while not engine.is_at_end:
        events, reached = engine.play_to(t, most=60)
        log += [encode(event) for event in events]
        t += speed * FRAME_S if reached else 0.0
    return log


def by_seeks(engine: ReplayEngine) -> list[bytes]:
    """Give the log put together from stretches that were played after seeks in any order."""
    rng = random.Random(SEED)
    count = engine.scan.count
    cuts = sorted({0, count, *rng.sample(range(1, count), min(PIECES, count - 1))})
    stretches = list(pairwise(cuts))
    rng.shuffle(stretches)
    pieces: dict[int, list[bytes]] = {}
    for first, last in stretches:
        engine.seek_count(first)
        log: list[bytes] = []
        while engine.count < last:
            events, _ = engine.play_to(math.inf, most=last - engine.count)
            log += [encode(event) for event in events]
        pieces[first] = log
    return [line for first in sorted(pieces) for line in pieces[first]]


def by_score(path: Path) -> list[bytes]:
    """Give the log of ``leadmark score``."""
    one = read_pass(path)
    rules = rules_of(one, None, None)
    log: list[bytes] = []
    score_pass(
        one, rules.limits, rules.setup, procedure=rules.procedure,
        surroundings=rules.surroundings,
        on_events=lambda events: log.extend(encode(event) for event in events),
    )  # fmt: skip
    return log


def by_command(path: Path, speed: float) -> list[str]:
    """Give the lines of ``leadmark replay --headless`` with a clock that jumps where it waits."""
    lines: list[str] = []
    wall = [0.0]

    def wait(seconds: float) -> None:
        wall[0] += seconds

    replay_headless(ReplayOrder(path, speed=speed), lines.append, clock=lambda: wall[0], wait=wait)
    return lines[1:]


WAYS: dict[str, Callable[[ReplayEngine], list[bytes]]] = {
    "at once": by_reading,
    "1x": lambda engine: by_playing(engine, 1.0),
    "60x": lambda engine: by_playing(engine, 60.0),
    "seeks": by_seeks,
}
"""Each must give the recording's own log, byte for byte; so must the score."""
