"""The schedule of a replay, by arithmetic alone."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from console.archive.replay_clock import STEPS, ReplayClock
from console.core.errors import UsageError


def test_it_stands_until_it_plays() -> None:
    """What is due is handed in, what lies ahead waits without end."""
    clock = ReplayClock(t=100.0)
    assert 100.0 == clock.now(5.0) == clock.now(50.0)
    assert clock.delay_s(100.0, 50.0) == 0.0
    assert clock.delay_s(100.1, 50.0) is None


def test_delays_follow_speed() -> None:
    """At four times the speed a second of the pass takes a quarter."""
    clock = ReplayClock(t=100.0, speed=4.0)
    clock.play(10.0)
    clock.play(11.0)  # again: nothing
    assert clock.now(11.0) == 104.0
    assert clock.delay_s(105.0, 11.0) == 0.25
    assert clock.delay_s(103.0, 11.0) == 0.0
    clock.set_speed(0.5, 12.0)
    assert clock.now(12.0) == 108.0
    assert clock.delay_s(109.0, 12.0) == 2.0
    clock.pause(14.0)
    assert 109.0 == clock.now(14.0) == clock.now(99.0)
    clock.play(20.0)
    assert clock.now(21.0) == 109.5
    clock.jump(50.0, 21.0)
    assert clock.now(22.0) == 50.5
    assert clock.now(20.0) == 50.0  # a wall clock asked late never goes back


def test_infinite_speed_waits_for_nothing() -> None:
    """For a headless run; where it has come to only the caller knows."""
    clock = ReplayClock(t=7.0, speed=math.inf)
    clock.play(0.0)
    assert clock.delay_s(1e12, 0.0) == 0.0
    clock.pause(1.0)
    assert clock.now(2.0) == 7.0


def test_steps_end_at_their_ends() -> None:
    """Faster and slower go through the steps and stay at the last."""
    clock = ReplayClock(t=0.0, speed=0.3)
    seen = []
    for _ in range(len(STEPS) + 1):
        clock.faster(0.0)
        seen.append(clock.speed)
    assert seen == [0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 60.0, 60.0, 60.0]
    for _ in range(len(STEPS) + 1):
        clock.slower(0.0)
    assert STEPS[0] == clock.speed


@pytest.mark.parametrize("speed", [0.0, -1.0, math.nan])
def test_a_speed_that_is_none_is_a_mistake(speed: float) -> None:
    """Standing still is pausing, not a speed."""
    with pytest.raises(UsageError):
        ReplayClock(t=0.0, speed=speed)
    with pytest.raises(UsageError):
        ReplayClock(t=0.0).set_speed(speed, 0.0)


@given(
    st.lists(
        st.tuples(st.floats(0, 10), st.sampled_from(["play", "pause", "faster", "slower"])),
        max_size=20,
    )
)
def test_delays_never_add_up(steps: list[tuple[float, str]]) -> None:
    """After any operations the time is the sum of what each stretch ran (naive integration)."""
    clock = ReplayClock(t=0.0)
    wall = expected = 0.0
    for elapsed, what in steps:
        expected += elapsed * clock.speed if clock.is_playing else 0.0
        wall += elapsed
        getattr(clock, what)(wall)
        assert clock.now(wall) == pytest.approx(expected, abs=1e-6)
