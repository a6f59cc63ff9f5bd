"""Gaps in the source in use are as long as they were, whatever a clock says."""

from __future__ import annotations

import pytest
from approach_tools import OPTICAL, RADIO, T0, Run, sample, status

from console.approach.action import ChooseSource
from console.approach.engine_time import EngineTime
from console.core.ids import SourceId

HOURS_2 = 7200.0


def heard(run: Run, begin: int, end: int, source: SourceId = OPTICAL, off_s: float = 0.0) -> None:
    """Receive ten samples a second, measured 50 ms before by the source's own clock."""
    for n in range(begin, end):
        one = sample(n / 10 + off_s, 20.0 - n / 100, n, source=source, y_m=0.001 * (n % 7))
        run.receive(n / 10 + 0.05, one)


def gap_s(run: Run) -> float:
    """Give the length of the newest gap, so far where it stands."""
    now = run.state.snapshot()
    gap = now.link_gaps[-1]
    return (now.t if gap.t_end is None else gap.t_end) - gap.t_start


@pytest.mark.parametrize("off_s", [-HOURS_2, 0.0, HOURS_2])
def test_a_change_to_a_source_with_another_clock(off_s: float) -> None:
    """From the last sample of the one that fell silent to the next of the one taken instead."""
    run = Run(mode=EngineTime.RECEIVE)
    for n in range(50):
        heard(run, n, n + 1)
        heard(run, n, n + 1, RADIO, off_s)
    heard(run, 50, 100, RADIO, off_s)
    assert run.state.board.in_use == RADIO
    assert gap_s(run) == pytest.approx(1.05, abs=0.11)


@pytest.mark.parametrize("off_s", [-HOURS_2, 0.0, HOURS_2])
def test_a_choice_of_a_silent_source_with_another_clock(off_s: float) -> None:
    """While both are silent the gap that stands goes on, on the clock of the chosen one."""
    run = Run(mode=EngineTime.RECEIVE)
    for n in range(50):
        heard(run, n, n + 1)
        heard(run, n, n + 1, RADIO, off_s)
    run.wait(10.0)
    assert gap_s(run) == pytest.approx(5.1, abs=0.02)
    run.events += run.intake.action(T0 + 10.0, ChooseSource("AB", "radio"))
    run.wait(15.0)
    assert run.state.board.in_use == RADIO
    assert gap_s(run) == pytest.approx(10.1, abs=0.12)
    assert run.state.snapshot().link_gaps[-1].t_start <= run.state.snapshot().t


@pytest.mark.parametrize("off_s", [0.0, HOURS_2])
def test_a_clock_set_anew_while_the_source_was_silent(off_s: float) -> None:
    """Eight seconds of silence are eight, and a moment after it is heard again, too."""
    run = Run(mode=EngineTime.RECEIVE)
    heard(run, 0, 50)
    for n in range(130, 135):  # the first is no clock yet, and no tick comes after the others
        heard(run, n, n + 1, off_s=off_s)
        assert gap_s(run) == pytest.approx(8.1, abs=0.12 + (n - 130) / 10)
    heard(run, 135, 150, off_s=off_s)
    assert gap_s(run) == pytest.approx(8.2, abs=0.12)


@pytest.mark.parametrize("off_s", [-HOURS_2, 0.0, HOURS_2])
def test_soft_capture_by_another_clock_ends_it(off_s: float) -> None:
    """The mechanism's clock says nothing of how long the navigation was silent."""
    run = Run(mode=EngineTime.RECEIVE)
    heard(run, 0, 50)
    run.receive(9.0, status(8.95 + off_s, 1, contact=True, soft_capture=True))
    (gap,) = run.state.snapshot().link_gaps
    assert gap.t_end is not None
    assert gap.t_end - gap.t_start == pytest.approx(4.1, abs=0.1)
