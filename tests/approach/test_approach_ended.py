"""What must not be said any more: after a long silence, after contact, on another clock."""

from __future__ import annotations

import pytest
from approach_tools import OPTICAL, RADIO, T0, Run, closing, sample, status

from console.approach.action import ChooseSource, ReleaseHold
from console.approach.engine_time import EngineTime
from console.approach.event import HoldReleased, Phase, Refused


def watching() -> Run:
    """Give a watch after twenty seconds of closing, on a live link."""
    run = Run(mode=EngineTime.RECEIVE)
    for one in closing(0, 20, 18.0):
        run.receive(one.t - T0, one)
    return run


def test_predictions_and_stop_calls_end_with_the_countdowns() -> None:
    """Forty seconds after the last sample nothing is foretold."""
    run = watching()
    run.wait(30.0)
    snapshot = run.state.snapshot()
    assert snapshot.stop is not None
    assert snapshot.at_contact is not None
    run.wait(60.0)
    snapshot = run.state.snapshot()
    assert snapshot.withdrawn
    assert snapshot.to_contact.best_s is None
    assert snapshot.stop is None
    assert snapshot.at_contact is None
    assert snapshot.if_thrust_stops is None


@pytest.mark.parametrize("offset_s", [600.0, -600.0])
def test_no_gap_is_told_between_sources_with_other_clocks(offset_s: float) -> None:
    """Their positions at one time of day are those of different moments."""
    run = Run(mode=EngineTime.RECEIVE)
    for n in range(300):
        past_s, noise = n / 10, 0.001 * ((n * 7) % 11 - 5)
        range_m = 18.0 - 0.09 * past_s
        run.receive(past_s, sample(past_s, range_m + noise, n, y_m=noise))
        other = sample(past_s + offset_s, range_m - noise, n, source=RADIO, y_m=-noise)
        run.receive(past_s + 0.02, other)
    backup = next(s for s in run.state.snapshot().sources if s.source == RADIO)
    assert backup.gap_m is None
    assert backup.agrees is None


def test_a_gap_ends_with_soft_capture() -> None:
    """From then on navigation is expected to be silent."""
    run = Run(mode=EngineTime.RECEIVE)
    for one in closing(0, 20, 1.9):
        run.receive(one.t - T0, one)
    for n in range(100):
        past_s = 24.0 + n / 2
        touching = status(past_s, seq=n, contact=True, soft_capture=n > 10)
        run.receive(past_s, touching)
    snapshot = run.state.snapshot()
    assert snapshot.phase is Phase.SOFT_CAPTURE
    assert [gap.t_end is None for gap in snapshot.link_gaps] == [False]
    assert snapshot.link_gaps[0].t_end == pytest.approx(T0 + 29.5, abs=0.6)


def test_a_release_without_any_range_is_refused() -> None:
    """There is no hold to speak of before data comes."""
    run = Run(mode=EngineTime.RECEIVE)
    run.wait(0.0)
    (said,) = run.intake.action(T0 + 1.0, ReleaseHold(initials="AB"))
    assert isinstance(said, Refused)
    run = watching()
    told = run.intake.action(T0 + 21.0, ReleaseHold(initials="AB"))
    assert [e.range_m for e in told if isinstance(e, HoldReleased)] == [
        pytest.approx(16.2, abs=0.2)
    ]


def test_no_source_is_chosen_after_contact() -> None:
    """The word is refused, and nothing says otherwise."""
    run = watching()
    run.receive(21.0, status(21.0, seq=0, contact=True, soft_capture=True))
    (said,) = run.intake.action(T0 + 22.0, ChooseSource(initials="AB", source=RADIO))
    assert isinstance(said, Refused)
    snapshot = run.state.snapshot()
    assert snapshot.source == OPTICAL
    assert not snapshot.source_is_forced
