"""From contact to docked by statuses: order, what is implied, contradicts, or parts."""

from __future__ import annotations

import copy
import itertools

import pytest
from capture_cases import (
    CLOSED,
    HARD,
    HOOKS,
    RING_IN,
    SOFT,
    T0,
    Watch,
    every,
    lines,
    sample,
    status,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from console.approach.event import CaptureStep, Phase, PhaseChanged, SourceChanged
from console.approach.phase import CHAIN
from console.core.records import CaptureStatus


def phases(watch: Watch) -> list[Phase]:
    """Give the phases entered."""
    return [change.phase for change in watch.of(PhaseChanged)]


def test_each_phase_with_its_own_evidence():
    """Fed link by link, each phase is entered when its evidence comes, with it as the reason."""
    watch = Watch()
    fed = (
        ({"contact": True}, "contact reported"),
        ({"soft_capture": True}, "soft capture reported"),
        ({"rel_rate_mps": 0.05}, "relative motion reported after soft capture"),
        ({"ring_extension": 0.9}, "ring retracting"),
        ({"ring_extension": 0.0, "ready_to_hook": (True, True)}, "ready to hook on every sensor"),
        ({"hooks": (0.1,) * HOOKS}, "hooks driving"),
        ({"hooks": (1.0,) * HOOKS}, "every hook closed"),
        ({"hard_capture": True}, "hard capture reported"),
    )
    for n, (fields, reason) in enumerate(fed):
        watch.feed(status(float(n), **fields))
        change = watch.of(PhaseChanged)[-1]
        assert (change.phase, change.evidence, change.t) == (CHAIN[n], reason, T0 + n)
    assert phases(watch) == list(CHAIN[:8])


def test_a_missed_status_is_walked_through_and_said_so():
    """A phase that was never shown itself is passed in order, and named as not seen."""
    watch = Watch()
    watch.feed(status(0, **SOFT), status(1, hooks=(0.5,) * HOOKS))
    assert phases(watch) == list(CHAIN[:6])
    reasons = [change.evidence for change in watch.of(PhaseChanged)]
    assert reasons[2:] == ["not seen itself: hooks driving"] * 3 + ["hooks driving"]


@pytest.mark.parametrize("count", [1, 8, 12, 24])
def test_any_number_of_hooks(count):
    """Hooks closed means all of them, however many there are."""
    watch = Watch()
    watch.feed(status(0, **RING_IN))
    for closed in range(count + 1):
        hooks = (1.0,) * closed + (0.5,) * (count - closed)
        watch.feed(status(1.0 + closed, hooks=hooks))
        is_all = closed == count
        assert (watch.state.phases.phase is Phase.HOOKS_CLOSED) == is_all
        assert (watch.capture.hooks_closed, watch.capture.hooks_total) == (closed, count)
    assert [e.step for e in watch.of(CaptureStep)][-1] == "hooks"


def test_hooks_before_the_ring_is_in_are_a_warning_and_move_nothing():
    """Hooks closing with the ring out: a warning naming it; the phase waits for the ring."""
    watch = Watch()
    watch.feed(*every(0, 5, **SOFT, ring_extension=0.6, rel_rate_mps=0.001))
    watch.feed(*every(5, 8, **SOFT, ring_extension=0.6, hooks=(0.3,) * HOOKS))
    assert watch.state.phases.phase is Phase.RING_RETRACTION
    assert watch.raised("capture:hooks-early") == [5.6]
    (standing,) = [e for e in watch.state.register if e.id == "capture:hooks-early"]
    assert "60 % out" in standing.words
    assert standing.level.word == "warning"
    watch.feed(*every(8, 9, **RING_IN, hooks=(0.3,) * HOOKS))
    assert watch.cleared("capture:hooks-early") == [8.0]
    assert watch.state.phases.phase is Phase.HOOKS


def test_hard_capture_with_an_open_hook_is_a_warning_and_no_hard_capture():
    """One hook known to be open: the warning names it and the phase stays with the hooks."""
    watch = Watch()
    hooks = (*(1.0,) * 6, 0.42, *(1.0,) * 5)
    watch.feed(*every(0, 3, **RING_IN, hooks=hooks))
    watch.feed(*every(3, 6, **RING_IN, hooks=hooks, hard_capture=True))
    assert watch.raised("capture:hook-open") == [3.6]
    (standing,) = [e for e in watch.state.register if e.id == "capture:hook-open"]
    assert "hook 7 open" in standing.words
    assert watch.state.phases.phase is Phase.HOOKS
    watch.feed(*every(6, 7, **HARD))
    assert watch.cleared("capture:hook-open") == [6.0]
    assert watch.state.phases.phase is Phase.HARD_CAPTURE


def test_a_hook_that_opens_after_hard_capture_is_a_warning():
    """Once closed is not closed for ever: the warning names the hook."""
    watch = Watch()
    watch.feed(*every(0, 2, **HARD))
    watch.feed(*every(2, 4, **HARD | {"hooks": (0.8, *(1.0,) * 11)}))
    assert watch.raised("capture:hook-open") == [2.6]
    assert watch.state.phases.phase is Phase.HARD_CAPTURE


def test_lost_hard_capture_is_a_warning():
    """Hard capture that is reported no longer."""
    watch = Watch()
    watch.feed(*every(0, 2, **HARD), *every(2, 4, hard_capture=False))
    assert watch.raised("capture:lost") == [2.6]
    assert watch.state.phases.phase is Phase.HARD_CAPTURE


def test_lost_soft_capture_parts_the_vehicles():
    """A warning that stands until captured again; the phase goes back to contact and on again."""
    watch = Watch()
    watch.feed(*every(0, 10, **SOFT, rel_rate_mps=0.05))
    watch.feed(*every(10, 20, contact=False, soft_capture=False))
    assert watch.raised("capture:lost") == [10.6]
    assert watch.cleared("capture:lost") == []
    change = watch.of(PhaseChanged)[-1]
    assert (change.phase, change.before) == (Phase.CONTACT, Phase.DAMPING)
    assert change.evidence == "soft capture lost"
    assert watch.state.authority.now.holders == ("vehicle",)
    assert watch.capture.t_soft_capture is None
    watch.feed(*every(20, 22, **SOFT, rel_rate_mps=0.05))
    assert watch.cleared("capture:lost") == [20.0]
    assert watch.state.phases.phase is Phase.DAMPING
    assert watch.capture.t_soft_capture == T0 + 20.0


def test_one_bad_status_declares_nothing():
    """A single status that says captured no more neither warns nor moves."""
    watch = Watch()
    watch.feed(*every(0, 5, **SOFT, rel_rate_mps=0.01))
    watch.feed(status(5.0, soft_capture=False), status(5.5, **SOFT), status(9.0, **SOFT))
    assert watch.raised("capture:lost") == []
    assert watch.state.phases.phase is Phase.DAMPING


def test_latches_may_let_go_once_every_hook_is_closed():
    """Soft capture reported no longer after the hooks are closed is no loss."""
    watch = Watch()
    watch.feed(*every(0, 2, **CLOSED), *every(2, 6, **CLOSED | {"soft_capture": False}))
    assert watch.raised("capture:lost") == []
    assert watch.state.phases.phase is Phase.HOOKS_CLOSED


def test_lost_soft_capture_while_hooks_are_driven_warns_and_stays():
    """Some hooks may hold: a warning, no way back."""
    watch = Watch()
    hooks = {"hooks": (0.5,) * HOOKS}
    watch.feed(*every(0, 2, **RING_IN, **hooks))
    watch.feed(*every(2, 4, **RING_IN | hooks | {"soft_capture": False}))
    assert watch.raised("capture:lost") == [2.6]
    assert watch.state.phases.phase is Phase.HOOKS


def test_a_touch_that_does_not_hold_is_a_warning():
    """Contact reported and lost before soft capture."""
    watch = Watch()
    watch.feed(*every(0, 1, contact=True), *every(1, 4, contact=False, soft_capture=False))
    assert watch.raised("capture:contact-lost") == [1.6]
    assert watch.state.phases.phase is Phase.CONTACT


def test_contact_by_range_is_no_contact_reported_and_lost():
    """A mechanism that says no contact all along contradicts a contact by range by nothing."""
    watch = Watch()
    watch.feed(sample(0.0, 0.02), sample(0.1, -0.01), sample(0.2, -0.02))
    watch.feed(*every(0.5, 4, contact=False))
    assert watch.raised("capture:contact-lost") == []


def test_what_is_not_reported_contradicts_nothing():
    """A mechanism without ring and ready sensors goes through its hooks without a warning."""
    watch = Watch()
    watch.feed(*every(0, 2, **SOFT), *every(2, 30, **SOFT, hooks=(0.5,) * 4))
    watch.feed(*every(30, 32, **SOFT, hooks=(1.0,) * 4), *every(32, 34, hard_capture=True))
    assert watch.state.phases.phase is Phase.HARD_CAPTURE
    warned = [e.id for e in watch.state.register if e.level.word == "warning"]
    assert [id_ for id_ in warned if id_.startswith("capture:")] == []


def test_ring_in_before_the_motion_has_settled_is_a_caution():
    """Retraction while motion is known to go on is told; the phase follows the ring."""
    watch = Watch()
    for n in range(60):
        rate = 0.1 * abs(0.8 + 0.2 * (n % 3)) * 2.718 ** (-n * 0.5 / 20.0)
        watch.feed(status(n * 0.5, **SOFT, ring_extension=1.0, rel_rate_mps=rate))
    assert watch.capture.damping.verdict.value == "settling"
    watch.feed(*every(30, 32, **SOFT, ring_extension=0.8, rel_rate_mps=0.03))
    assert watch.raised("capture:unsettled") == [30.0]
    assert watch.state.phases.phase is Phase.RING_RETRACTION
    assert watch.capture.damping.is_over
    watch.feed(*every(32, 33, **RING_IN))
    assert watch.cleared("capture:unsettled") == [32.0]


flag = st.one_of(st.none(), st.booleans())
share = st.one_of(st.none(), st.sampled_from([0.0, 0.005, 0.03, 0.5, 0.995, 1.0, 1.3, -0.2]))
random_status = st.builds(
    dict,
    contact=flag, soft_capture=flag, ring_extension=share, hard_capture=flag,
    ready_to_hook=st.one_of(st.none(), st.lists(st.booleans(), max_size=4).map(tuple)),
    hooks=st.one_of(
        st.none(), st.lists(st.sampled_from([0.0, 0.03, 0.5, 1.0]), max_size=14).map(tuple)
    ),
    rel_rate_mps=share, rel_rate_dps=share,
    vestibule_kpa=st.one_of(st.none(), st.sampled_from([0.0, 9.0, 50.0, 101.3, 101.4, 500.0])),
    vestibule_degc=st.one_of(st.none(), st.sampled_from([-270.0, 0.0, 21.0, 99.0])),
    source=st.sampled_from(["mechanism", "port-side"]),
)  # fmt: skip
steps = st.lists(
    st.tuples(random_status, st.sampled_from([0.1, 0.5, 0.5, 1.0, 20.0, 400.0])), max_size=25
)


@settings(max_examples=120)
@given(steps)
def test_random_evidence_never_raises_and_never_skips(made):
    """Whatever comes, the phase goes on by one link or back to contact, and nothing raises."""
    watch, past_s = Watch(), 0.0
    for fields, step_s in made:
        past_s += step_s
        watch.feed(status(past_s, **dict(fields)))
        watch.state.snapshot()
    before = Phase.WAITING
    for change in watch.of(PhaseChanged):
        assert change.before is before
        at = CHAIN.index(change.phase)
        is_next = change.before is (CHAIN[at - 1] if at else Phase.WAITING)
        assert is_next or (change.phase is Phase.CONTACT and before in CHAIN[1:5])
        before = change.phase


@settings(max_examples=25)
@given(steps, st.integers(0, 24))
def test_snapshots_and_copies_change_nothing(made, at):
    """Asked or not, copied or not, the same statuses give the same events to the byte."""
    plain, asked = Watch(), Watch()
    past_s, twin = 0.0, None
    for n, (fields, step_s) in enumerate(made):
        past_s += step_s
        if n == at:
            twin = copy.deepcopy(asked)
        record = status(past_s, **dict(fields))
        plain.feed(record)
        asked.feed(record)
        asked.state.snapshot()
        if twin is not None:
            twin.feed(record)
    assert lines(plain.events) == lines(asked.events)
    if twin is not None:
        assert lines(plain.events) == lines(twin.events)


def whole_capture(seed: int = 1) -> list[CaptureStatus]:
    """Give the capture statuses of the simulated nominal approach, and a sample before."""
    from pathlib import Path

    from console.envelope.reading import parse_limits
    from console.envelope.setup import Setup
    from console.simulation.scenario import Scenario
    from console.simulation.simulate import simulate

    at = Path(__file__).parents[2] / "replay_data/limits/port_c_final_approach.toml"
    limits = parse_limits(at.read_bytes(), at.name)
    flown = simulate(Scenario(), limits, Setup(), seed, 3.0)
    return [m.record for m in flown.messages if isinstance(m.record, CaptureStatus)]


def test_the_simulated_capture_goes_through_to_docked():
    """Every phase in order, damping settled before the ring moves, leak check passed, no flag."""
    watch = Watch()
    watch.feed(*whole_capture())
    assert phases(watch) == list(CHAIN)
    capture = watch.capture
    assert capture.t_contact < capture.t_soft_capture < capture.t_damped < capture.t_retracted
    assert capture.damping.verdict.value == "settled"
    assert capture.leak.state.value == "passes"
    assert [e.id for e in watch.state.register if e.id.startswith("capture:")] == []
    assert capture.awaited == ()
    steps_seen = [e.step for e in watch.of(CaptureStep)]
    assert sum(step.startswith("hook ") for step in steps_seen) == HOOKS
    assert steps_seen[-2:] == ["hard_capture", "leak"]


def test_statuses_shuffled_within_a_second_lead_to_the_same_end():
    """Messages that overtake one another change nothing of where it ends."""
    taken = whole_capture()
    hard = next(i for i, record in enumerate(taken) if record.hard_capture)
    taken = taken[: 2 * (hard // 2 + 10)]
    swapped = list(
        itertools.chain.from_iterable((b, a) for a, b in zip(taken[::2], taken[1::2], strict=True))
    )
    watch = Watch()
    for record in swapped:
        watch.receive(record.t - T0 + 0.2, record)
    assert not watch.of(SourceChanged)
    assert watch.state.phases.phase is Phase.HARD_CAPTURE


def test_prediction_at_contact_is_kept_as_it_was_before_contact():
    """The last one made before contact stands beside what was measured; later ones never do."""
    watch = Watch()
    for n in range(290):
        watch.feed(sample(n * 0.1, 2.5 - 0.009 * n))
        if n % 7 == 0:
            watch.state.snapshot()
    capture = watch.capture
    assert capture.contact.t == pytest.approx(T0 + 27.8)
    assert capture.contact.t - 1.2 < capture.predicted_t < capture.contact.t
    assert capture.predicted.assumption == "control continues"
    rates = {
        q.quantity.value: q.predicted.mean for q in capture.predicted.quantities if q.predicted
    }
    assert rates["closing_rate"] == pytest.approx(0.09, abs=0.01)
    held = (capture.predicted_t, capture.predicted)
    watch.feed(*every(31, 33, **SOFT))
    assert (watch.capture.predicted_t, watch.capture.predicted) == held


def test_no_prediction_without_navigation():
    """A watch that saw only statuses has none."""
    watch = Watch()
    watch.feed(status(0, **SOFT))
    assert (watch.capture.predicted, watch.capture.predicted_t) == (None, None)
