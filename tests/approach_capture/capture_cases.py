"""Statuses of a mechanism and a watch fed with them, for the tests of contact to docked."""

from __future__ import annotations

import math
from collections.abc import Iterator

import msgspec

from console.approach.engine_time import EngineTime
from console.approach.event import AnyEvent, Event, ExceedanceCleared, ExceedanceRaised
from console.approach.intake import Intake
from console.approach.state import StateModel
from console.core.ids import SourceId
from console.core.records import CaptureStatus, Frame, Record, RelativeSample
from console.envelope.limits import (
    ContactLimit,
    Curve,
    DataRules,
    GlideSlope,
    HandsOff,
    LimitsFile,
)
from console.envelope.quantity import Quantity
from console.envelope.setup import Setup, Vestibule
from console.wire.encode import encode
from tests.fakes.changed import replace

T0 = 1_932_100_000.0
MECHANISM = SourceId("mechanism")
OPTICAL = SourceId("optical")
HOOKS = 12
SOFT = {"contact": True, "soft_capture": True}
RING_IN = SOFT | {"ring_extension": 0.0, "ready_to_hook": (True,) * 3}
CLOSED = RING_IN | {"hooks": (1.0,) * HOOKS}
HARD = CLOSED | {"hard_capture": True}

LIMITS = LimitsFile(
    title="capture", revision=1, author="", reason="", hands_off=HandsOff(1.8, 1.5, 4.0, 0.01),
    glide_slope=GlideSlope(Curve((0.0, 20.0, 200.0), (0.09, 0.09, 0.55))), marks_m=(5.0, 2.0),
    data=DataRules(1.0, 5.0), limits=(),
    contact_limits=(ContactLimit(Quantity.CLOSING_RATE, 0.05, 0.10),), sha256="0" * 64, text="",
)  # fmt: skip


def status(past_s: float, **fields: object) -> CaptureStatus:
    """Give a capture status so many seconds past the start."""
    source = SourceId(str(fields.pop("source", "mechanism")))
    return CaptureStatus(source, round(past_s * 1000), T0 + past_s, **fields)  # type: ignore[arg-type]


def sample(past_s: float, range_m: float, **fields: object) -> RelativeSample:
    """Give a healthy sample so many seconds past the start."""
    n = round(past_s * 1000)
    return RelativeSample(
        OPTICAL, n, T0 + past_s, range_m, -0.09, 0.01, -0.02, 0.1 + n % 7 / 1e3, 0.2, -0.1,
        0.001, 0.0, 0.01, 0.0, 0.0, **fields,
    )  # type: ignore[arg-type]  # fmt: skip


def every(
    begin_s: float, end_s: float, step_s: float = 0.5, **fields: object
) -> Iterator[CaptureStatus]:
    """Give the same status again and again."""
    for n in range(math.ceil(begin_s / step_s - 1e-9), math.ceil(end_s / step_s - 1e-9)):
        yield status(n * step_s, **fields)


class Watch:
    """A fresh state model and its events."""

    def __init__(
        self, vestibule: Vestibule | None = None, mode: EngineTime = EngineTime.NEWEST
    ) -> None:
        setup = replace(Setup(), vestibule=vestibule or Vestibule())
        self.state = StateModel(LIMITS, setup)
        self.intake = Intake(self.state, mode)
        self.events: list[AnyEvent] = []

    def feed(self, *records: Record) -> list[AnyEvent]:
        """Feed records as of a table; give what they found."""
        found: list[AnyEvent] = []
        for record in records:
            found += self.intake.record(record)
        self.events += found
        return found

    def receive(self, past_s: float, record: Record) -> list[AnyEvent]:
        """Feed a record as received so many seconds past the start."""
        found = self.intake.frame(Frame(T0 + past_s, *encode(record)))
        self.events += found
        return found

    def wait(self, past_s: float) -> list[AnyEvent]:
        """Let engine time go on to so many seconds past the start."""
        found = self.intake.advance(T0 + past_s)
        self.events += found
        return found

    def of(self, kind: type[Event]) -> list:
        """Give the events of a kind."""
        return [event for event in self.events if isinstance(event, kind)]

    def raised(self, id_: str) -> list[float]:
        """Give when an exceedance was raised, past the start."""
        return [round(e.t - T0, 3) for e in self.of(ExceedanceRaised) if e.id == id_]

    def cleared(self, id_: str) -> list[float]:
        """Give when an exceedance was cleared, past the start."""
        return [round(e.t - T0, 3) for e in self.of(ExceedanceCleared) if e.id == id_]

    @property
    def capture(self):
        """Capture as the snapshot shows it."""
        return self.state.snapshot().capture


def lines(events: list[AnyEvent]) -> list[bytes]:
    """Give events as the lines of the log."""
    return [msgspec.json.encode(event) for event in events]
