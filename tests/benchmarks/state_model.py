"""Cost of a sample through the whole state model, against a loop that only receives and decodes.

Run it: ``python -m tests.benchmarks.state_model`` from the top folder, or with ``--profile`` for
where the time goes. The state model is put together as in a live watch: residual archive,
procedure, orbit and coverage plan. CPU time of the thread, so that other programs count for less;
medians over all messages of a simulated approach, ticks included where they fall. Goals: feed at
most 100 us, feed and snapshot together at most 400 us.
"""

from __future__ import annotations

import argparse
import cProfile
import pstats
import statistics
import time
from collections.abc import Callable

import zmq

from console.app.around import around_of, demo_coverage
from console.app.input_file import (
    demo_setup,
    load_limits,
    load_procedure,
    load_residuals,
    load_scenario,
    load_setup,
)
from console.approach.engine_time import EngineTime
from console.approach.intake import Intake
from console.approach.state import StateModel
from console.core.records import Frame
from console.envelope.setup import Setup
from console.simulation.simulate import simulate
from console.wire.decode import decode
from console.wire.encode import encode

FEED_GOAL_US = 100.0
BOTH_GOAL_US = 400.0


def frames_of(scenario: str, range_m: float) -> list[Frame]:
    """Give the messages of a simulated approach up to contact, as received."""
    flown = simulate(load_scenario(scenario), load_limits(None), Setup(), 1, range_m)
    assert flown.truth.contact is not None
    end = flown.truth.contact.t
    return [Frame(m.t_publish_s, *encode(m.record)) for m in flown.messages if m.t_publish_s < end]


def time_each(frames: list[Frame], act: Callable[[Frame], object]) -> list[float]:
    """Give the microseconds each frame took."""
    clock, out = time.thread_time, []
    for frame in frames:
        begin = clock()
        act(frame)
        out.append((clock() - begin) * 1e6)
    return out


def intake() -> Intake:
    """Give a fresh intake put together as in a live watch of the demo."""
    path = demo_setup()
    setup = load_setup(path)
    setup, surroundings = around_of(setup, path, demo_coverage()).built(setup)
    model = StateModel(
        load_limits(None),
        setup,
        archive=load_residuals(),
        procedure=load_procedure(None),
        surroundings=surroundings,
    )
    return Intake(model, EngineTime.RECEIVE)


def feed_times(frames: list[Frame]) -> list[float]:
    """Time feeding alone."""
    return time_each(frames, intake().frame)


def both_times(frames: list[Frame]) -> list[float]:
    """Time feeding with a snapshot after each message."""
    taken = intake()

    def act(frame: Frame) -> None:
        taken.frame(frame)
        taken.state.snapshot()

    return time_each(frames, act)


def receive_times(frames: list[Frame]) -> list[float]:
    """Time a loop that only receives over a socket of this process, and decodes."""
    with zmq.Context() as context, context.socket(zmq.PAIR) as near:
        near.bind("inproc://frames")
        with context.socket(zmq.PAIR) as far:
            far.connect("inproc://frames")

            def act(_: Frame) -> None:
                topic, payload = far.recv_multipart()
                decode(topic, payload)

            out: list[float] = []
            for frame in frames:
                near.send_multipart([frame.topic, frame.payload])
                out += time_each([frame], act)
            return out


def decode_times(frames: list[Frame]) -> list[float]:
    """Time the loop that only receives and decodes."""
    return time_each(frames, lambda frame: decode(frame.topic, frame.payload))


def report(name: str, times: list[float], goal_us: float | None = None) -> None:
    """Print median, 95 and 99.9 % of times."""
    ordered = sorted(times)
    goal = "" if goal_us is None else f"   goal {goal_us:.0f}"
    print(
        f"{name:<24} median {statistics.median(ordered):7.1f}  "
        f"95 % {ordered[int(0.95 * len(ordered))]:7.1f}  "
        f"99.9 % {ordered[int(0.999 * len(ordered))]:8.1f} us{goal}"
    )


def main() -> None:
    """Measure, or profile."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--scenario", default="nominal")
    parser.add_argument("--from", dest="range_m", type=float, default=60.0)
    parser.add_argument("--profile", action="store_true")
    options = parser.parse_args()
    frames = frames_of(options.scenario, options.range_m)
    print(f"{options.scenario} from {options.range_m:g} m: {len(frames)} messages")
    if options.profile:
        for name, run in (("feed", feed_times), ("feed and snapshot", both_times)):
            profiler = cProfile.Profile()
            profiler.runcall(run, frames)
            print(f"--- {name}")
            pstats.Stats(profiler).sort_stats("tottime").print_stats(25)
        return
    rounds = 3
    report("decode only", min((decode_times(frames) for _ in range(rounds)), key=sum))
    report("receive and decode", min((receive_times(frames) for _ in range(rounds)), key=sum))
    report("feed", min((feed_times(frames) for _ in range(rounds)), key=sum), FEED_GOAL_US)
    report(
        "feed and snapshot", min((both_times(frames) for _ in range(rounds)), key=sum),
        BOTH_GOAL_US,
    )  # fmt: skip


if __name__ == "__main__":
    main()
