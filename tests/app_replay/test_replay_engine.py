"""Standing anywhere in a pass is the same as having played through to there, byte for byte."""

from __future__ import annotations

import copy
import random
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import msgspec
import pytest
from replay_tools import Flown, flown, record, shown

from console.app.checkpoints import CheckpointBook
from console.app.replay_engine import ReplayEngine
from console.app.replay_inputs import PassInputs, TableInputs, feed, inputs_of
from console.approach.engine_time import EngineTime
from console.approach.event import Phase
from console.approach.intake import Intake
from console.archive.csv_write import write_csv_pass
from console.archive.passes import read_pass
from console.core.records import Frame

encode = msgspec.json.Encoder(order="deterministic").encode

CASES = {
    "nominal": ("nominal", 1.2, EngineTime.RECEIVE, 1200),
    "own time": ("nominal", 1.2, EngineTime.NEWEST, 900),
    "drop-out": ("source_dropout", 6.0, EngineTime.RECEIVE, 700),
    "link loss": ("link_loss", 5.0, EngineTime.RECEIVE, 700),
}


def with_silence(frames: list[Frame]) -> list[Frame]:
    """Cut half a minute out of the middle, and shuffle some that come late."""
    middle = frames[len(frames) // 2].t_received_s
    kept = [f for f in frames if not middle <= f.t_received_s < middle + 30.0]
    kept[40], kept[44] = (
        Frame(kept[40].t_received_s, kept[44].topic, kept[44].payload),
        Frame(kept[44].t_received_s, kept[40].topic, kept[40].payload),
    )
    return kept


@dataclass
class Case:
    """A flown scenario, its event log, and an engine that has read its recording."""

    one: Flown
    log: list[bytes]
    inputs: PassInputs
    engine: ReplayEngine


@pytest.fixture(scope="module", params=CASES, ids=list(CASES))
def case(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Case]:
    """Fly, record and read."""
    scenario, range_m, mode, count = CASES[request.param]
    one = flown(scenario, range_m, mode)
    path = tmp_path_factory.mktemp("pass") / "a.leadmark"
    frames = one.frames[:count]
    log = record(path, one, with_silence(frames) if scenario == "nominal" else frames)
    inputs = inputs_of(read_pass(path))
    engine = ReplayEngine(one.make(), inputs)
    engine.scan.read(10**9)
    yield Case(one, log, inputs, engine)
    engine.close()


def straight(
    one: Flown, inputs: PassInputs, places: list[tuple[int, float | None]]
) -> dict[tuple[int, float | None], bytes]:
    """Give what is known after so many inputs, and at a time, fed without any checkpoint."""
    intake = Intake(one.make(), inputs.mode)
    seen: dict[tuple[int, float | None], bytes] = {}

    def look(number: int, coming_t: float) -> None:
        for count, t in places:
            if count == number and t is None:
                seen[count, t] = shown(intake.state)
            elif count == number and t is not None:
                twin = copy.deepcopy(intake)
                if inputs.mode is EngineTime.RECEIVE:
                    twin.advance(min(t, coming_t))
                seen[count, t] = shown(twin.state)

    number = 0
    for number, given in enumerate(inputs.given()):
        look(number, given.t)
        feed(intake, given.item)
    look(number + 1, intake.now)
    return seen


def test_reading_finds_the_log(case: Case) -> None:
    """Read once from begin to end, the events are those of the recording, to the byte."""
    scan = case.engine.scan
    assert scan.is_done
    assert case.log == [encode(found.event) for found in scan.events]
    assert [f.t for f in scan.events] == sorted(f.t for f in scan.events)
    assert len(scan.book) > 3


def test_random_seeks_show_what_playing_through_shows(case: Case) -> None:
    """After any order of seeks the snapshot and the register are those of a straight run."""
    engine, scan = case.engine, case.engine.scan
    rng = random.Random(5)
    begin, end = scan.time_at(1), scan.reach_t
    times = [rng.uniform(begin, end) for _ in range(12)]
    found: dict[tuple[int, float | None], bytes] = {}
    for t in times:
        engine.seek_time(t)
        if rng.random() < 0.6:
            found[engine.count, t] = shown(engine.state)
        count = rng.randrange(1, scan.count + 1)
        engine.seek_count(count)
        if rng.random() < 0.6:
            found[count, None] = shown(engine.state)
            assert engine.trail.count == engine.state.judged
    assert len(found) > 8
    assert straight(case.one, case.inputs, list(found)) == found


def test_pieces_between_seeks_make_the_whole_log(case: Case) -> None:
    """Stretches played after seeks in any order, put together, are the event log to the byte."""
    engine = case.engine
    rng = random.Random(7)
    count = engine.scan.count
    cuts = sorted({0, count, *rng.sample(range(1, count), 7)})
    pieces: dict[int, list[bytes]] = {}
    stretches = list(pairwise(cuts))
    rng.shuffle(stretches)
    for first, last in stretches:
        engine.seek_count(first)
        found = []
        while engine.count < last:
            events, _ = engine.play_to(engine.scan.reach_t, most=last - engine.count)
            found += [encode(event) for event in events]
        pieces[first] = found
    assert case.log == [line for first in sorted(pieces) for line in pieces[first]]


def test_small_steps_of_a_clock_change_nothing(case: Case) -> None:
    """Played in frames of a screen the events are those of the log, in order."""
    engine = case.engine
    engine.seek_count(0)
    t, found = engine.scan.time_at(1), []
    while not engine.is_at_end:
        events, reached = engine.play_to(t, most=10)
        found += events
        t += 0.033 if reached else 0.0
    assert case.log == [encode(event) for event in found]


def test_table_replays_in_its_order(tmp_path: Path) -> None:
    """A CSV table with statuses replays like its records fed one by one, after any seek."""
    one = flown("nominal", 1.2, EngineTime.NEWEST)
    path = tmp_path / "a.leadmark"
    record(path, one, one.frames[:900])
    table = tmp_path / "a.csv"
    write_csv_pass(table, read_pass(path).records())
    inputs = inputs_of(read_pass(table))
    assert isinstance(inputs, TableInputs)
    engine = ReplayEngine(one.make(), inputs)
    engine.scan.read(10**9)
    rng = random.Random(3)
    found: dict[tuple[int, float | None], bytes] = {}
    for count in [engine.scan.count, *rng.sample(range(1, engine.scan.count), 6)]:
        engine.seek_count(count)
        found[count, None] = shown(engine.state)
    assert straight(one, inputs, list(found)) == found
    engine.close()


def test_silence_off_the_beat_of_ticks_finds_what_one_step_finds() -> None:
    """What falls due in a silence is found alike by steps of 33 ms, of 1 s and by a single one."""
    one = flown("nominal", 1.2, EngineTime.RECEIVE)
    intake = Intake(one.make(), EngineTime.RECEIVE)
    seen = 0
    for frame in one.frames:
        intake.frame(frame)
        seen += intake.state.phases.phase is Phase.HOOKS
        if seen == 72:
            break
    end = intake.now + 100.0
    logs = []
    for step_s in (0.033, 1.0, 100.0):
        twin, found = copy.deepcopy(intake), []
        while twin.now < end:
            found += twin.advance(min(twin.now + step_s, end))
        logs.append([encode(event) for event in found])
    assert any(b"capture:hook" in line for line in logs[0])
    assert logs[0] == logs[1] == logs[2]


def test_checkpoints_stay_within_their_memory() -> None:
    """With little memory every second checkpoint goes, the first stays, and each still serves."""
    one = flown("nominal", 2.2, EngineTime.RECEIVE)
    intake = Intake(one.make(), EngineTime.RECEIVE)
    book = CheckpointBook(intake, budget=400_000)
    states: dict[int, bytes] = {}
    for count, frame in enumerate(one.frames[:900]):
        if count % 20 == 0:
            book.keep(count, (count, 0), 0, None)
            states[count] = shown(intake.state)
        intake.frame(frame)
    assert book.spacing > 1
    assert book.size < 450_000
    assert book.before(0).count == 0
    for count in (0, 300, 899):
        kept = book.before(count)
        assert states[kept.count] == shown(book.restored(kept).state)
