"""The snapshot: complete in every phase, and never sure of what is not known."""

from __future__ import annotations

import dataclasses
import math

import pytest
from approach_tools import RADIO, T0, Run, closing, limit, limits_file, sample, status
from hypothesis import given, settings
from hypothesis import strategies as st
from random_inputs import play, random_steps

from console.approach.engine_time import EngineTime
from console.approach.event import Phase
from console.approach.intake import Intake
from console.approach.snapshot import LimitNow, Snapshot, Verdict
from console.approach.state import StateModel
from console.envelope.limits import Basis, Curve
from console.envelope.quantity import Quantity
from console.envelope.setup import Setup
from console.tracking.outlook import Motion

LIMITS = limits_file(
    limit("measured"),
    limit("estimated", basis=Basis.ESTIMATED),
    limit("rate", quantity=Quantity.LATERAL_RATE),
    limit("gap", quantity=Quantity.SOURCE_GAP),
    limit("far", curve=Curve((50.0, 60.0), (1.0, 1.0))),
)


def verdicts(snapshot: Snapshot) -> dict[str, Verdict]:
    """Give each limit's verdict."""
    return {one.id: one.verdict for one in snapshot.limits}


def numbers_of(value: object) -> list[float]:
    """Give every float anywhere inside a value."""
    if isinstance(value, float):
        return [value]
    if isinstance(value, dict):
        return [n for each in value.values() for n in numbers_of(each)]
    if isinstance(value, (list, tuple)):
        return [n for each in value for n in numbers_of(each)]
    if dataclasses.is_dataclass(value):
        names = [field.name for field in dataclasses.fields(value)]
        return [n for name in names for n in numbers_of(getattr(value, name))]
    if hasattr(value, "__struct_fields__"):
        return [n for name in value.__struct_fields__ for n in numbers_of(getattr(value, name))]
    return []


def stations() -> list[tuple[Phase, Run]]:
    """Give a run standing in each phase there is."""
    made: list[tuple[Phase, Run]] = []

    def at(phase: Phase, *parts: object) -> None:
        run = Run(LIMITS)
        for part in parts:
            if isinstance(part, float):
                run.wait(part)
            else:
                run.feed(*part)  # type: ignore[misc]
        made.append((phase, run))

    inward = closing(0, 6, 15.0)
    touch = [*closing(0, 9, 0.8), status(9.0, contact=True)]
    soft = status(10.0, soft_capture=True)
    moving = status(11.0, rel_rate_mps=0.01)
    at(Phase.WAITING, [sample(0.0, 9.0)])
    at(Phase.HOLD, closing(0, 6, 15.0, 0.0))
    at(Phase.APPROACH, inward)
    at(Phase.HANDS_OFF, closing(0, 6, 2.0))
    at(Phase.RETREAT, closing(0, 6, 15.0, 0.2))
    at(Phase.ABORT, closing(0, 6, 15.0, 1.0))
    at(Phase.DATA_LOST, inward, 30.0)
    at(Phase.CONTACT, touch)
    at(Phase.SOFT_CAPTURE, [*touch, soft])
    at(Phase.DAMPING, [*touch, soft, moving])
    at(Phase.RING_RETRACTION, [*touch, soft, moving, status(12.0, ring_extension=0.5)])
    ready = status(12.5, ready_to_hook=(True, True))
    at(Phase.READY_TO_HOOK, [*touch, soft, moving, ready])
    at(Phase.HOOKS, [*touch, soft, moving, status(13.0, hooks=(0.5,) * 12)])
    at(Phase.HOOKS_CLOSED, [*touch, soft, moving, status(13.5, hooks=(1.0,) * 12)])
    at(Phase.HARD_CAPTURE, [*touch, soft, moving, status(14.0, hard_capture=True)])
    return made


def test_every_phase_but_docked_can_be_reached() -> None:
    """The stations of these tests stand where they say."""
    made = stations()
    assert [phase for phase, _ in made] == [run.state.phases.phase for _, run in made]
    assert set(Phase) - {Phase.DOCKED} == {phase for phase, _ in made}


@pytest.mark.parametrize("place", range(15))
def test_snapshot_is_complete_in_every_phase(place: int) -> None:
    """In every phase the snapshot tells phase, calls and sources, and no number is NaN."""
    phase, run = stations()[place]
    snapshot = run.state.snapshot()
    assert phase is snapshot.phase
    assert snapshot.source == "optical"
    assert snapshot.measured is not None
    assert snapshot.sources
    assert snapshot.phase_since <= snapshot.t
    assert snapshot.calls or phase is Phase.ABORT
    assert not any(math.isnan(n) for n in numbers_of(snapshot))
    after_contact = snapshot.contact_t is not None
    assert after_contact == (snapshot.capture is not None)
    if after_contact:
        assert snapshot.to_contact.best_s is None
        assert snapshot.at_contact is None
        assert Motion.UNKNOWN is snapshot.motion


def test_nothing_heard_is_a_snapshot_too() -> None:
    """Before anything is heard all is unknown, and that can be shown."""
    snapshot = Run(LIMITS).state.snapshot()
    assert Phase.WAITING is snapshot.phase
    assert snapshot.source is None
    assert snapshot.estimate is None
    assert snapshot.limits == ()
    assert snapshot.capture is None


def test_closing_shows_everything_that_is_to_come() -> None:
    """On the way in every derived figure stands there."""
    run = Run(LIMITS)
    run.feed(*closing(0, 10, 15.0))
    snapshot = run.state.snapshot()
    assert Motion.CLOSING is snapshot.motion
    assert snapshot.next_mark_m == 10.0
    times = [snapshot.to_next_mark, snapshot.to_hands_off, snapshot.to_contact]
    best = [one.best_s for one in times]
    assert None not in best
    assert sorted(best) == best
    for one in times:
        assert one.low_s <= one.best_s <= one.high_s
    assert snapshot.at_contact is not None
    assert snapshot.stop is not None
    assert snapshot.stop.hold_call_s == pytest.approx(run.state.hold_call_s())
    assert snapshot.path
    assert next(line.key for line in snapshot.calls if line.state == "next") == "mark:10"


def test_unknown_value_is_never_inside() -> None:
    """A limit whose value nobody knows is unknown; a curve that ends claims no limit."""
    run = Run(LIMITS)
    run.feed(sample(0.0, 9.0, y_rate_mps=None))
    seen = verdicts(run.state.snapshot())
    assert Verdict.INSIDE is seen["measured"]
    assert Verdict.UNKNOWN is seen["estimated"]
    assert Verdict.UNKNOWN is seen["rate"]
    assert Verdict.UNKNOWN is seen["gap"]
    far = next(one for one in run.state.snapshot().limits if one.id == "far")
    assert far.limit is None
    assert far.margin is None


def test_stale_data_makes_every_verdict_unknown() -> None:
    """From ``stale_after_s`` on nothing is inside, and nothing is outside."""
    run = Run(LIMITS, mode=EngineTime.RECEIVE)
    for one in closing(0, 10, 15.0):
        run.receive(one.t - T0, one)
    assert Verdict.INSIDE is verdicts(run.state.snapshot())["measured"]
    run.wait(10.8)
    assert Verdict.INSIDE is verdicts(run.state.snapshot())["measured"]
    run.wait(10.95)
    snapshot = run.state.snapshot()
    assert {Verdict.UNKNOWN} == set(verdicts(snapshot).values())
    assert snapshot.stale
    assert snapshot.coasted


def test_countdowns_grow_wider_while_coasted_and_go_blank() -> None:
    """Coasted, a countdown goes on with growing bounds until it is withdrawn."""
    run = Run(setup=dataclasses.replace(Setup(), withdraw_s=12.0))
    run.feed(*closing(0, 20, 12.0))
    widths, bests = [], []
    for past_s in (19.9, 21.5, 24.0, 28.0, 31.5):
        run.wait(past_s)
        contact = run.state.snapshot().to_contact
        bests.append(contact.best_s)
        widths.append(contact.high_s - contact.low_s)
    assert sorted(widths) == widths
    assert sorted(bests, reverse=True) == bests
    run.wait(32.0)
    snapshot = run.state.snapshot()
    assert snapshot.withdrawn
    assert snapshot.to_contact.best_s is None
    assert snapshot.to_hands_off.best_s is None
    assert snapshot.to_next_mark.best_s is None
    assert snapshot.path == ()


def test_state_carried_for_minutes_is_forgotten() -> None:
    """After ten minutes without data the estimate is unknown, not a number far away."""
    run = Run()
    run.feed(*closing(0, 20, 12.0))
    run.wait(19.9 + 600.0)
    assert run.state.snapshot().estimate is not None
    run.wait(19.9 + 601.0)
    snapshot = run.state.snapshot()
    assert snapshot.estimate is None
    assert snapshot.stop is None
    assert Motion.UNKNOWN is snapshot.motion


def test_gap_between_sources_is_shown_and_unknown_when_stale() -> None:
    """The other source's range is compared at one time, and not at all when it is stale."""
    run = Run()
    run.feed(sample(0.0, 9.0), sample(0.0, 9.3, source=RADIO), sample(0.5, 8.955))
    gap = {one.source: one.gap_m for one in run.state.snapshot().sources}
    assert gap["optical"] is None
    assert pytest.approx(gap["radio"], abs=1e-9) == 0.3
    run.feed(sample(1.2, 8.9), sample(2.0, 8.8))
    gap = {one.source: one.gap_m for one in run.state.snapshot().sources}
    assert gap["radio"] is None


def test_link_gap_is_kept_with_its_ends() -> None:
    """A stretch without data is open while it lasts and closed by the next sample."""
    run = Run()
    run.feed(*closing(0, 3, 15.0))
    run.wait(6.0)
    (gap,) = run.state.snapshot().link_gaps
    assert (gap.t_start, gap.t_end) == (T0 + 2.9, None)
    run.feed(*closing(9, 10, 14.2))
    (gap,) = run.state.snapshot().link_gaps
    assert (gap.t_start, gap.t_end) == (T0 + 2.9, T0 + 9.0)


def test_counts_tell_what_never_reached_the_state() -> None:
    """Rejects by reason and what overflowed stand in the snapshot."""
    run = Run()
    run.intake.reject("not a map", 3)
    run.intake.reject("missing field")
    run.state.overflowed = 7
    counts = run.state.snapshot().counts
    assert (counts.rejected, counts.overflowed) == (4, 7)
    assert counts.rejects_by_reason == (("missing field", 1), ("not a map", 3))


@settings(max_examples=25)
@given(st.integers(0, 10_000), st.sampled_from(list(EngineTime)))
def test_no_snapshot_is_ever_sure_of_what_is_not_known(seed: int, mode: EngineTime) -> None:
    """An unknown value is never inside, no number is NaN, no age negative, whatever comes."""
    intake = Intake(StateModel(LIMITS, Setup()), mode)
    for number, step in enumerate(random_steps(seed, 120)):
        play(intake, step)
        if number % 5:
            continue
        snapshot = intake.state.snapshot()
        assert not any(math.isnan(n) for n in numbers_of(snapshot))
        for one in snapshot.limits:
            check_verdict(one, is_stale=snapshot.stale)
        assert all(s.age_s is None or s.age_s >= 0.0 for s in snapshot.sources)
        assert snapshot.age_s is None or snapshot.age_s >= 0.0


def check_verdict(one: LimitNow, *, is_stale: bool) -> None:
    """Hold a verdict against its own value and limit."""
    if is_stale or one.value is None:
        assert Verdict.UNKNOWN is one.verdict
    elif one.limit is None:
        assert one.margin is None
        assert one.verdict not in (Verdict.OUTSIDE, Verdict.CAUTION)
    else:
        assert (one.value > one.limit) == (one.verdict is not Verdict.INSIDE)
