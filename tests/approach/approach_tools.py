"""Samples, statuses and a state model for tests of the approach, made in one line each."""

from __future__ import annotations

import msgspec

from console.approach.engine_time import EngineTime
from console.approach.event import AnyEvent, Event
from console.approach.intake import Intake
from console.approach.state import StateModel
from console.core.ids import LimitId, SourceId
from console.core.records import CaptureStatus, Frame, Record, RelativeSample
from console.envelope.limits import (
    Allow,
    Basis,
    ContactLimit,
    Curve,
    DataRules,
    GlideSlope,
    HandsOff,
    Level,
    Limit,
    LimitsFile,
)
from console.envelope.quantity import Quantity
from console.envelope.setup import Setup
from console.wire.encode import encode

T0 = 1_932_100_000.0
OPTICAL, RADIO = SourceId("optical"), SourceId("radio")


def limit(name: str = "fast", **changes: object) -> Limit:
    """Give a limit on closing rate that raises and clears at once, then change what is named."""
    fields: dict[str, object] = {
        "id": LimitId(name), "quantity": Quantity.CLOSING_RATE, "basis": Basis.MEASURED,
        "level": Level.WARNING, "allow": Allow.BELOW, "curve": Curve((0.0, 200.0), (0.2, 0.2)),
        "deadband": 0.0, "on_delay_s": 0.0, "off_delay_s": 0.0,
    }  # fmt: skip
    fields.update(changes)
    return Limit(**fields)  # type: ignore[arg-type]


def limits_file(*limits: Limit, **changes: object) -> LimitsFile:
    """Give a limits file round some limits, then change what is named."""
    fields: dict[str, object] = {
        "title": "t", "revision": 1, "author": "", "reason": "",
        "hands_off": HandsOff(1.8, 1.5, 4.0, 0.01),
        "glide_slope": GlideSlope(Curve((0.0, 20.0, 200.0), (0.09, 0.09, 0.55))),
        "marks_m": (20.0, 10.0, 5.0, 2.0), "data": DataRules(1.0, 5.0), "limits": limits,
        "contact_limits": (ContactLimit(Quantity.CLOSING_RATE, 0.05, 0.10),),
        "sha256": "0" * 64, "text": "",
    }  # fmt: skip
    fields.update(changes)
    return LimitsFile(**fields)  # type: ignore[arg-type]


def sample(
    past_s: float, range_m: float, seq: int | None = None, **changes: object
) -> RelativeSample:
    """Give a healthy sample of the optical source so many seconds past the start."""
    number = round(past_s * 1000.0) if seq is None else seq
    fields: dict[str, object] = {
        "source": OPTICAL, "seq": number, "t": T0 + past_s, "range_m": range_m,
        "range_rate_mps": -0.09, "y_m": 0.01, "z_m": -0.02, "roll_deg": 0.1, "pitch_deg": 0.2,
        "yaw_deg": -0.1, "y_rate_mps": 0.001, "z_rate_mps": 0.0, "roll_rate_dps": 0.01,
        "pitch_rate_dps": 0.0, "yaw_rate_dps": 0.0,
    }  # fmt: skip
    fields.update(changes)
    return RelativeSample(**fields)  # type: ignore[arg-type]


def status(past_s: float, seq: int | None = None, **fields: object) -> CaptureStatus:
    """Give a capture status so many seconds past the start."""
    number = round(past_s * 1000.0) if seq is None else seq
    source = SourceId(str(fields.pop("source", "mechanism")))
    return CaptureStatus(source, number, T0 + past_s, **fields)  # type: ignore[arg-type]


def closing(
    begin_s: float, end_s: float, range_m: float, rate_mps: float = -0.09, **changes: object
) -> list[RelativeSample]:
    """Give samples ten times a second, the last digits never alike, ``range_m`` at the begin."""
    made = []
    for n in range(round(begin_s * 10), round(end_s * 10)):
        past_s = n / 10
        wobble = 0.001 * ((n * 7) % 11 - 5)
        now_m = range_m + rate_mps * (past_s - begin_s) + wobble
        made.append(
            sample(past_s, now_m, n, range_rate_mps=rate_mps + 0.1 * wobble, y_m=wobble, **changes)
        )
    return made


class Run:
    """An intake over a fresh model, and every event so far."""

    def __init__(
        self,
        limits: LimitsFile | None = None,
        setup: Setup | None = None,
        mode: EngineTime = EngineTime.NEWEST,
        **options: object,
    ) -> None:
        self.state = StateModel(limits or limits_file(), setup or Setup(), **options)  # type: ignore[arg-type]
        self.intake = Intake(self.state, mode)
        self.events: list[AnyEvent] = []

    def feed(self, *records: Record) -> list[AnyEvent]:
        """Feed records as a table's; give what they found."""
        found: list[AnyEvent] = []
        for record in records:
            found += self.intake.record(record)
        self.events += found
        return found

    def receive(self, past_s: float, record: Record) -> list[AnyEvent]:
        """Feed a record as a message received so many seconds past the start."""
        found = self.intake.frame(Frame(T0 + past_s, *encode(record)))
        self.events += found
        return found

    def wait(self, past_s: float) -> list[AnyEvent]:
        """Let engine time go on to so many seconds past the start."""
        found = self.intake.advance(T0 + past_s)
        self.events += found
        return found

    def of(self, kind: type[Event]) -> list:
        """Give the events of a kind so far."""
        return [event for event in self.events if isinstance(event, kind)]


def lines(events: list[AnyEvent]) -> list[bytes]:
    """Give events as the lines of the log."""
    return [msgspec.json.encode(event) for event in events]
