"""Populations: reproducible, spread as they say, and broken as often as they should be."""

import numpy as np
import pytest
from simulation_cases import LIMITS, SETUP

from console.envelope.quantity import Quantity
from console.simulation.population import SPREADS, Population, Spread, population
from console.simulation.scenario import Scenario
from console.simulation.simulate import simulate


def test_a_longer_draw_begins_like_a_shorter_one():
    """The first passes do not depend on how many are drawn; another seed gives others."""
    short = population(Population.NOMINAL, 5, 7)
    assert population(Population.NOMINAL, 12, 7)[:5] == short
    assert population(Population.NOMINAL, 5, 8) != short
    assert len({member.seed for member in population(Population.WIDE, 200, 7)}) == 200


@pytest.mark.parametrize("kind", list(Population))
def test_what_varies_stays_in_its_spread(kind):
    """Final rate, slope, dead band and hold lie in their intervals and fill them."""
    rule = SPREADS[kind]
    members = population(kind, 300, 3)
    for name, (low, high) in (
        ("final_rate_mps", rule.final_rate_mps),
        ("slope_per_s", rule.slope_per_s),
        ("lateral_deadband_mps", rule.lateral_deadband_mps),
    ):
        drawn = np.array([getattr(member.scenario.steering, name) for member in members])
        assert low <= drawn.min()
        assert drawn.max() <= high
        assert np.ptp(drawn) >= 0.9 * (high - low)
    holds = [member.scenario.holds for member in members]
    assert 0.4 < np.mean([bool(hold) for hold in holds]) < 0.6
    waits = [hold[0].for_s for hold in holds if hold]
    assert 60.0 <= min(waits) <= max(waits) <= 300.0
    for member in members[:20]:
        assert all(sensor.dropouts.count == 3 for sensor in member.scenario.sensors)


def share_within(kind, count):
    """Give the share of a population whose true contact meets the published conditions."""
    within = []
    for scenario, seed in population(kind, count, 21, Scenario(sensors=())):
        values = simulate(scenario, LIMITS, SETUP, seed).truth.contact.values
        within.append(
            0.05 <= values[Quantity.CLOSING_RATE] <= 0.10
            and values[Quantity.LATERAL_OFFSET] <= 0.10
            and values[Quantity.LATERAL_RATE] <= 0.04
        )
    return np.mean(within)


def test_a_nominal_vehicle_mostly_passes_and_a_wide_one_often_fails():
    """Most nominal passes meet the contact conditions; of the wide ones under two in three."""
    assert share_within(Population.NOMINAL, 30) >= 0.7
    assert 0.15 <= share_within(Population.WIDE, 30) <= 0.65


def test_a_population_of_ones_own():
    """Any spread over any base scenario."""
    spread = Spread(final_rate_mps=(0.07, 0.07), hold_share=0.0, start_range_m=30.0)
    (member,) = population(spread, 1, 1, base=Scenario(title="Mine", longest_s=900.0))
    assert member.scenario.title == "Mine, pass 1"
    assert member.scenario.longest_s == 900.0
    assert member.scenario.start_range_m == 30.0
    assert member.scenario.holds == ()
    run = simulate(member.scenario, LIMITS, SETUP, member.seed)
    assert run.truth.contact.closing_rate_mps == pytest.approx(0.07, abs=0.006)
