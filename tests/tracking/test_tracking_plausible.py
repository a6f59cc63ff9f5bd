"""One wild but finite value must not spoil an estimator, whenever it comes."""

from __future__ import annotations

import math
import sys

import pytest

from console.approach.engine_time import EngineTime
from console.approach.event import ExceedanceRaised
from console.approach.intake import Intake
from console.approach.state import StateModel
from console.core.ids import SourceId
from console.core.records import Frame, RelativeSample
from console.envelope.setup import Setup
from console.tracking.plausible import LARGEST, tamed
from console.tracking.tracker import Tracker
from console.wire.encode import encode
from tests.benchmarks.tracking_campaign import load_limits
from tests.fakes.changed import replace

T0 = 1_933_580_000.0
WILD = {
    "range_rate_mps": -1e160, "y_m": 1e200, "z_m": -sys.float_info.max, "roll_deg": 1e160,
    "y_rate_mps": 1e160, "roll_rate_dps": sys.float_info.max,
}  # fmt: skip


def sample(number: int, **wild: float) -> RelativeSample:
    """Give one of an approach at 0.09 m/s from 25 m."""
    good = RelativeSample(
        SourceId("optical"), number, T0 + 0.1 * number, 25.0 - 0.009 * number, -0.09, 0.02, -0.01,
        0.1, -0.1, 0.2, 0.001, -0.001, 0.01, 0.01, -0.01,
    )  # fmt: skip
    return replace(good, **wild)


@pytest.mark.parametrize("field", WILD)
def test_a_wild_value_is_brought_down(field: str) -> None:
    """It keeps its sign, every other value stays, and a sample without one is the same object."""
    good = sample(0)
    assert tamed(good) is good
    for sign in (1.0, -1.0):
        wild = sample(0, **{field: sign * WILD[field]})
        expected = math.copysign(LARGEST, sign * WILD[field])
        assert tamed(wild) == replace(good, **{field: expected})


@pytest.mark.parametrize("field", WILD)
def test_a_source_of_nothing_but_wild_samples_ends_nothing(field: str) -> None:
    """Marks are passed all the same, and whatever is good of them is still followed."""
    intake = Intake(StateModel(load_limits(), Setup()), EngineTime.RECEIVE)
    state = intake.state
    for number in range(0, 2700, 7):
        one = sample(number, **{field: WILD[field]})
        intake.frame(Frame(one.t, *encode(one)))
        state.snapshot()
    assert state.judged == len(range(0, 2700, 7))
    if field != "range_rate_mps":
        newest = sample(2695)
        assert state.tracker.estimate(newest.t).range_m == pytest.approx(newest.range_m, abs=0.05)
        assert state.tracker.to_contact(newest.t).best_s == pytest.approx(
            newest.range_m / 0.09, rel=0.05
        )


def test_a_wild_attitude_hides_no_closing_rate() -> None:
    """Roll stands at two million degrees while the vehicle speeds up: the limit is exceeded."""
    intake = Intake(StateModel(load_limits(), Setup()), EngineTime.RECEIVE)
    range_m, raised = 18.0, []
    for number in range(600):
        rate = -0.09 if number < 300 else -0.25
        range_m += 0.1 * rate
        one = sample(number, range_m=range_m, range_rate_mps=rate, roll_deg=2e6)
        raised += intake.frame(Frame(one.t, *encode(one)))
    told = [one.id for one in raised if isinstance(one, ExceedanceRaised)]
    assert "closing-fast" in told


def test_three_wild_rates_leave_the_bounds_as_they_were():
    """They are no step of range: it was 18 m more doubt of it, and 494 s of bounds, for good."""
    trackers = Tracker(load_limits(), Setup()), Tracker(load_limits(), Setup())
    for number in range(600):
        wild = {"range_rate_mps": -100.0} if 100 <= number < 103 else {}
        for tracker, one in zip(trackers, (sample(number), sample(number, **wild)), strict=True):
            tracker.update(one)
    good, other = (tracker.to_contact(sample(599).t) for tracker in trackers)
    assert other.low_s == pytest.approx(good.low_s, abs=0.5)
    assert other.high_s == pytest.approx(good.high_s, abs=0.5)
    assert not [one for one in trackers[1].findings(sample(599).t) if "steps" in one.evidence]


@pytest.mark.parametrize("wild", [range(5), range(100, 103), range(100, 140), range(0, 600, 7)])
@pytest.mark.parametrize("field", WILD)
def test_wild_samples_leave_the_estimate_as_it_was(field: str, wild: range) -> None:
    """Among the first, in the middle or now and then: the engine lives and the countdown holds."""
    intake = Intake(StateModel(load_limits(), Setup()), EngineTime.RECEIVE)
    state = intake.state
    for number in range(600):
        one = sample(number, **({field: WILD[field]} if number in wild else {}))
        intake.frame(Frame(one.t, *encode(one)))
        if number % 10 == 0:
            state.snapshot()
    newest = sample(599)
    countdown = state.tracker.to_contact(newest.t)
    assert state.judged == 600
    assert countdown.best_s == pytest.approx(newest.range_m / 0.09, rel=0.02)
    assert state.tracker.estimate(newest.t).closing_rate_mps == pytest.approx(0.09, abs=0.002)
