"""Phases and abort authority: cues before contact, the chain after it, who may abort."""

from __future__ import annotations

import itertools

import pytest
from approach_tools import T0, Run, closing, sample, status
from hypothesis import given, settings
from hypothesis import strategies as st

from console.approach.authority import REGAIN_S, AuthorityBook
from console.approach.event import AuthorityChanged, Phase, PhaseChanged, SourceChanged
from console.approach.phase import CHAIN, PHASE_OF, SETTLE_S, Cue, PhaseBook, motion_cue
from console.core.records import CaptureStatus
from console.envelope.setup import Setup
from console.tracking.outlook import Motion
from tests.fakes.changed import replace

BEFORE_CONTACT = [phase for phase in Phase if phase not in CHAIN]


@pytest.mark.parametrize(("before", "cue"), list(itertools.product(BEFORE_CONTACT, Cue)))
def test_every_cue_leads_to_its_phase_from_every_phase(before: Phase, cue: Cue) -> None:
    """A cue that settles leads to its one phase, whatever the phase before contact was."""
    book = PhaseBook()
    book.phase = before
    book.cue(cue, T0, 100.0)
    entered = book.cue(cue, T0 + SETTLE_S, 100.0 + SETTLE_S)
    at_once = cue in (Cue.SILENT, Cue.INSIDE)
    assert PHASE_OF[cue] is book.phase
    assert (entered is PHASE_OF[cue]) == (not at_once and before is not PHASE_OF[cue])


@pytest.mark.parametrize(("phase", "cue"), list(itertools.product(CHAIN, Cue)))
def test_no_cue_moves_a_phase_after_contact(phase: Phase, cue: Cue) -> None:
    """From contact on what the range does moves no phase."""
    book = PhaseBook()
    book.phase = phase
    assert book.cue(cue, T0, 1.0) is None
    assert book.cue(cue, T0 + 9, 10.0) is None
    assert phase is book.phase


def test_motion_must_last_before_it_moves_the_phase() -> None:
    """A cue of motion that is broken off before it settles moves nothing."""
    book = PhaseBook()
    book.phase = Phase.HOLD
    for n in range(100):
        assert book.cue(Cue.CLOSING if n % 10 else Cue.STEADY, T0, n / 10) is None
    assert book.cue(None, T0, 11.0) is None
    assert Phase.HOLD is book.phase


def test_settling_is_not_fooled_by_another_clock() -> None:
    """A source whose clock is an hour back cannot keep a phase from settling."""
    book = PhaseBook()
    book.cue(Cue.CLOSING, T0, 5.0)
    assert Phase.APPROACH is book.cue(Cue.CLOSING, T0 - 3600.0, 5.0 + SETTLE_S)


@pytest.mark.parametrize(
    ("motion", "opening", "inside", "cue"),
    [
        (Motion.CLOSING, -0.1, False, Cue.CLOSING),
        (Motion.CLOSING, -0.1, True, Cue.INSIDE),
        (Motion.NOT_CLOSING, 0.0, False, Cue.STEADY),
        (Motion.NOT_CLOSING, 0.0, True, Cue.INSIDE),
        (Motion.OPENING, 0.2, False, Cue.OPENING),
        (Motion.OPENING, 0.2, True, Cue.OPENING),
        (Motion.OPENING, 0.51, False, Cue.OPENING_FAST),
        (Motion.UNKNOWN, 0.0, False, None),
        (Motion.UNKNOWN, 0.0, True, Cue.INSIDE),
    ],
)
def test_motion_gives_its_cue(motion: Motion, opening: float, inside: bool, cue: Cue) -> None:
    """Each motion, in or out of the hands-off point, has its one cue."""
    assert cue is motion_cue(motion, opening, 0.2, inside)


def test_an_approach_goes_through_its_phases() -> None:
    """Hold, approach, hold, retreat and abort follow from the range alone, each with evidence."""
    run = Run(setup=Setup())
    run.feed(*closing(0, 10, 15.0, 0.0))
    run.feed(*closing(10, 30, 15.0, -0.1))
    run.feed(*closing(30, 50, 13.0, 0.0))
    run.feed(*closing(50, 70, 13.0, 0.2))
    run.feed(*closing(70, 90, 17.0, 1.0))
    changes = run.of(PhaseChanged)
    expected = [Phase.HOLD, Phase.APPROACH, Phase.HOLD, Phase.RETREAT, Phase.ABORT]
    assert expected == [change.phase for change in changes]
    assert [Phase.WAITING, *expected[:-1]] == [change.before for change in changes]
    assert all("range" in change.evidence for change in changes)


# ---------------------------------------------------------------------- the chain

flag = st.one_of(st.none(), st.booleans())
share = st.one_of(st.none(), st.sampled_from([0.0, 0.01, 0.5, 0.995, 1.0, -1.0, 7.0]))
evidence = st.builds(
    dict,
    contact=flag, soft_capture=flag, ring_extension=share,
    ready_to_hook=st.one_of(st.none(), st.lists(st.booleans(), max_size=3).map(tuple)),
    hooks=st.one_of(
        st.none(), st.lists(st.sampled_from([0.0, 0.03, 0.5, 1.0]), max_size=12).map(tuple)
    ),
    hard_capture=flag, rel_rate_mps=share, rel_rate_dps=share, vestibule_kpa=share,
)  # fmt: skip


@settings(max_examples=150)
@given(st.lists(st.tuples(evidence, st.sampled_from([0.1, 0.5, 2.0, -0.3, 20.0])), max_size=12))
def test_random_capture_evidence_never_raises_and_never_skips(made: list) -> None:
    """Whatever statuses say, phases go forward one by one, or back where capture is lost."""
    run = Run()
    past_s = 0.0
    for number, (fields, step_s) in enumerate(made):
        past_s = max(0.0, past_s + step_s)
        run.receive(max(past_s, 0.0), status(past_s, number, **fields))
        run.wait(past_s + 0.25)
        run.state.snapshot()
    before = Phase.WAITING
    for change in run.of(PhaseChanged):
        assert before is change.before
        at = CHAIN.index(change.phase)
        parted = change.phase is Phase.CONTACT and before in CHAIN[1:5]
        assert parted or change.before is (CHAIN[at - 1] if at else Phase.WAITING)
        before = change.phase


def test_a_late_console_walks_through_every_phase() -> None:
    """A first status that shows hard capture gives every phase up to it, in order."""
    run = Run()
    run.feed(status(0, contact=True, soft_capture=True, hooks=(1.0,) * 12, hard_capture=True))
    until = CHAIN.index(Phase.HARD_CAPTURE) + 1
    assert list(CHAIN[:until]) == [change.phase for change in run.of(PhaseChanged)]


@pytest.mark.parametrize("hooks", [(0.03,) * 12, (1.0,) + (0.0,) * 11, (0.5,) * 12])
def test_hooks_off_zero_are_no_capture_far_from_the_port(hooks: tuple[float, ...]) -> None:
    """A hook's position that is not quite zero, or one bad sensor, starts no capture at range."""
    run = Run()
    run.feed(*closing(0, 5, 50.0))
    run.feed(status(5, contact=False, soft_capture=False, hooks=hooks))
    run.feed(*closing(5, 8, 49.5))
    assert Phase.APPROACH is run.state.phases.phase
    run.feed(status(9, contact=True, soft_capture=True))
    assert Phase.HOOKS is run.state.phases.phase


def test_late_status_fills_in_and_overwrites_nothing() -> None:
    """A status older than the newest adds what was unknown and leaves the rest."""
    run = Run()
    run.feed(status(5, 5, contact=True, ring_extension=0.4))
    run.receive(6, status(4, 4, ring_extension=0.9, vestibule_kpa=1.0))
    merged = run.state.capture.merged
    assert merged is not None
    assert (merged.ring_extension, merged.vestibule_kpa, merged.t) == (0.4, 1.0, T0 + 5)


def test_damped_needs_quiet_that_lasts() -> None:
    """Relative motion counts as damped when it stayed small, not when it passes through zero."""
    run = Run()
    rates = [0.05, 0.0, 0.04, 0.001, 0.0, 0.001, 0.001, 0.0, 0.001]
    for n, rate in enumerate(rates):
        run.feed(status(n, n, contact=True, soft_capture=True, rel_rate_mps=rate))
        damped = run.state.snapshot().capture.t_damped
        assert (n >= 8) == (damped is not None)


def test_capture_steps_are_told_once() -> None:
    """Each hook and step is an event the first time it is seen, and never again."""
    run = Run()
    for n in range(4):
        hooks = (1.0, 1.0 if n > 1 else 0.2)
        run.feed(status(n, n, contact=True, soft_capture=True, hooks=hooks))
    steps = [event.step for event in run.events if type(event).__name__ == "CaptureStep"]
    assert steps == ["contact", "soft_capture", "hook 1", "hook 2", "hooks"]


# ---------------------------------------------------------------------- authority


def test_authority_passes_on_through_an_approach() -> None:
    """Crew and ground, then the crew alone when it is late, then the vehicle, then none."""
    run = Run()
    run.feed(*closing(0, 100, 8.5))
    run.feed(status(101, contact=True), status(102, contact=True, soft_capture=True))
    expected = [("crew", "ground"), ("crew",), ("vehicle",), ()]
    assert expected == [event.holders for event in run.of(AuthorityChanged)]


def test_ground_without_authority_is_never_named() -> None:
    """Where the setup gives the ground no part, it is never a holder."""
    run = Run(setup=replace(Setup(), ground_holds_authority=False))
    run.feed(*closing(0, 60, 8.5))
    assert [event.holders for event in run.of(AuthorityChanged)] == [("crew",)]


def test_console_started_inside_the_hands_off_point_says_so() -> None:
    """A watch that begins inside knows from two samples that only the vehicle may abort."""
    run = Run()
    run.feed(*closing(0, 5, 1.5))
    assert Phase.HANDS_OFF is run.state.phases.phase
    assert run.state.authority.now.holders == ("vehicle",)
    assert run.state.milestones.hands_off is None


def test_one_outlier_at_the_start_is_not_inside() -> None:
    """A first sample far inside, alone, does not take authority from the crew."""
    run = Run()
    run.feed(sample(0.0, 0.4, 0), *closing(0.1, 5, 15.0))
    assert Phase.HANDS_OFF not in [change.phase for change in run.of(PhaseChanged)]
    assert "crew" in run.state.authority.now.holders


def test_lost_data_inside_the_hands_off_point_gives_no_authority_back() -> None:
    """Inside the point, with data lost, still only the vehicle may abort."""
    run = Run()
    run.feed(*closing(0, 12, 2.5))
    run.wait(30.0)
    assert Phase.DATA_LOST is run.state.phases.phase
    assert run.state.authority.now.holders == ("vehicle",)


def test_backing_out_gives_authority_back() -> None:
    """Two samples well outside the point, and the crew holds authority again."""
    run = Run()
    run.feed(*closing(0, 12, 2.5))
    run.feed(*closing(12, 30, 1.5, 0.2))
    assert Phase.RETREAT is run.state.phases.phase
    assert run.state.authority.now.holders == ("crew", "ground")


def test_ground_regains_its_part_only_with_time_in_hand() -> None:
    """The ground's part does not flicker: it comes back when the last call is seconds away."""
    book = AuthorityBook(1.8, ground_may=True)

    def holders(hold_call_s: float | None, is_holding: bool = False) -> tuple[str, ...]:
        book.take(Phase.APPROACH, hold_call_s, is_holding=is_holding, is_inside=False)
        return book.now.holders

    assert holders(3.0) == ("crew", "ground")
    assert holders(-0.1) == ("crew",)
    assert holders(REGAIN_S - 0.1) == ("crew",)
    assert holders(None) == ("crew",)
    assert holders(REGAIN_S + 0.1) == ("crew", "ground")
    assert holders(0.0) == ("crew",)
    assert holders(None, is_holding=True) == ("crew", "ground")


@given(
    st.sampled_from(list(Phase)), st.one_of(st.none(), st.floats(-50, 50)), st.booleans(),
    st.booleans(),
)  # fmt: skip
def test_nobody_on_board_may_abort_inside(
    phase: Phase, hold_call_s: float | None, is_holding: bool, ground_may: bool
) -> None:
    """Inside the hands-off point no phase before soft capture names the crew or the ground."""
    book = AuthorityBook(1.8, ground_may)
    book.take(phase, hold_call_s, is_holding=is_holding, is_inside=True)
    assert book.now.holders in ((), ("vehicle",))
    book.take(phase, hold_call_s, is_holding=is_holding, is_inside=False)
    assert not (set(book.now.holders) & {"crew"} and phase in CHAIN)


def test_first_source_is_an_event_before_any_phase() -> None:
    """The log begins with the source that is in use."""
    run = Run()
    run.feed(*closing(0, 3, 15.0))
    assert isinstance(run.events[0], SourceChanged)
    assert isinstance(CaptureStatus, type)
