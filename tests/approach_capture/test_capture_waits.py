"""What is awaited, what comes late, which hooks lag: named, with the time waited."""

from __future__ import annotations

import copy
import re
from pathlib import Path

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

import console
from console.approach.capture_hooks import HookWatch
from console.approach.capture_now import Awaited
from console.approach.capture_standing import Standing, standing
from console.approach.capture_table import Evidence
from console.approach.engine_time import EngineTime
from console.approach.event import ExceedanceRaised, Phase

STATIONS = (
    (Phase.CONTACT, {"contact": True, "soft_capture": False}, "soft capture", 15.0),
    (Phase.SOFT_CAPTURE, SOFT, "relative motion", 15.0),
    (Phase.DAMPING, SOFT | {"rel_rate_mps": 0.0005}, "ring retraction", 300.0),
    (Phase.RING_RETRACTION, SOFT | {"ring_extension": 0.4}, "ready to hook", 300.0),
    (Phase.READY_TO_HOOK, RING_IN, "hooks driving", 300.0),
    (Phase.HOOKS, RING_IN | {"hooks": (0.5,) * HOOKS}, "hooks closed", 300.0),
    (Phase.HOOKS_CLOSED, CLOSED, "hard capture", 60.0),
    (Phase.HARD_CAPTURE, HARD, "vestibule pressure", 3600.0),
)


@pytest.mark.parametrize(("phase", "fields", "words", "expected_s"), STATIONS)
def test_late_evidence_is_a_caution_with_the_time_waited(phase, fields, words, expected_s):
    """Each phase names what it waits for; at the expected time, not before, it is late."""
    watch = Watch()
    step_s = 0.5 if expected_s < 1000 else 10.0
    watch.feed(*every(0, expected_s - 1.0, step_s, **fields))
    assert watch.state.phases.phase is phase
    awaited = watch.capture.awaited[0]
    assert (awaited.words, awaited.expected_s) == (words, expected_s)
    assert awaited.since == T0
    assert awaited.waited_s == pytest.approx(watch.state.engine_s - T0)
    assert not awaited.is_late
    assert watch.raised("capture:late") == []
    watch.feed(*every(expected_s, expected_s + 4.0, step_s, **fields))
    assert watch.raised("capture:late") == [expected_s]
    assert watch.capture.awaited[0].is_late
    (late,) = [e for e in watch.of(ExceedanceRaised) if e.id == "capture:late"]
    assert (late.level, late.source) == ("caution", "mechanism")
    assert late.words == f"Late: {words.capitalize()} awaited for {expected_s:.0f} s"


def test_late_evidence_clears_when_it_comes():
    """Soft capture after 20 s: flagged at 15, cleared when reported, and no flag after it."""
    watch = Watch()
    watch.feed(*every(0, 20, contact=True), *every(20, 30, **SOFT, rel_rate_mps=0.001))
    assert watch.raised("capture:late") == [15.0]
    assert watch.cleared("capture:late") == [20.0]


def test_each_late_evidence_is_an_exceedance_of_its_own():
    """What is late next is raised anew, under the same id."""
    watch = Watch()
    watch.feed(*every(0, 20, contact=True), *every(20, 40, **SOFT))
    assert watch.raised("capture:late") == [15.0, 35.0]
    assert watch.cleared("capture:late") == [20.0]


def test_without_any_status_nothing_is_late():
    """Contact by range, and nobody who tells of capture: it waits, and raises no flag for it."""
    watch = Watch()
    watch.feed(*(sample(n * 0.1, 0.05 - 0.009 * n) for n in range(400)))
    assert watch.state.contact.t is not None
    assert [e for e in watch.of(ExceedanceRaised) if e.id.startswith("capture:")] == []
    capture = watch.capture
    assert capture.age_s is None
    assert capture.awaited[0].words == "soft capture"


def test_the_first_status_after_a_long_time_finds_soft_capture_late():
    """Once somebody tells of capture, the time since contact counts."""
    watch = Watch()
    watch.feed(*(sample(n * 0.1, 0.05 - 0.009 * n) for n in range(400)))
    watch.feed(status(40.1, contact=True))
    assert watch.raised("capture:late") == [pytest.approx(40.1)]
    (late,) = [e for e in watch.of(ExceedanceRaised) if e.id == "capture:late"]
    assert late.source == "mechanism"
    assert late.onset == pytest.approx(T0 + 15.7, abs=0.2)


def test_lateness_is_found_by_time_alone_though_all_is_silent():
    """The flag comes at its time whether time goes on in ticks or in one step of hours."""
    made = []
    for waits in ((5400.0,), tuple(n * 0.7 for n in range(1, 8000))):
        watch = Watch(mode=EngineTime.RECEIVE)
        watch.receive(0.1, status(0.0, **RING_IN, hooks=(0.4,) * HOOKS))
        for past_s in waits:
            watch.wait(past_s)
        made.append(lines(watch.events))
        assert watch.raised("capture:late") == [pytest.approx(300.0, abs=0.11)]
        assert watch.raised("capture:hook") == [pytest.approx(10.0, abs=0.11)]
    assert made[0] == made[1]


def test_a_copy_finds_the_same_thing_late():
    """A deep copy made while waiting goes on to the same events."""
    watch = Watch()
    watch.feed(*every(0, 10, contact=True))
    twin = copy.deepcopy(watch)
    rest = list(every(10, 60, contact=True))
    assert lines(watch.feed(*rest)) == lines(twin.feed(*rest))


def test_motion_that_is_not_settled_in_time_stands_beside_what_comes_next():
    """Damping waits for two things: the ring, and the motion to settle."""
    watch = Watch()
    watch.feed(*every(0, 20, **SOFT, rel_rate_mps=0.05))
    assert [a.words for a in watch.capture.awaited] == ["ring retraction", "motion settled"]
    watch.feed(*every(20, 30, **SOFT, rel_rate_mps=0.0004))
    assert [a.words for a in watch.capture.awaited] == ["ring retraction"]


def test_awaited_is_late_from_its_time_on():
    """The boundary belongs to late."""
    assert Awaited("x", T0, 15.0, 15.0).is_late
    assert not Awaited("x", T0, 14.9, 15.0).is_late


# ---------------------------------------------------------------------- hooks


def driven(starts, speeds, stuck=None, end_s=120.0, step_s=0.5):
    """Give a hook watch and what lagged when, for hooks that start at times with speeds."""
    watch, seen = HookWatch(), {}
    for n in range(round(end_s / step_s)):
        now_s = n * step_s
        at = [min(max((now_s - s) * v, 0.0), 1.0) for s, v in zip(starts, speeds, strict=True)]
        for number, most in (stuck or {}).items():
            at[number - 1] = min(at[number - 1], most)
        watch.take(tuple(at), now_s)
        for number in watch.lagging(now_s):
            seen.setdefault(number, now_s)
    return watch, seen


def test_gangs_and_small_differences_do_not_lag():
    """Two gangs of six, closing one after the other and each at its own time."""
    starts = [0.0 + 46.0 * (n % 2) + 0.1 * n for n in range(12)]
    speeds = [1.0 / (38.0 + 0.5 * n) for n in range(12)]
    assert driven(starts, speeds)[1] == {}


def test_a_hook_that_stands_still_half_way_lags():
    """Stopped at 42 %: named ten seconds later, with how far it is."""
    watch, seen = driven([0.0] * 12, [1.0 / 40.0] * 12, stuck={7: 0.42})
    assert list(seen) == [7]
    assert seen[7] == pytest.approx(0.42 * 40.0 + 10.0, abs=1.1)
    assert watch.words((7,)) == "Hook 7 lags, 42 % closed"
    assert watch.words((3, 7)) == "Hooks 3, 7 lag"


def test_a_hook_that_never_begins_lags_once_the_others_are_done():
    """One that stays open is named ten seconds after the last of the others came to rest."""
    starts, speeds = [0.0] * 12, [1.0 / 40.0] * 12
    starts[3] = 1e9
    _, seen = driven(starts, speeds)
    assert seen == {4: pytest.approx(50.5, abs=0.6)}


def test_a_slow_hook_lags():
    """Twice as slow as the others, though it moves on."""
    speeds = [1.0 / 40.0] * 12
    speeds[10] = 1.0 / 120.0
    _, seen = driven([0.0] * 12, speeds)
    assert list(seen) == [11]
    assert 60.0 < seen[11] < 70.0


def test_hooks_told_only_open_or_closed_are_given_a_gang_s_time():
    """Without positions between, a second gang may take a minute and a half."""
    watch = HookWatch()
    for now_s in range(200):
        second = 1.0 if now_s >= 80 else 0.0
        watch.take((1.0, second, 0.0) if now_s >= 5 else (0.0, 0.0, 0.0), float(now_s))
        if now_s < 170:
            assert watch.lagging(float(now_s)) == ()
    assert watch.lagging(200.0) == (3,)


def test_more_hooks_than_there_can_be_are_cut():
    """A list of thousands is followed as far as memory is set aside for it."""
    watch = HookWatch()
    for now_s in range(0, 60, 5):
        watch.take((0.5,) * 100_000, float(now_s))
    assert len(watch.lagging(60.0)) == 256


def test_a_lagging_hook_is_a_caution_that_names_it():
    """In the watch: raised, standing with its number in the snapshot, cleared when it closes."""
    watch = Watch()
    hooks = (*(1.0,) * 11, 0.3)
    watch.feed(*every(0, 2, **RING_IN, hooks=(0.3,) * 12), *every(2, 20, **RING_IN, hooks=hooks))
    assert watch.raised("capture:hook") == [8.0]  # the others took 2 s: 1.5 times that and 5 s
    assert watch.capture.lagging_hooks == (12,)
    watch.feed(*every(20, 22, **CLOSED))
    assert watch.cleared("capture:hook") == [20.0]
    assert watch.capture.lagging_hooks == ()


# ---------------------------------------------------------------------- what the manual says


def test_the_manual_names_every_id_with_its_level():
    """The table of the manual's chapter is what can stand about capture, and nothing else."""
    against = (
        Evidence.CONTACT_LOST, Evidence.CAPTURE_LOST, Evidence.HOOKS_EARLY, Evidence.HOOK_OPEN,
        Evidence.HARD_CAPTURE_LOST,
    )  # fmt: skip
    late = (Awaited("soft capture", T0, 20.0, 15.0),)
    everything = Standing(
        t=T0, phase=Phase.RING_RETRACTION, merged=status(0.0, **HARD),
        contradictions=dict.fromkeys(against, T0), parted_t=T0, awaited=late, lagging=(3,),
        lagging_words="Hook 3 lags", not_settling="x", is_unsettled=True, leak_fails="x",
    )  # fmt: skip
    said = {id_: flag.level.word for id_, flag in standing(everything).items()}
    chapter = Path(console.__file__).parent / "manual" / "06a_capture.md"
    row = re.compile(r"^\| `(capture:[a-z-]+)` \| (?:■ )?(\w+) \|", re.MULTILINE)
    rows = row.findall(chapter.read_text("utf-8"))
    assert dict(rows) == said
    assert len(rows) == 9
