"""Long campaigns flown in pieces, and the figures made of their rows."""

from __future__ import annotations

import math

import numpy as np
import pytest

from console.envelope.limits import Level
from tests.benchmarks import pieces as store_of
from tests.benchmarks.pieces import Pieces
from tests.benchmarks.tracking_findings import Edge, print_false
from tests.benchmarks.tracking_tables import (
    BINS,
    Row,
    bins_of,
    draw_reliability,
    error_by_chance,
    expected_calibration_error,
    is_inside,
    times_at,
    wilson,
)

JOBS = {f"square {i}": i for i in range(6)}


def square(number: int) -> list[float]:
    """Do a job, by any process."""
    return [float(number * number), math.nan]


def row(number: int, best_s: float | None, chance: float = 0.5, met: bool = True) -> Row:
    """Give a row at 10 m: 100 s left, bounds 10 s to either side of the best value."""
    low = None if best_s is None else best_s - 10.0
    high = None if best_s is None else best_s + 10.0
    return Row(
        number, False, 10.0, 100.0, best_s, low, high, 103.0, chance_all=chance, within_all=met
    )


@pytest.mark.parametrize("workers", [1, 2])
def test_pieces_give_what_one_run_gives(tmp_path, workers):
    """Half first, the rest later: each job is done once, in order, NaN and all."""
    store = tmp_path / "kept.jsonl"
    first = dict(list(JOBS.items())[:3])
    Pieces(workers, store).run(square, first, list[float])
    found = Pieces(workers, store).run(square, JOBS, list[float])
    assert list(found) == list(JOBS)
    assert [values[0] for values in found.values()] == [0.0, 1.0, 4.0, 9.0, 16.0, 25.0]
    assert all(math.isnan(values[1]) for values in found.values())
    assert len(store.read_text().splitlines()) == 1 + len(JOBS)


def test_no_time_left_gives_what_is_kept(tmp_path):
    """With no minutes to spend only what was done before comes back."""
    store = tmp_path / "kept.jsonl"
    Pieces(1, store).run(square, {"square 4": 4}, list[float])
    assert list(Pieces(1, store, 0.0).run(square, JOBS, list[float])) == ["square 4"]


def test_a_store_of_other_code_is_refused(tmp_path, monkeypatch):
    """Figures of two programs are never summed."""
    store = tmp_path / "kept.jsonl"
    Pieces(1, store).run(square, JOBS, list[float])
    monkeypatch.setattr(store_of, "digest", lambda: "other")
    with pytest.raises(SystemExit, match="other code"):
        Pieces(1, store).run(square, JOBS, list[float])


def test_times_are_summed_up_by_hand():
    """Errors of 3, -4 and 12 s: RMS 7.51, two of three bounds hold, one pass not shown."""
    found = times_at([row(0, 103.0), row(1, 96.0), row(2, 112.0), row(3, None)], 10.0)
    assert (found.count, found.asked) == (3, 4)
    assert found.rms_s == pytest.approx(math.sqrt((9.0 + 16.0 + 144.0) / 3.0))
    assert found.cover == pytest.approx(2.0 / 3.0)
    assert (found.width_s, found.raw_rms_s) == (20.0, 3.0)
    assert not found.meets(8.0, 20.0)
    assert times_at([row(0, None)], 10.0) is None


def test_an_open_late_bound_holds_what_comes_after_the_early_one():
    """None as late bound is open; without an early one nothing is claimed."""
    assert is_inside(5.0, 1e9, None)
    assert not is_inside(5.0, 4.0, None)
    assert not is_inside(None, 4.0, None)


def test_calibration_error_by_hand():
    """Half of the chances 0.15 with a fifth met, half 0.85 with a tenth missed: 0.05 each."""
    chance = np.repeat([0.15, 0.85], 10)
    met = np.array([1, 1] + [0] * 8 + [1] * 9 + [0], dtype=float)
    assert expected_calibration_error(chance, met) == pytest.approx(0.05)
    assert bins_of(chance, met) == [(pytest.approx(0.15), 0.2, 10), (pytest.approx(0.85), 0.9, 10)]
    lucky = error_by_chance(np.full(400, 0.5), np.random.default_rng(1), BINS)
    # Mean absolute deviation of a share of 400 tosses: sqrt(2/pi) * 0.5 / 20.
    assert lucky == pytest.approx(math.sqrt(2.0 / math.pi) * 0.025, rel=0.15)


def test_bounds_of_a_share():
    """Wilson's interval against scipy's."""
    from scipy.stats import binomtest

    expected = binomtest(7, 20).proportion_ci(method="wilson")
    assert wilson(0.35, 20) == pytest.approx((expected.low, expected.high), abs=1e-4)


def test_false_findings_are_counted_by_kind(capsys):
    """One caution and two advisories in 50 h are 2 and 4 in 100 h."""
    edges = [
        Edge("data:bias", "radio", Level.ADVISORY.word, 20.0, "leans"),
        Edge("data:bias", "radio", Level.ADVISORY.word, 19.0, "leans"),
        Edge("data:disagree", "radio", Level.CAUTION.word, 18.0, "differs"),
    ]
    print_false(50.0, edges)
    said = capsys.readouterr().out
    assert "caution or warning: 1 in 50.0 h, 2.0 in 100 h, goal 2, met" in said
    assert "advisory: 2 in 50.0 h, 4.0 in 100 h, goal 12, met" in said


def test_the_reliability_diagram_is_the_same_every_time(tmp_path):
    """Two drawings of the same rows are equal to the byte, so a change is a change of figures."""
    rows = [row(i, 100.0, (i % 10) / 10.0 + 0.05, i % 3 > 0) for i in range(60)]
    first, second = tmp_path / "a.svg", tmp_path / "b.svg"
    for path in (first, second):
        draw_reliability(rows, (10.0,), path)
    assert first.read_bytes() == second.read_bytes()
    assert b"chance said" in first.read_bytes()
