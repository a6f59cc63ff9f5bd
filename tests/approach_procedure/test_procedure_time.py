"""Time alone: what falls due in silence, and that the way time passes changes no event."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from procedure_tools import Watch, procedure_of, step

from console.approach.action import PollAnswer, ReleaseHold, Shelve, StepDone
from console.approach.event import ExceedanceRaised, StepFellDue, Unshelved

PROCEDURE = procedure_of(
    step("lights", '{ phase = "hold" }', "overdue_s = 40"),
    step("later", '{ after = "hold", after_s = 100 }', "overdue_s = 500"),
    step("next", '{ after_step = "lights", after_s = 7 }'),
)


def silent_watch() -> Watch:
    """Give a watch that held for 10 s with something shelved; then its data stops."""
    watch = Watch(PROCEDURE)
    watch.stand(20.0, 10.0)
    shelve = Shelve("MK", "roll-caution", None, "caution", "known", 60.0)
    watch.act(shelve)
    return watch


def lines(watch: Watch) -> bytes:
    """Give all events as they are recorded."""
    return b"\n".join(msgspec.json.encode(event) for event in watch.events)


def test_shelvings_end_and_steps_grow_overdue_though_no_data_comes() -> None:
    """Long after every age has been told."""
    watch = silent_watch()
    began = watch.t
    watch.wait(400.0)
    (back,) = watch.of(Unshelved)
    assert back.t == pytest.approx(began + 60.0, abs=0.11)
    raised = {event.id: event.t for event in watch.of(ExceedanceRaised)}
    due = {event.step: event.t for event in watch.of(StepFellDue)}
    assert raised["step:lights"] == pytest.approx(due["lights"] + 40.0, abs=0.11)
    assert due["later"] == pytest.approx(due["lights"] + 100.0, abs=0.2)


@settings(max_examples=40)
@given(st.lists(st.floats(0.01, 120.0), min_size=1, max_size=12))
def test_silence_in_pieces_gives_the_same_events_as_silence_at_once(pieces: list[float]) -> None:
    """However time is cut, to the byte."""
    once, cut = silent_watch(), silent_watch()
    for piece in pieces:
        cut.wait(piece)
    once.t = cut.t
    once.events += once.intake.advance(once.t)
    assert lines(once) == lines(cut)


def test_a_gap_of_years_costs_nothing_and_ends_what_has_a_time() -> None:
    """Ten years of silence in one step."""
    watch = silent_watch()
    watch.wait(10 * 365.25 * 86400.0)
    assert len(watch.of(Unshelved)) == 1
    assert {"step:lights", "step:later"} <= {event.id for event in watch.of(ExceedanceRaised)}


ACTIONS = st.one_of(
    st.sampled_from(["step:lights", "step:later", "step:next", "step:none"]).map(
        lambda key: StepDone("MK", key)
    ),
    st.tuples(
        st.sampled_from(["navigation", "console", "bridge"]),
        st.sampled_from(["go", "no-go", "not yet", "perhaps"]),
    ).map(lambda pair: PollAnswer("MK", "go-20", pair[0], pair[1])),
    st.just(ReleaseHold("MK")),
    st.floats(-1.0, 40.0).map(
        lambda for_s: Shelve("MK", "roll-caution", None, "caution", "known", for_s)
    ),
)
MOVES = st.tuples(st.floats(14.0, 24.0), st.floats(1.0, 8.0))


@settings(max_examples=50)
@given(st.lists(st.one_of(ACTIONS, MOVES, st.floats(0.1, 20.0)), max_size=15))
def test_asking_for_snapshots_changes_no_event_and_nothing_ever_raises(moments: list) -> None:
    """Random moves, silences and deeds, watched and unwatched, to the byte."""
    plain, looked = Watch(PROCEDURE), Watch(PROCEDURE)
    for watch in (plain, looked):
        at_m = 20.0
        watch.stand(at_m, 3.0)
        for moment in moments:
            if isinstance(moment, float):
                watch.wait(moment)
            elif isinstance(moment, tuple):
                watch.move(at_m, moment[0], moment[1])
                at_m = moment[0]
            else:
                watch.act(moment)
            if watch is looked:
                watch.state.snapshot()
    assert lines(plain) == lines(looked)
    assert_release_only_after_every_go(plain)


def assert_release_only_after_every_go(watch: Watch) -> None:
    """Hold the events against a naive reading: no release of the 20 m hold without every go."""
    said = {"navigation": "not yet", "console": "not yet"}
    for event in watch.events:
        match msgspec.to_builtins(event):
            case {"kind": "poll"}:
                said = dict.fromkeys(said, "not yet")
            case {"kind": "answer", "position": position, "answer": word}:
                said[position] = word
            case {"kind": "release", "range_m": 20.0}:
                assert set(said.values()) == {"go"}
