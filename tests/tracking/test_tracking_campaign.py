"""Small campaigns of simulated passes: the code of the long ones (FIGURES.md), few passes."""

from __future__ import annotations

import math

import numpy as np
import pytest

from console.core.ids import SourceId
from console.envelope.limits import Level
from console.envelope.quantity import Quantity
from console.simulation.population import Population, population
from tests.benchmarks.tracking_campaign import (
    SETUP,
    Row,
    campaign,
    expected_calibration_error,
    load_archive,
)
from tests.benchmarks.tracking_faults import delay_of, false_findings
from tests.benchmarks.tracking_holds import watch

# Range, greatest RMS error and greatest median width of the 95 % bounds, s.
GOALS = [
    (50.0, 28.0, 78.0),
    (20.0, 17.0, 50.0),
    (10.0, 1.8, 8.2),
    (5.0, 0.9, 4.3),
    (2.0, 0.5, 2.1),
]


def check_times(rows: list[Row], least_cover: float) -> None:
    """Check every goal on some rows."""
    for range_m, rms, width in GOALS:
        some = [r for r in rows if r.range_m == range_m and r.best_s is not None]
        error = np.array([r.best_s - r.true_s for r in some])
        high = [math.inf if r.high_s is None else r.high_s for r in some]
        inside = [r.low_s <= r.true_s <= h for r, h in zip(some, high, strict=True)]
        assert np.sqrt(np.mean(error**2)) <= rms, range_m
        assert np.mean(inside) >= least_cover, range_m
        assert np.median(np.array(high) - [r.low_s for r in some]) <= width, range_m


@pytest.fixture(scope="module")
def rows() -> list[Row]:
    """Fly twenty nominal passes once."""
    return campaign(Population.NOMINAL, 20, 8801, workers=1, archive=load_archive())


def test_time_to_contact_reaches_its_goals(rows):
    """RMS, coverage and widths at 50 to 2 m; the outer ranges on passes without a hold."""
    check_times([r for r in rows if not r.held or r.range_m <= 10.0], 0.93)


def test_time_to_contact_beats_range_over_rate(rows):
    """At every range the error is a fraction of that of range over range rate."""
    for range_m, _, _ in GOALS:
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
        assert [edge for edge in edges if edge[2] != Level.ADVISORY.word] == []


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
    found = campaign(Population.WIDE, 120, 8805, workers=2, archive=load_archive())
    for range_m, _, _ in GOALS:
        some = [r for r in found if r.range_m == range_m and r.best_s is not None]
        inside = [r.low_s <= r.true_s <= (r.high_s or math.inf) for r in some]
        assert np.mean(inside) >= 0.93, range_m
    some = [r for r in found if r.range_m == 5.0 and r.chance_all is not None]
    chance = np.array([r.chance_all for r in some])
    met = np.array([float(r.within_all) for r in some])
    # Ten bins of a dozen passes scatter by some 0.05 by themselves.
    assert expected_calibration_error(chance, met) < 0.10
    assert chance.mean() == pytest.approx(met.mean(), abs=0.09)
