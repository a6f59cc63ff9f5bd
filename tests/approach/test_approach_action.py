"""What the operator does: acknowledging, notes, calls said, holds released."""

from __future__ import annotations

import pytest
from approach_tools import T0, Run, closing, limit, limits_file, sample, status

from console.approach.action import (
    Acknowledge,
    AcknowledgeAll,
    AnyAction,
    Note,
    ReleaseHold,
    Say,
)
from console.approach.event import (
    Acknowledged,
    AnyEvent,
    CallMade,
    ExceedanceRaised,
    HoldReleased,
    NoteMade,
)

FAST = {"range_rate_mps": -0.5}


def act(run: Run, past_s: float, action: AnyAction) -> list[AnyEvent]:
    """Act so many seconds past the start."""
    found = run.intake.action(T0 + past_s, action)
    run.events += found
    return found


def two_standing() -> Run:
    """Give a run in which two limits' exceedances stand."""
    run = Run(limits_file(limit("one"), limit("two")))
    run.feed(sample(0.0, 9.0, **FAST))
    return run


def test_one_exceedance_is_acknowledged_by_its_key() -> None:
    """Acknowledging names one exceedance; it goes on standing, known to somebody."""
    run = two_standing()
    key = run.of(ExceedanceRaised)[0].key
    (event,) = act(run, 0.5, Acknowledge("AB", key))
    assert isinstance(event, Acknowledged)
    assert (key, "one", "AB", T0 + 0.5) == (event.key, event.id, event.initials, event.t)
    shown = {e.key: e for e in run.state.snapshot().exceedances}
    assert (shown[key].acknowledged_by, shown[key].acknowledged_t) == ("AB", T0 + 0.5)
    assert shown[key].cleared is None
    assert sum(e.acknowledged_by is None for e in shown.values()) == 1


def test_acknowledging_twice_or_nothing_is_no_event() -> None:
    """A key that is unknown or does not wait any more gives no event and no error."""
    run = two_standing()
    key = run.of(ExceedanceRaised)[0].key
    act(run, 0.5, Acknowledge("AB", key))
    assert act(run, 0.6, Acknowledge("CD", key)) == []
    assert act(run, 0.7, Acknowledge("CD", "no such key")) == []


def test_all_that_waits_is_acknowledged_in_the_order_raised() -> None:
    """Acknowledging all takes what stands and what has cleared unseen."""
    run = two_standing()
    run.feed(sample(0.1, 9.0), sample(0.2, 9.0, **FAST))
    raised = [event.key for event in run.of(ExceedanceRaised)]
    found = act(run, 0.5, AcknowledgeAll("AB"))
    assert raised == [event.key for event in found if isinstance(event, Acknowledged)]
    assert len(raised) == 4
    assert act(run, 0.6, AcknowledgeAll("AB")) == []


def test_note_is_kept_with_its_time() -> None:
    """A note is an event at the moment it was given, and stands on the time strip."""
    run = two_standing()
    (event,) = act(run, 3.25, Note("AB", "crew reports plume"))[-1:]
    assert isinstance(event, NoteMade)
    assert (event.t, event.initials, event.text) == (T0 + 3.25, "AB", "crew reports plume")
    assert ("note", "crew reports plume") in {
        (one.kind, one.label) for one in run.state.snapshot().timeline
    }


@pytest.mark.parametrize(("range_m", "useful"), [(9.0, True), (2.1, False), (1.5, False)])
@pytest.mark.parametrize("call", ["hold", "retreat", "abort"])
def test_stop_call_says_whether_it_was_useful(range_m: float, useful: bool, call: str) -> None:
    """A stop call is useful as long as it still halts the vehicle outside the hands-off range."""
    run = Run()
    run.feed(*closing(0, 5, range_m + 0.45))
    (event,) = act(run, 4.9, Say("AB", call))
    assert isinstance(event, CallMade)
    assert useful is event.was_useful


def test_other_calls_and_calls_while_holding_claim_no_use() -> None:
    """A mark said is no stop call, and a vehicle that holds needs none."""
    run = Run()
    run.feed(*closing(0, 5, 9.0))
    (event,) = act(run, 4.9, Say("AB", "mark:10"))
    assert isinstance(event, CallMade)
    assert event.was_useful is None
    still = Run()
    still.feed(*closing(0, 8, 9.0, 0.0))
    (event,) = act(still, 7.9, Say("AB", "hold"))
    assert isinstance(event, CallMade)
    assert event.was_useful is None


def test_last_useful_call_charges_the_datas_age() -> None:
    """Each second without data takes two off: one has passed, one is the data's age."""
    run = Run()
    run.feed(*closing(0, 10, 9.0))
    first = run.state.hold_call_s()
    run.wait(12.9)
    second = run.state.hold_call_s()
    assert first is not None
    assert second is not None
    assert pytest.approx(first - second, abs=0.2) == 6.0


def test_released_hold_names_its_range() -> None:
    """A release says where the vehicle stands, unless the operator says it."""
    run = Run()
    run.feed(*closing(0, 8, 20.0, 0.0))
    (event,) = act(run, 7.9, ReleaseHold("AB"))
    assert isinstance(event, HoldReleased)
    assert pytest.approx(event.range_m, abs=0.1) == 20.0
    (event,) = act(run, 8.0, ReleaseHold("AB", 19.0))
    assert isinstance(event, HoldReleased)
    assert event.range_m == 19.0


@pytest.mark.parametrize(
    "action",
    [
        Acknowledge("A", "x"), AcknowledgeAll("A"), Note("A", "x"), Say("A", "hold"),
        Say("A", "no such call"), ReleaseHold("A"),
    ],
)  # fmt: skip
def test_every_action_is_taken_at_any_time(action: AnyAction) -> None:
    """Before anything was heard, while closing, when lost, after contact: no action fails."""
    run = Run()
    act(run, 0.0, action)
    run.feed(*closing(1, 3, 9.0))
    act(run, 3.0, action)
    act(run, 20.0, action)
    act(run, 5000.0, action)
    run.feed(status(5001.0, contact=True, soft_capture=True))
    act(run, 5002.0, action)
    run.state.snapshot()
