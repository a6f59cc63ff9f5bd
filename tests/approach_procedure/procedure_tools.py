"""Procedures and inputs for the tests of steps, polls and shelving."""

from __future__ import annotations

import random
from pathlib import Path

from console.approach.action import AnyAction
from console.approach.engine_time import EngineTime
from console.approach.event import AnyEvent
from console.approach.intake import Intake
from console.approach.procedure import Procedure
from console.approach.procedure_reading import parse_procedure
from console.approach.state import StateModel
from console.core.ids import SourceId
from console.core.records import CaptureStatus, Frame, Record, RelativeSample
from console.envelope.limits import LimitsFile
from console.envelope.reading import parse_limits
from console.envelope.setup import Setup
from console.wire.encode import encode

SHIPPED = Path(__file__).parents[2] / "replay_data"
T0 = 1_933_580_100.0
HEAD = 'format = 1\ntitle = "Test"\nrevision = 1\nconsole = "console"\n'
POLL = """
[[poll]]
id = "go-20"
words = "go for final approach"
hold_m = 20
positions = ["navigation", "console"]
overdue_s = 30
"""


def shipped_limits() -> LimitsFile:
    """Give the shipped limits file."""
    path = SHIPPED / "limits" / "port_c_final_approach.toml"
    return parse_limits(path.read_bytes(), path.name)


def shipped_procedure() -> Procedure:
    """Give the shipped procedure."""
    path = SHIPPED / "procedures" / "port_c_arrival.toml"
    return parse_procedure(path.read_bytes(), path.name)


def procedure_of(*parts: str, poll: str = POLL, head: str = HEAD) -> Procedure:
    """Give a procedure of a poll and the steps written in the parts."""
    return parse_procedure((head + poll + "\n".join(parts)).encode(), "test.toml")


def step(id_: str, due: str, rest: str = "") -> str:
    """Write a step."""
    return f'[[step]]\nid = "{id_}"\nwho = "crew"\nwords = "do {id_}"\ndue = {due}\n{rest}\n'


class Watch:
    """A watch fed sample by sample, ten a second, at ranges the test says."""

    def __init__(self, procedure: Procedure | None = None) -> None:
        self.state = StateModel(shipped_limits(), Setup(), procedure=procedure)
        self.intake = Intake(self.state, EngineTime.RECEIVE)
        self.events: list[AnyEvent] = []
        self.t = T0
        self._seq = 0
        self._capture_seq = 0
        self._random = random.Random(1)

    def stand(self, range_m: float, for_s: float) -> None:
        """Stand at a range."""
        self.move(range_m, range_m, for_s)

    def move(self, from_m: float, to_m: float, for_s: float) -> None:
        """Go evenly from one range to another."""
        count = max(round(for_s * 10), 1)
        rate = (to_m - from_m) / for_s
        for n in range(count):
            self.wait(0.1)
            range_m, noise = from_m + rate * n / 10.0, self._random.gauss
            sample = RelativeSample(
                SourceId("optical"), self._seq, self.t - 0.02, range_m + noise(0.0, 0.003),
                rate + noise(0.0, 0.001), noise(0.01, 0.002), noise(0.01, 0.002),
                noise(0.1, 0.02), noise(0.1, 0.02), noise(0.1, 0.02), 0.001, 0.001, 0.01,
                0.01, 0.01,
            )  # fmt: skip
            self._seq += 1
            self._take(sample)

    def wait(self, for_s: float) -> None:
        """Let time pass without data."""
        self.t = round(self.t + for_s, 6)
        self.events += self.intake.advance(self.t)

    def capture(self, **fields: object) -> None:
        """Send a capture status and let a tick pass."""
        status = CaptureStatus(SourceId("mechanism"), self._capture_seq, self.t, **fields)  # type: ignore[arg-type]
        self._capture_seq += 1
        self.wait(0.1)
        self._take(status)
        self.wait(0.1)

    def _take(self, record: Record) -> None:
        self.events += self.intake.frame(Frame(self.t, *encode(record)))

    def act(self, action: AnyAction) -> list[AnyEvent]:
        """Do what the operator does; give what followed."""
        found = self.intake.action(self.t, action)
        self.events += found
        return found

    def of(self, kind: type) -> list:
        """Give the events of a kind so far."""
        return [event for event in self.events if isinstance(event, kind)]

    def line(self, key: str):
        """Give the newest call line of a key."""
        found = [line for line in self.state.snapshot().calls if line.key == key]
        return found[-1] if found else None
