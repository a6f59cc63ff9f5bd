"""The leaning check: signs of innovations, and what makes a healthy source lean."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from console.core.records import RelativeSample
from console.simulation.population import SPREADS, Population, population
from console.simulation.simulate import simulate
from console.tracking.along import Along
from console.tracking.axis import Axis
from console.tracking.leaning import LIMIT, LeaningCheck
from console.tracking.plan import ClosingPlan
from console.tracking.tracker import Tracker
from tests.benchmarks.tracking_campaign import SETUP, load_limits

INTERVAL_S = 0.5


def fed(signs) -> LeaningCheck:
    """Give a check that has taken innovations of these signs."""
    check = LeaningCheck()
    for sign in signs:
        check.take(float(sign), INTERVAL_S)
    return check


def test_one_sign_leans_and_even_signs_do_not():
    """Two minutes above lean up, two minutes below lean down, two minutes of turns do not."""
    assert fed([1] * 240).leans
    assert fed([1] * 240).lean > LIMIT
    assert fed([-1] * 240).lean < -LIMIT
    assert not fed([1, -1] * 120).leans
    assert not fed([0] * 240).leans


def test_nothing_is_said_before_ninety_seconds():
    """However one-sided, the first minute and a half is too little."""
    assert not fed([1] * 179).leans
    assert fed([1] * 181).leans


def test_the_mean_sign_scatters_as_it_should():
    """Over independent signs its variance is w/(2 - w) of a fading mean with weight w."""
    rng = np.random.default_rng(3)
    weight = INTERVAL_S / (INTERVAL_S + 30.0)
    leans = [fed(rng.choice([-1.0, 1.0], 600)).lean for _ in range(400)]
    assert np.var(leans) == pytest.approx(weight / (2.0 - weight), rel=0.2)


def test_a_restart_forgets_signs_but_not_the_time_watched():
    """After a restart the same minute that raised it is needed again, not ninety seconds."""
    check = fed([1] * 240)
    check.restart(INTERVAL_S)
    assert check.lean == 0.0
    assert not check.leans
    for _ in range(80):
        check.take(1.0, INTERVAL_S)
    assert check.leans


def along(range_m: float, rate_mps: float) -> Along:
    """Give a settled range axis carried on for half a minute along a plan with a knee at 20 m."""
    plan = ClosingPlan(20.0, 0.09, 0.09)
    one = Along(plan, Axis(range_m, rate_mps, 1e-3, 4e-6))
    for _ in range(30):
        one.step(1.0)
        one.axis.c = 4e-6
    return one


def test_the_state_bends_while_it_slows_and_not_at_an_even_rate():
    """Outside the knee slowing is expected; inside it, or in a hold, it is not."""
    assert along(40.0, -0.25).bends
    assert not along(15.0, -0.09).bends
    assert not along(20.2, 0.0).bends
    for name in ("manoeuvring", "is_told"):
        one = along(15.0, -0.09)
        setattr(one, name, True)
        assert one.bends


def test_a_vehicle_slower_than_planned_is_no_bias_of_its_sources():
    """Final rates of 0.05 to 0.06 m/s where 0.09 is planned: nothing is found in good data."""
    limits = load_limits()
    spread = replace(
        SPREADS[Population.WIDE], start_range_m=40.0, hold_share=0.0, final_rate_mps=(0.05, 0.06)
    )
    for member in population(spread, 3, 4130):
        passing = simulate(member.scenario, limits, SETUP, member.seed)
        one = Tracker(limits, SETUP)
        for message in passing.messages:
            sample = message.record
            if isinstance(sample, RelativeSample) and sample.t < passing.truth.t_contact:
                one.update(sample)
                assert one.findings(sample.t) == ()
