"""A lone source whose range rate is wrong: what goes on from range alone, and for how long."""

from __future__ import annotations

import pytest

from console.core.records import RelativeSample
from console.envelope.setup import Setup
from console.tracking.outlook import Motion
from console.tracking.tracker import Tracker
from tests.tracking.tracking_passes import LIMITS, OPTICAL, T0, Passing, feed

WRONG_S = 30.0
"""Range rate is wrong from here on."""


def wrong_rate(size: float, until_s: float = float("inf"), silent: tuple[float, float] = (0, 0)):
    """Make a fault of range rate, and a silence."""

    def alter(t: float, values: dict[str, float]) -> dict[str, float] | None:
        if silent[0] <= t < silent[1]:
            return None
        if WRONG_S <= t < until_s:
            values["range_rate_mps"] += size
        return values

    return alter


def track_of(one: Tracker):
    """Give what is kept of the source."""
    return one._joint.tracks[OPTICAL]


def until(samples: list[RelativeSample], t: float) -> list[RelativeSample]:
    """Give the samples up to a time."""
    return [sample for sample in samples if sample.t <= T0 + t]


@pytest.mark.parametrize("size", [0.02, -0.02])
def test_a_release_is_seen_in_range_while_the_rate_is_left_out(size):
    """Held at 15 m and released: within 10 s closing is seen, in 30 s the bounds hold."""
    shift = wrong_rate(size)

    def alter(t: float, values: dict[str, float]) -> dict[str, float] | None:
        gone = max(t - 100.0, 0.0)
        values["range_m"] -= 0.09 * gone
        values["range_rate_mps"] -= 0.09 if gone else 0.0
        return shift(t, values)

    one = Tracker(LIMITS, Setup())
    samples = Passing(closing_mps=0.0, for_s=150.0, alter=alter).samples()
    t = feed(one, until(samples, 99.9))
    assert not track_of(one).uses_rate
    assert one.motion(t) is Motion.NOT_CLOSING
    t = feed(one, until(samples, 110.0))
    assert one.motion(t) is Motion.CLOSING
    for after_s in (130.0, 149.0):
        t = feed(one, until(samples, after_s))
        assert not track_of(one).uses_rate
        true_s = 15.0 / 0.09 - (t - T0 - 100.0)
        shown = one.to_contact(t)
        assert shown.low_s < true_s < shown.high_s
        assert shown.best_s == pytest.approx(true_s, rel=0.05)


def test_a_gap_does_not_clear_a_warning_against_the_rate():
    """Six seconds of silence are no sign of health: the rate stays out of the estimate."""
    one = Tracker(LIMITS, Setup())
    alter = wrong_rate(0.02, silent=(80.0, 86.0))
    samples = Passing(start_m=20.0, for_s=140.0, alter=alter).samples()
    feed(one, until(samples, 79.0))
    assert not track_of(one).uses_rate
    for sample in samples:
        if sample.t > T0 + 79.0:
            one.update(sample)
            assert not track_of(one).uses_rate
            assert abs(one.estimate(sample.t).closing_rate_mps - 0.09) < 0.01


@pytest.mark.parametrize("silent", [(0.0, 0.0), (80.0, 86.0)])
def test_a_rate_that_is_right_again_is_used_again(silent):
    """Once as long a stretch of it as raised the warning shows nothing, it clears."""
    one = Tracker(LIMITS, Setup())
    alter = wrong_rate(0.02, until_s=81.0, silent=silent)
    samples = Passing(start_m=20.0, for_s=190.0, alter=alter).samples()
    feed(one, until(samples, 79.0))
    assert not track_of(one).uses_rate
    t = feed(one, samples)
    assert track_of(one).uses_rate
    assert one.findings(t) == ()
