"""``leadmark feed``: publish a recorded or simulated pass for consoles to watch."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from console.app.clock import SystemClock
from console.app.feeder import Due, Feeder
from console.app.input_file import load_limits, load_scenario, load_setup
from console.archive.mapping import Mapping
from console.archive.passes import read_pass
from console.archive.recorded_pass import Pass
from console.archive.recording import is_recording
from console.core.errors import InputError, WireError
from console.link.curve import load_keys
from console.link.publisher import Publisher
from console.simulation.simulate import Published, simulate
from console.wire.decode import decode

DEFAULT_BIND = "tcp://127.0.0.1:5556"
WAIT_FOR_WATCHER_S = 600.0


@dataclass(frozen=True, slots=True)
class FeedOrder:
    """What is to be published, where, and how fast."""

    bind: str = DEFAULT_BIND
    speed: float = 1.0
    one: Path | None = None
    scenario: str | None = None
    seed: int = 1
    from_range_m: float | None = None
    setup: Path | None = None
    keys: Path | None = None
    insecure: bool = False
    mapping: Mapping | None = None


def feed(order: FeedOrder, write: Callable[[str], None]) -> int:
    """Publish until the pass ends or an interrupt; give the exit status."""
    messages = _messages(order)
    clock = SystemClock()
    keys = None if order.keys is None else load_keys(order.keys)
    with Publisher(order.bind, keys=keys, insecure=order.insecure, clock=clock) as publisher:
        feeder = Feeder(
            publisher,
            messages,
            speed=order.speed,
            clock=clock,
            subscriber_wait_s=WAIT_FOR_WATCHER_S,
            adds_heartbeats=order.one is not None and not is_recording(order.one),
        )
        write(f"Publishing on {publisher.endpoint}; begins with the first console that watches")
        feeder.start()
        refused = 0
        try:
            while not feeder.wait(0.2):
                if publisher.refused and not refused:
                    write("A console was turned away: its key is not in the authorised folder")
                refused = publisher.refused
            time.sleep(0.5)  # the last messages leave the socket before it closes
        except KeyboardInterrupt:
            pass
        finally:
            feeder.stop()
    turned_away = f", {publisher.refused} connections turned away" if publisher.refused else ""
    write(f"Published {feeder.sent} messages{turned_away}")
    if feeder.failure is not None:
        raise InputError.of(order.bind, "", feeder.failure, "publish on another endpoint")
    return 0


def _messages(order: FeedOrder) -> Iterator[Due]:
    if order.one is not None:
        return messages_of(read_pass(order.one, order.mapping))
    scenario = load_scenario(order.scenario or "nominal")
    flown = simulate(
        scenario, load_limits(None), load_setup(order.setup), order.seed, order.from_range_m
    )
    return iter(flown.messages)


def messages_of(one: Pass) -> Iterator[Published]:
    """Give a pass's messages when the link delivered them; a table's at their own time."""
    if one.recording is None:
        for record in one.records():
            yield Published(record.t, record)
        return
    for _, frame in one.recording.frames():
        try:
            yield Published(frame.t_received_s, decode(frame.topic, frame.payload))
        except WireError:
            continue
