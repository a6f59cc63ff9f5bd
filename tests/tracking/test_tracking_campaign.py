"""Small campaigns of simulated passes: the code of the long ones (FIGURES.md), few passes."""

from __future__ import annotations

import math

import numpy as np
import pytest

from console.core.ids import SourceId
from console.envelope.limits import Level
from console.envelope.quantity import Quantity
from console.simulation.population import Population, population
from tests.benchmarks.pieces import Pieces
from tests.benchmarks.tracking_campaign import SETUP, campaign, load_archive, rows_of
from tests.benchmarks.tracking_faults import delay_of, false_findings
from tests.benchmarks.tracking_holds import watch
from tests.benchmarks.tracking_tables import (
    GOALS,
    LEAST_COVER,
    Row,
    chances_at,
    expected_calibration_error,
    times_at,
)


def check_times(rows: list[Row]) -> None:
    """Check every goal on some rows."""
    for range_m, goal in GOALS.items():
        found = times_at(rows, range_m)
        assert found is not None
        assert found.meets(*goal), (range_m, found)


@pytest.fixture(scope="module")
def rows() -> list[Row]:
    """Fly twenty nominal passes once."""
    flights = campaign(Population.NOMINAL, 20, 8801, Pieces(1), load_archive())
    assert len(flights) == 20
    return rows_of(flights)


def test_time_to_contact_reaches_its_goals(rows):
    """RMS, coverage and widths at 50 to 2 m; the outer ranges on passes without a hold."""
    check_times([r for r in rows if not r.held or r.range_m <= 10.0])


def test_time_to_contact_beats_range_over_rate(rows):
    """At every range the error is a fraction of that of range over range rate."""
    for range_m in GOALS:
        some = [r for r in rows if r.range_m == range_m and r.best_s is not None]
        ours = np.mean([(r.best_s - r.true_s) ** 2 for r in some])
        raw = np.mean([(r.raw_s - r.true_s) ** 2 for r in some])
        assert ours < 0.25 * raw


def test_closing_rate_at_contact_is_known_from_ten_metres(rows):
    """From 10 m the closing rate at contact is predicted to 1.6 mm/s."""
    some = [r for r in rows if r.range_m == 10.0]
    error = [r.predicted[Quantity.CLOSING_RATE] - r.actual[Quantity.CLOSING_RATE] for r in some]
    assert np.sqrt(np.mean(np.square(error))) <= 0.0016


def test_time_to_hands_off_is_covered(rows):
    """The bounds of the hands-off countdown hold inside the knee."""
    some = [r for r in rows if r.range_m in (15.0, 10.0, 5.0) and r.hands_off[0] is not None]
    inside = [r.hands_off[1] <= r.hands_off_true_s <= (r.hands_off[2] or math.inf) for r in some]
    assert np.mean(inside) >= 0.93


def test_healthy_passes_raise_no_warning():
    """Three fault-free passes: no caution, no warning."""
    for member in population(Population.NOMINAL, 3, 8802):
        _, edges = false_findings((member, SETUP))
        assert [edge for edge in edges if edge.level != Level.ADVISORY.word] == []


@pytest.mark.parametrize(
    ("fault", "within_s"),
    [
        ("frozen", 1.5), ("range step 0.5 m", 10.0), ("range scale 3 %", 10.0),
        ("rate 2 cm/s", 40.0), ("rate -2 cm/s", 40.0), ("rate 8 mm/s", 150.0),
    ],
)  # fmt: skip
def test_a_fault_is_found_in_time(fault, within_s):
    """One pass of each fault, begun at 30 m: found, and soon."""
    (member,) = population(Population.NOMINAL, 1, 8803)
    _, delay, what = delay_of((fault, member, 30.0, SourceId("optical"), SETUP, Level.ADVISORY))
    assert delay is not None, what
    assert delay <= within_s


def test_a_hold_is_not_closing_and_a_release_is_seen():
    """In two holds nothing is called closing; the release is seen within 2.5 s."""
    holds = [watch(member) for member in population(Population.NOMINAL, 5, 8804)]
    seen = [one for one in holds if one is not None]
    assert seen
    for one in seen:
        assert one.false <= 0.002 * one.samples
        assert one.seen_s is not None
        assert one.seen_s <= 2.5


@pytest.mark.slow
def test_a_wide_population_is_covered_and_calibrated():
    """120 wide passes: coverage at every range, chances calibrated within sampling error."""
    found = rows_of(campaign(Population.WIDE, 120, 8805, Pieces(2), load_archive()))
    for range_m in GOALS:
        assert times_at(found, range_m).cover >= LEAST_COVER, range_m
    chance, met = chances_at(found, 5.0)
    # Ten bins of a dozen passes scatter by some 0.05 by themselves.
    assert expected_calibration_error(chance, met) < 0.10
    assert chance.mean() == pytest.approx(met.mean(), abs=0.09)
