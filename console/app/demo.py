"""``leadmark demo``: a simulated approach published on loopback, recorded, and shown live."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from console.app.around import around_of, demo_coverage
from console.app.clock import SystemClock
from console.app.demo_crew import Crew, demo_crew
from console.app.feeder import Feeder
from console.app.input_file import (
    demo_setup,
    load_limits,
    load_procedure,
    load_scenario,
    load_setup,
)
from console.app.watching import Link, WatchOrder, subscribe, watch_headless, watch_in_window
from console.envelope.limits import LimitsFile
from console.envelope.setup import Setup
from console.link.publisher import Publisher
from console.simulation.scenario import Scenario
from console.simulation.simulate import SimulatedPass, simulate

LOOPBACK_ANY_PORT = "tcp://127.0.0.1:*"
VEHICLE = "Kittiwake"
PORT = "Farrow Station port C"


@dataclass(frozen=True, slots=True)
class DemoOrder:
    """What is to be shown: scenario, where it begins, how fast, with which seed.

    Attributes
    ----------
    setup, coverage : Path or None
        None: the shipped ones; a setup of one's own has no coverage plan but its own.
    procedure : Path or None
        None: the shipped one, with the demo's people; a file of one's own has no people.
    crew : Crew
        Which of the demo's people act by themselves.
    """

    scenario: str = "nominal"
    from_range_m: float | None = None
    speed: float = 1.0
    seed: int = 1
    limits: Path | None = None
    setup: Path | None = None
    record: Path | None = None
    procedure: Path | None = None
    crew: Crew = Crew.ALL
    speak: bool = False
    coverage: Path | None = None


@dataclass(frozen=True, slots=True)
class _Stage:
    """A simulated pass ready to be published and watched."""

    order: WatchOrder
    flown: SimulatedPass
    clock: SystemClock
    feeder: Feeder
    publisher: Publisher


def demo_headless(order: DemoOrder, write: Callable[[str], None]) -> int:
    """Run the demo in text until the scenario ends; give the exit status."""
    with _staged(order) as stage, _subscribed(stage) as source:
        watch_for = f"{stage.order.title}. Watch for: {load_scenario(order.scenario).watch_for}"
        feeder = stage.feeder
        watch_headless(
            stage.order, stage.clock, source, lambda: feeder.is_done, write,
            begin=feeder.start, opening=[watch_for],
        )  # fmt: skip
    return 0


def demo_in_window(order: DemoOrder, theme_name: str) -> int:
    """Run the demo in the window until it is closed."""
    with _staged(order) as stage, _subscribed(stage) as source:
        return watch_in_window(
            stage.order, stage.clock, source, theme_name=theme_name, begin=stage.feeder.start
        )


@contextmanager
def _staged(order: DemoOrder) -> Iterator[_Stage]:
    limits = load_limits(order.limits)
    setup_path = order.setup or demo_setup()
    setup = load_setup(setup_path)
    coverage = order.coverage or (demo_coverage() if order.setup is None else None)
    around = around_of(setup, setup_path, coverage)
    procedure = load_procedure(order.procedure)
    scenario = load_scenario(order.scenario)
    flown = _fly(order, scenario, limits, setup)
    # At speed 1 the watch runs on the scenario's own clock, so that ages are what they would be.
    clock = SystemClock(flown.messages[0].t_publish_s if order.speed == 1.0 else None)
    with Publisher(LOOPBACK_ANY_PORT, clock=clock) as publisher:
        watch_order = WatchOrder(
            mode="Demo",
            endpoints=[publisher.endpoint],
            limits=limits,
            setup=setup,
            speed=order.speed,
            record=order.record,
            vehicle=VEHICLE,
            title=f"{VEHICLE} to {PORT}: {scenario.title}",
            port=PORT,
            procedure=procedure,
            speak=order.speak,
            around=around,
            limits_path=order.limits,
            setup_path=setup_path,
            crew=None if order.procedure is not None else demo_crew(procedure, order.crew),
        )
        feeder = Feeder(
            publisher, flown.messages, speed=order.speed, clock=clock, on_begin=clock.start
        )
        try:
            yield _Stage(watch_order, flown, clock, feeder, publisher)
        finally:
            feeder.stop()


def _fly(order: DemoOrder, scenario: Scenario, limits: LimitsFile, setup: Setup) -> SimulatedPass:
    start_m = scenario.demo_range_m if order.from_range_m is None else order.from_range_m
    return simulate(scenario, limits, setup, order.seed, start_m)


@contextmanager
def _subscribed(stage: _Stage) -> Iterator[Link]:
    source = subscribe(stage.order.endpoints, stage.clock, keys=None, insecure=False)
    try:
        yield source
    finally:
        source.close()
