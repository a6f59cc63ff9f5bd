"""A time far ahead: one alone takes nothing out, a clock that was set is followed."""

from __future__ import annotations

import pytest
from approach_tools import OPTICAL, Run, sample

from console.approach.engine_time import EngineTime
from console.approach.snapshot import SourceNow

HOUR_S = 3600.0


def fed(shift_s: dict[int, float], late_s: dict[int, float] | None = None) -> Run:
    """Give a watch of a minute at 10 Hz, some samples' times shifted, some received late."""
    run = Run(mode=EngineTime.RECEIVE)
    shift = 0.0
    for n in range(600):
        past_s = n / 10
        shift = shift_s.get(n, 0.0)
        one = sample(past_s + shift, 18.0 - 0.09 * past_s + 0.001 * ((n * 7) % 11 - 5), n)
        run.receive(max(past_s, (late_s or {}).get(n, 0.0)), one)
    return run


def optical(run: Run) -> SourceNow:
    """Give the source as shown."""
    return next(s for s in run.state.snapshot().sources if s.source == OPTICAL)


def test_one_time_far_ahead_does_not_take_its_source_out() -> None:
    """Every other sample is judged, and what was left out is counted."""
    run = fed({200: HOUR_S})
    assert run.state.judged == 599
    source = optical(run)
    assert source.late == 0
    assert source.invalid == 1
    assert run.state.snapshot().counts.leapt == 1
    assert source.age_s == pytest.approx(0.0, abs=1e-6)
    assert not source.stale


def test_a_clock_set_forward_is_followed_from_the_second_sample_on() -> None:
    """Only the first by the new clock is left out."""
    run = fed(dict.fromkeys(range(200, 600), HOUR_S))
    assert run.state.judged == 599
    assert optical(run).clock_offset_s == pytest.approx(-HOUR_S, abs=0.1)


def test_strays_that_do_not_go_on_from_each_other_are_all_left_out() -> None:
    """Two wild times in a row are no clock."""
    run = fed({200: HOUR_S, 201: 3 * HOUR_S, 202: 2 * HOUR_S})
    assert run.state.judged == 597
    assert optical(run).invalid == 3


def test_a_queue_that_empties_after_a_stall_has_not_leapt() -> None:
    """Twenty seconds of samples at once, then one in time: nothing is left out."""
    run = fed({}, dict.fromkeys(range(200, 400), 40.0))
    assert run.state.judged == 600
    assert optical(run).invalid == 0


def test_a_table_has_no_time_of_receipt_to_leap_against() -> None:
    """There the times are all there is."""
    run = Run(mode=EngineTime.NEWEST)
    for n in range(40):
        run.feed(sample(n / 10 + (HOUR_S if n >= 20 else 0.0), 18.0 - 0.009 * n, n))
    assert run.state.judged == 40
