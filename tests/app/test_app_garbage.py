"""Bytes that are no good: counted by reason, and nothing else."""

from __future__ import annotations

import json
import random
from collections import Counter
from collections.abc import Callable

import msgspec
import pytest
from app_tools import T0, feed_input, log_of, sample_frame

from console.app.input_file import load_limits
from console.approach.engine_time import EngineTime
from console.approach.event import AnyEvent
from console.approach.intake import Intake
from console.approach.snapshot import Counts
from console.approach.state import StateModel
from console.archive.recording.taken import FrameTaken
from console.core.records import Frame
from console.envelope.setup import Setup
from tests.fakes.changed import replace

COUNT = 10_000
GOOD = {
    "seq": 7, "t": T0 + 5.0, "range_m": 9.0, "range_rate_mps": -0.09, "y_m": 0.0, "z_m": 0.0,
    "roll_deg": 0.1, "pitch_deg": 0.1, "yaw_deg": 0.1, "valid": True,
}  # fmt: skip
NAN, INFINITY = float("nan"), float("inf")
WRONG = (None, "12", [], {}, True, NAN, INFINITY, -INFINITY)


def watching(mode: EngineTime) -> tuple[Intake, list[AnyEvent]]:
    """Give an intake in the middle of an approach, and what it found so far."""
    intake = Intake(StateModel(load_limits(None), Setup()), mode)
    found: list[AnyEvent] = []
    for n in range(60):
        found += intake.frame(sample_frame(n / 10, 9.0 - 0.009 * n, n))
    return intake, found


def state_of(intake: Intake) -> str:
    """Write out the state as a snapshot shows it, but for the counts of rejects."""
    counts = intake.state.snapshot().counts
    kept = Counts(counts.received, 0, (), counts.overflowed)
    return repr(replace(intake.state.snapshot(), counts=kept))


def drop_a_field(rng: random.Random, fields: dict) -> dict:
    """Leave out a field without which there is no sample."""
    name = rng.choice([name for name in fields if name != "valid"])
    return {key: value for key, value in fields.items() if key != name}


def mistype_a_field(rng: random.Random, fields: dict) -> dict:
    """Write a field as something that it cannot be."""
    name = rng.choice(list(fields))
    wrong = [value for value in WRONG if not (name == "valid" and value is True)]
    return {**fields, name: rng.choice(wrong)}


def leave_the_bounds(rng: random.Random, fields: dict) -> dict:
    """Write a number outside what is allowed."""
    name, value = rng.choice(
        [
            ("t", 9e8), ("t", T0 * 1000), ("t", -5.0), ("range_m", 100_001.0),
            ("range_m", -1e9), ("seq", -1), ("seq", 2**64), ("q", [1.0, 0.3, 0.0, 0.0]),
            ("q", [0.5, 0.5]), ("q", [0.0, 0.0, 0.0, 0.0]),
        ]
    )  # fmt: skip
    return {**fields, name: value}


MUTATIONS: list[Callable[[random.Random, dict], dict]] = [
    drop_a_field, mistype_a_field, leave_the_bounds,
]  # fmt: skip


def encoded(rng: random.Random, fields: dict) -> bytes:
    """Write fields in one of the two forms."""
    if rng.random() < 0.5:
        return json.dumps(fields).encode()
    if any(isinstance(v, int) and not -(2**63) <= v < 2**63 for v in fields.values()):
        return json.dumps(fields).encode()
    return msgspec.msgpack.encode(fields)


def mutated_frame(rng: random.Random) -> Frame:
    """Give a good message spoilt: a field, the form, the length, or the topic."""
    kind = rng.random()
    topic = rng.choice([b"rel/optical", b"rel/radio", b"rel/new"])
    if kind < 0.7:
        payload = encoded(rng, rng.choice(MUTATIONS)(rng, GOOD))
    elif kind < 0.85:
        whole = encoded(rng, GOOD)
        payload = whole[: rng.randrange(len(whole) - 1)]
    elif kind < 0.9:
        payload = encoded(rng, {**GOOD, "more": "x" * 70_000})
    else:
        payload = encoded(rng, GOOD)
        topic = rng.choice([b"", b"rel", b"rel/", b"REL/optical", b"foo/optical", b"rel/\xff"])
    return Frame(T0 + 5.95, topic, payload)


def random_frame(rng: random.Random) -> Frame:
    """Give random bytes under a topic that is right, or is not."""
    topic = rng.choice([b"rel/optical", b"cap/mechanism", b"hb/optical", rng.randbytes(8)])
    return Frame(T0 + 5.95, topic, rng.randbytes(rng.choice([0, 1, 5, 40, 300])))


@pytest.mark.parametrize("mode", list(EngineTime))
@pytest.mark.parametrize("make", [random_frame, mutated_frame])
def test_bad_messages_change_no_state_and_are_counted(
    make: Callable[[random.Random], Frame], mode: EngineTime
) -> None:
    """10,000 bad messages raise nothing, change nothing, and are counted, each by its reason."""
    rng = random.Random(20310411)
    (intake, _), (twin, _) = watching(mode), watching(mode)
    before = state_of(intake)
    reasons: Counter[str] = Counter()
    for _ in range(COUNT):
        frame = make(rng)
        assert intake.frame(frame) == [], frame
        assert not intake.accepted, frame
        reasons[getattr(intake.newest, "reason", "")] += 1
    assert state_of(intake) == before
    assert sum(intake.state.rejects.values()) == COUNT
    assert intake.state.rejects == reasons
    assert "" not in reasons
    assert len(reasons) >= (3 if make is random_frame else 6)
    after = [sample_frame(n / 10, 9.0 - 0.009 * n, n) for n in range(60, 90)]
    logs = [
        [event for frame in after for event in feed_input(one, FrameTaken(0, frame))]
        for one in (intake, twin)
    ]
    assert log_of(logs[0]) == log_of(logs[1])


def test_bad_messages_before_anything_good_change_nothing() -> None:
    """A watch whose first messages are all bad begins with the first good one."""
    rng = random.Random(7)
    intake = Intake(StateModel(load_limits(None), Setup()), EngineTime.RECEIVE)
    for _ in range(200):
        assert intake.frame(mutated_frame(rng)) == []
    assert intake.state.board.sources == {}
    assert intake.state.snapshot().source is None
    assert len(intake.frame(sample_frame(6.0, 9.0, 1))) == 1
