"""Engine time: ticks follow from the inputs alone, and what is fed again is found again."""

from __future__ import annotations

import copy
import time

import pytest
from approach_tools import T0, Run, closing, limit, limits_file, lines, sample
from random_inputs import play, random_steps

from console.approach.engine_time import EngineTime
from console.approach.event import AnyEvent, Event
from console.approach.intake import Intake
from console.approach.state import StateModel
from console.core.records import Frame
from console.envelope.limits import Basis, DataRules, Level
from console.envelope.quantity import Quantity
from console.envelope.setup import Setup
from console.wire.encode import encode

YEAR_S = 365.25 * 86400.0
LIMITS = limits_file(
    limit(),
    limit("est", basis=Basis.ESTIMATED, level=Level.CAUTION, on_delay_s=0.3, off_delay_s=0.5),
    limit("roll", quantity=Quantity.ROLL, on_delay_s=0.1),
    limit("gap", quantity=Quantity.SOURCE_GAP),
)


class Ticks(StateModel):
    """A state model that notes when it was ticked and fed."""

    def __init__(self, *args: object, **options: object) -> None:
        super().__init__(*args, **options)  # type: ignore[arg-type]
        self.log: list[tuple[str, float]] = []

    def tick(self, engine_s: float) -> list[AnyEvent]:
        """Note the tick."""
        self.log.append(("tick", engine_s))
        return super().tick(engine_s)

    def take_sample(self, one: object, engine_s: float) -> list[AnyEvent]:
        """Note the sample."""
        self.log.append(("sample", engine_s))
        return super().take_sample(one, engine_s)  # type: ignore[arg-type]


def intake_of(mode: EngineTime, limits: object = None) -> tuple[Ticks, Intake]:
    """Give an intake over a model that notes its ticks."""
    state = Ticks(limits or LIMITS, Setup())
    return state, Intake(state, mode)


def frame(at_s: float, past_s: float, seq: int) -> Frame:
    """Give a sample's frame received so many seconds past the start."""
    return Frame(T0 + at_s, *encode(sample(past_s, 9.0, seq)))


def test_ticks_stand_at_tenths_before_the_next_frame() -> None:
    """Every whole tenth passed is ticked, once, before the frame that passes it."""
    state, intake = intake_of(EngineTime.RECEIVE)
    for at_s in (0.03, 0.05, 0.10, 0.31, 0.31, 0.69):
        intake.frame(frame(at_s, at_s, round(at_s * 100)))
    expected = [
        ("sample", 0.03), ("sample", 0.05), ("tick", 0.1), ("sample", 0.10), ("tick", 0.2),
        ("tick", 0.3), ("sample", 0.31), ("tick", 0.4), ("tick", 0.5), ("tick", 0.6),
        ("sample", 0.69),
    ]  # fmt: skip
    assert expected == [(kind, round(t - T0, 6)) for kind, t in state.log]


def test_newest_t_carries_time_where_it_should() -> None:
    """In the other mode receive times say nothing and the newest ``t`` carries the ticks."""
    state, intake = intake_of(EngineTime.NEWEST)
    for n, past_s in enumerate((0.03, 0.25, 0.11, 0.25)):
        intake.frame(frame(1000.0 * n, past_s, n))
    assert [round(t - T0, 6) for kind, t in state.log if kind == "tick"] == [0.1, 0.2]
    assert intake.now == T0 + 0.25


def test_time_never_runs_backwards() -> None:
    """A clock that is set back ticks nothing twice and moves engine time nowhere."""
    state, intake = intake_of(EngineTime.RECEIVE)
    for n, at_s in enumerate((1.0, 0.2, 1.05, -500.0, 1.2)):
        intake.frame(frame(at_s, at_s if at_s > 0 else 0.0, n))
        intake.advance(T0 + at_s - 3.0)
    ticks = [t for kind, t in state.log if kind == "tick"]
    assert sorted(set(ticks)) == ticks
    assert intake.now == T0 + 1.2


@pytest.mark.parametrize("gap_s", [0.9, 1.05, 4.0, 5.2, 8.0, 30.0, 1300.0])
@pytest.mark.parametrize("pieces", [1, 7, 50])
def test_a_gap_in_one_step_or_in_many_is_the_same(gap_s: float, pieces: int) -> None:
    """Ticks come from engine time, not from how often it is told to go on."""
    whole, parts = Run(LIMITS), Run(LIMITS)
    for run in (whole, parts):
        run.feed(*closing(0, 2, 15.0))
    for n in range(1, pieces + 1):
        parts.wait(1.9 + gap_s * n / pieces)
    for run in (whole, parts):
        run.feed(*closing(round(2 + gap_s, 1), round(5 + gap_s, 1), 14.0))
    assert lines(whole.events) == lines(parts.events)


@pytest.mark.parametrize("seed", range(6))
def test_leaving_out_idle_ticks_changes_no_event(seed: int) -> None:
    """Ticked through every gap, or left idle once all is lost: the same events."""
    found = []
    for is_awake in (False, True):
        intake = Intake(StateModel(LIMITS, Setup()), EngineTime.RECEIVE)
        if is_awake:
            intake._awake_s = 1e9
        events: list[AnyEvent] = []
        for step in random_steps(seed, 250):
            events += play(intake, step)
        found.append(lines(events))
    assert found[0] == found[1]
    assert len(found[0]) > 30


def test_years_of_silence_cost_nothing() -> None:
    """A gap of years in a table or a watch is passed in no time and leaves no trace."""
    begin = time.perf_counter()
    run = Run(LIMITS)
    for n in range(20):
        run.feed(*closing(0.0 + n * 3 * YEAR_S, 0.3 + n * 3 * YEAR_S, 15.0))
    assert time.perf_counter() - begin < 2.0
    ids = [event.id for event in run.events if type(event).__name__ == "ExceedanceRaised"]
    assert {name: ids.count(name) for name in set(ids)} == {"data:stale": 19, "data:link": 19}


def test_age_goes_on_through_a_long_silence() -> None:
    """What a snapshot says of the data's age grows with time, ticked or not."""
    run = Run(LIMITS, mode=EngineTime.RECEIVE)
    run.receive(0.0, sample(0.0, 9.0))
    for past_s in (3.0, 60.0, 86400.0):
        run.wait(past_s)
        assert past_s == pytest.approx(run.state.snapshot().age_s)


def test_lost_after_a_long_time_is_still_found_on_its_tick() -> None:
    """The idle rule waits for the limits file's own ages."""
    run = Run(limits_file(data=DataRules(80.0, 90.0)))
    run.feed(*closing(0, 2, 15.0))
    run.wait(500.0)
    raised = [
        (e.id, round(e.t - T0)) for e in run.events if type(e).__name__ == "ExceedanceRaised"
    ]
    assert raised == [("data:stale", 82), ("data:link", 92)]


@pytest.mark.parametrize("mode", list(EngineTime))
@pytest.mark.parametrize("seed", range(4))
def test_same_inputs_give_the_same_bytes(seed: int, mode: EngineTime) -> None:
    """Fed twice, inputs give the same events to the byte."""
    logs = []
    for _ in range(2):
        intake = Intake(StateModel(LIMITS, Setup()), mode)
        events: list[AnyEvent] = []
        for step in random_steps(100 + seed):
            events += play(intake, step)
        logs.append(lines(events))
    assert logs[0] == logs[1]
    assert len(logs[0]) > 20


@pytest.mark.parametrize("mode", list(EngineTime))
@pytest.mark.parametrize("seed", range(4))
def test_a_copy_goes_on_as_the_original(seed: int, mode: EngineTime) -> None:
    """A deep copy of the intake at any moment finds what the original finds: a checkpoint."""
    steps = random_steps(200 + seed, 300)
    intake = Intake(StateModel(LIMITS, Setup()), mode)
    copies: list[tuple[int, int, Intake]] = []
    log: list[AnyEvent] = []
    for number, step in enumerate(steps):
        if number % 60 == 30:
            copies.append((number, len(log), copy.deepcopy(intake)))
        log += play(intake, step)
    for number, found_before, twin in copies:
        own: list[AnyEvent] = []
        for step in steps[number:]:
            own += play(twin, step)
        assert lines(log[found_before:]) == lines(own)
        assert repr(intake.state.snapshot()) == repr(twin.state.snapshot())


@pytest.mark.parametrize("mode", list(EngineTime))
@pytest.mark.parametrize("seed", range(5))
def test_asking_for_snapshots_changes_no_event(seed: int, mode: EngineTime) -> None:
    """Asked at every input, now and then, or never: the same events to the byte."""
    steps = random_steps(300 + seed, 300)
    logs = []
    for every in (0, 1, 7):
        intake = Intake(StateModel(LIMITS, Setup()), mode)
        events: list[AnyEvent] = []
        for number, step in enumerate(steps):
            if every and number % every == 0:
                intake.state.snapshot()
                intake.state.snapshot()
            events += play(intake, step)
        logs.append((lines(events), repr(intake.state.snapshot())))
    assert logs[0] == logs[1] == logs[2]


@pytest.mark.parametrize("seed", range(4))
def test_events_come_with_times_of_their_own(seed: int) -> None:
    """Every event carries a time of the pass: none is before the start or in another age."""
    intake = Intake(StateModel(LIMITS, Setup()), EngineTime.RECEIVE)
    events: list[Event] = []
    for step in random_steps(400 + seed):
        events += play(intake, step)
    assert all(T0 - 5.0 <= event.t <= intake.now + 1.0 for event in events)
