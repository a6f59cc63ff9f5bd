"""Forged sources: refused beyond a number, counted, recorded, and no harm to a pass."""

from __future__ import annotations

import tracemalloc
from collections import Counter

import msgspec
import pytest
from approach_tools import limits_file

from console.approach import damping_record, milestone
from console.approach.engine_time import EngineTime
from console.approach.event import AnyEvent, MarkPassed
from console.approach.intake import Intake
from console.approach.roll import SOURCES_AT_MOST, SourceRoll
from console.approach.state import StateModel
from console.core.ids import SourceId
from console.core.records import CaptureStatus, Frame, Heartbeat, Record, RelativeSample
from console.envelope.setup import Setup, SourceNoise
from console.wire.encode import encode
from console.wire.reason import Reason

LIMITS = limits_file()
T0 = 1_932_100_000.0


def sample(source: str, seq: int, past_s: float, range_m: float = 10.5) -> RelativeSample:
    """Make a sample of a source."""
    return RelativeSample(
        SourceId(source), seq, T0 + past_s, range_m - 0.09 * past_s, -0.09, 0.0, 0.0, 0.0, 0.0, 0.0
    )


def frame(record: Record, past_s: float) -> Frame:
    """Give the frame of a record, received so many seconds past the start."""
    return Frame(T0 + past_s, *encode(record))


def intake_of(mode: EngineTime = EngineTime.RECEIVE, setup: Setup | None = None) -> Intake:
    """Give a fresh intake."""
    return Intake(StateModel(LIMITS, setup or Setup()), mode)


def watched(forged: int, mode: EngineTime = EngineTime.RECEIVE) -> tuple[Intake, list[AnyEvent]]:
    """Watch two sources for ten seconds, so many forged names between their samples."""
    intake = intake_of(mode)
    # where samples carry engine time a forged one far ahead would carry it away
    ahead_s = 900.0 if mode is EngineTime.RECEIVE else 0.0
    found: list[AnyEvent] = []
    for n in range(100):
        past_s = n / 10
        for source in ("optical", "radio"):
            found += intake.frame(frame(sample(source, n, past_s), past_s + 0.02))
        for k in range(forged):
            name = f"forged{n}-{k}"
            found += intake.frame(frame(sample(name, 0, past_s + ahead_s, 3.0), past_s + 0.03))
    return intake, found


def test_sixteen_names_are_taken_and_stay_taken() -> None:
    """The first sixteen have a place each, whatever comes between; nobody else gets one."""
    roll = SourceRoll()
    names = [SourceId(f"s{n}") for n in range(SOURCES_AT_MOST)]
    assert all(roll.takes(name) for name in names)
    assert not roll.takes(SourceId("one more"))
    assert all(roll.takes(name) for name in names)


def test_names_of_the_setup_always_have_a_place() -> None:
    """Forged names that come first do not shut out a source that was said to come."""
    setup = Setup(sources={SourceId("radio"): SourceNoise()})
    intake = intake_of(setup=setup)
    for n in range(100):
        intake.frame(frame(sample(f"forged{n}", 0, 0.1), 0.1))
    intake.frame(frame(sample("radio", 0, 0.2), 0.2))
    intake.frame(frame(sample("optical", 0, 0.3), 0.3))
    sources = intake.state.board.sources
    assert len(sources) == SOURCES_AT_MOST + 1
    assert "radio" in sources
    assert "optical" not in sources


def test_a_source_asked_for_always_has_a_place() -> None:
    """The one that alone is to be judged is judged, however many others come before it."""
    intake = Intake(StateModel(LIMITS, Setup(), source=SourceId("radio")), EngineTime.NEWEST)
    for n in range(100):
        intake.record(sample(f"s{n}", 0, 0.0))
    intake.record(sample("radio", 0, 1.0))
    assert intake.state.judged == 1


def test_a_heartbeat_takes_no_place_and_is_refused_like_its_source() -> None:
    """Heartbeats of unknown names cost nothing; when all places are taken they are counted."""
    intake = intake_of()
    for n in range(100):
        beat = Heartbeat(SourceId(f"b{n}"), T0, 5)
        assert intake.frame(frame(beat, 0.0)) == []
    assert not intake.state.rejects
    for n in range(SOURCES_AT_MOST):
        intake.frame(frame(sample(f"s{n}", 0, 0.1), 0.1))
    intake.frame(frame(Heartbeat(SourceId("b1"), T0, 5), 0.2))
    assert intake.state.rejects == Counter({Reason.SOURCES.value: 1})


def test_capture_statuses_of_forged_names_are_refused_too() -> None:
    """A status declares contact: one of a name beyond the sixteen must not."""
    intake = intake_of()
    for n in range(SOURCES_AT_MOST):
        intake.frame(frame(sample(f"s{n}", 0, 0.1), 0.1))
    forged = CaptureStatus(SourceId("forged"), 0, T0, contact=True)
    assert intake.frame(frame(forged, 0.2)) == []
    assert intake.state.contact.t is None
    assert not intake.accepted


def test_bad_messages_take_no_place() -> None:
    """What does not validate is counted by its own reason, and its name is not kept."""
    intake = intake_of()
    for n in range(100):
        intake.frame(Frame(T0, f"rel/bad{n}".encode(), b"{}"))
    intake.frame(frame(sample("optical", 0, 0.1), 0.1))
    assert set(intake.state.rejects) == {Reason.MISSING.value}
    assert intake.state.board.in_use == "optical"


@pytest.mark.parametrize("mode", EngineTime)
def test_a_flood_of_names_harms_no_pass(mode: EngineTime) -> None:
    """Two sources and a hundred new names a second: the same marks, and the rest is counted."""
    plain, unharmed = watched(0, mode)
    flooded, found = watched(10, mode)
    assert len(flooded.state.board.sources) == SOURCES_AT_MOST
    refused = flooded.state.rejects[Reason.SOURCES.value]
    assert refused == 1000 - (SOURCES_AT_MOST - 2)
    assert flooded.state.snapshot().counts.rejects_by_reason == (("too many sources", refused),)
    assert flooded.state.judged == plain.state.judged
    passed = [[e for e in events if isinstance(e, MarkPassed)] for events in (unharmed, found)]
    assert passed[0] == passed[1]
    assert passed[0]
    again, replayed = watched(10, mode)
    assert [msgspec.json.encode(e) for e in replayed] == [msgspec.json.encode(e) for e in found]
    assert again.state.rejects == flooded.state.rejects


def test_memory_stays_flat_under_new_names() -> None:
    """Twenty thousand names more leave no trace but a count."""
    intake = intake_of()
    tracemalloc.start()
    try:
        for n in range(10_000):
            intake.frame(frame(sample(f"forged{n}", 0, 0.1), 0.1))
        before = tracemalloc.get_traced_memory()[0]
        for n in range(10_000, 20_000):
            intake.frame(frame(sample(f"forged{n}", 0, 0.1), 0.1))
        grown = tracemalloc.get_traced_memory()[0] - before
    finally:
        tracemalloc.stop()
    assert grown < 5_000  # not even half a byte a name
    assert intake.state.rejects[Reason.SOURCES.value] == 20_000 - SOURCES_AT_MOST


def test_what_swings_for_ever_is_kept_in_bounds(monkeypatch: pytest.MonkeyPatch) -> None:
    """Marks passed again and again, motion that comes again: events go on, memory does not."""
    monkeypatch.setattr(milestone, "PASSED_KEPT", 3)
    intake = intake_of()
    events: list[AnyEvent] = []
    for n in range(200):
        range_m = (12.0, 12.0, 4.0, 4.0)[n % 4]
        one = RelativeSample(
            SourceId("optical"), n, T0 + n / 10, range_m, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
        )
        events += intake.frame(frame(one, n / 10))
    assert len(intake.state.milestones.passed) == 3
    assert sum(isinstance(event, MarkPassed) for event in events) > 40
    monkeypatch.setattr(damping_record, "BEYOND_KEPT", 5)
    monkeypatch.setattr(damping_record.DampingRecord, "_most", lambda record, t: 0.5)
    record = damping_record.DampingRecord("m/s", 0.01)
    for n in range(1000):  # a thousand readings in a millisecond, each far beyond
        record.take(T0 + 5.0 + n * 1e-6, 1.0)
    assert len(record._beyond) == 5
    assert record._beyond[-1][0] == T0 + 5.0 + 999 * 1e-6
