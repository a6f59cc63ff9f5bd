"""d', criterion and intervals against printed examples, against scipy, and against simulation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from console.rehearsal.detection import Correction, Trials, detection

counts = st.integers(0, 200)


def of_rates(hit: float, false: float, n: int = 100) -> Trials:
    """Give counts of two rates."""
    hits, false_alarms = round(hit * n), round(false * n)
    return Trials(hits, n - hits, false_alarms, n - false_alarms)


@pytest.mark.parametrize(
    ("hit", "false", "printed", "digits"),
    [
        # W. Schneider, Short Notes on Theory of Signal Detection, table of three subjects
        (0.70, 0.10, 1.806, 3), (0.50, 0.40, 0.253, 3), (0.85, 0.05, 2.681, 3),
        # G. Perlman, |STAT manual, dprime(1), 1985: "dprime .7 .4" prints 0.78
        (0.70, 0.40, 0.78, 2),
        # Macmillan & Creelman, Detection Theory, 2nd ed., ch. 1, as printed in the
        # tests of sam81's package DetectionTheory.jl for Julia
        (0.80, 0.40, 1.095, 3), (0.32, 0.04, 1.283, 3), (0.99, 0.01, 4.65, 2),
    ],
)  # fmt: skip
def test_printed_sensitivities(hit: float, false: float, printed: float, digits: int) -> None:
    """Uncorrected d' is the printed one to its last digit."""
    found = detection(of_rates(hit, false), Correction.NONE)
    assert found is not None
    assert printed == pytest.approx(found.d_prime, abs=0.5 * 10**-digits + 1e-9)


def test_the_mean_of_three_subjects_as_printed() -> None:
    """Schneider's three subjects have a mean d' of 1.5802: d' is averaged, never the rates."""
    found = [
        detection(of_rates(h, f), Correction.NONE)
        for h, f in ((0.7, 0.1), (0.5, 0.4), (0.85, 0.05))
    ]
    assert np.mean([one.d_prime for one in found]) == pytest.approx(1.5802, abs=5e-4)


def test_a_published_case_with_its_criterion() -> None:
    """6 hits of 14 and 7 false alarms of 16 give d' -0.023 and c 0.169.

    The tests of the package Psycho.jl for Julia (test/tests/sdt.jl).
    """
    found = detection(Trials(6, 8, 7, 9), Correction.NONE)
    assert found is not None
    assert (
        pytest.approx(found.d_prime, abs=1e-3), pytest.approx(found.criterion, abs=1e-3),
    ) == (-0.023, 0.169)  # fmt: skip


@pytest.mark.parametrize(
    ("hit", "false", "d_prime", "criterion"),
    [(0.69, 0.31, 0.992, 0.0), (0.89, 0.59, 0.999, -0.727)],
)
def test_the_face_recognition_example(
    hit: float, false: float, d_prime: float, criterion: float
) -> None:
    """Same sensitivity, other criterion: Macmillan & Creelman, 2nd ed., ch. 1-2, from memory."""
    found = detection(of_rates(hit, false), Correction.NONE)
    assert found is not None
    assert d_prime == pytest.approx(found.d_prime, abs=6e-4)
    assert criterion == pytest.approx(found.criterion, abs=6e-4)


def test_the_interval_of_the_face_recognition_example() -> None:
    """100 trials each, rates .69 and .31: 0.99 within 0.36 (the same book, ch. 13, from memory).

    By hand: .69 * .31 / (100 * .3528^2) = .01719 twice, sqrt(.03437) = .1854, times 1.96.
    """
    found = detection(of_rates(0.69, 0.31), Correction.NONE)
    assert found is not None
    low, high = found.d_interval
    assert pytest.approx((low, high), abs=1e-3) == (0.992 - 0.363, 0.992 + 0.363)
    low, high = found.c_interval
    assert pytest.approx((low, high), abs=1e-3) == (-0.182, 0.182)


@given(counts, counts, counts, counts)
def test_against_scipy(hits: int, misses: int, false: int, quiet: int) -> None:
    """The log-linear rates go through ``scipy.stats.norm``; no count gives an infinite d'."""
    found = detection(Trials(hits, misses, false, quiet))
    if not (hits + misses and false + quiet):
        assert found is None
        return
    assert found is not None
    hit_rate = (hits + 0.5) / (hits + misses + 1)
    false_rate = (false + 0.5) / (false + quiet + 1)
    z_hit, z_false = stats.norm.ppf([hit_rate, false_rate])
    assert found.d_prime == pytest.approx(z_hit - z_false, abs=1e-9)
    assert found.criterion == pytest.approx(-(z_hit + z_false) / 2, abs=1e-9)
    variance = hit_rate * (1 - hit_rate) / (hits + misses + 1) / stats.norm.pdf(z_hit) ** 2
    variance += false_rate * (1 - false_rate) / (false + quiet + 1) / stats.norm.pdf(z_false) ** 2
    half = stats.norm.ppf(0.975) * np.sqrt(variance)
    assert found.d_interval == pytest.approx(
        (found.d_prime - half, found.d_prime + half), abs=1e-9
    )


def test_the_corrected_extremes() -> None:
    """20 of 20 hits and 0 of 80 false alarms: rates .97619 and .00617, d' 4.4829.

    Hautus' rule by hand: 20.5/21 and 0.5/81.
    """
    found = detection(Trials(20, 0, 0, 80))
    assert found is not None
    assert pytest.approx((found.hit_rate, found.false_alarm_rate, found.d_prime), abs=6e-5) == (
        0.97619,
        0.00617,
        4.4829,
    )
    assert detection(Trials(20, 0, 0, 80), Correction.NONE) is None


def test_the_variance_is_that_of_the_delta_method() -> None:
    """Slopes of scipy's ``ppf`` by differences give the same standard error."""
    h, f, n_s, n_n = 0.8, 0.1, 50, 50
    slope_h, slope_f = (
        (stats.norm.ppf(p + 1e-5) - stats.norm.ppf(p - 1e-5)) / 2e-5 for p in (h, f)
    )
    sigma = np.sqrt(slope_h**2 * h * (1 - h) / n_s + slope_f**2 * f * (1 - f) / n_n)
    found = detection(Trials(40, 10, 5, 45), Correction.NONE)
    assert found is not None
    assert found.d_sigma == pytest.approx(sigma, rel=1e-6)


def test_the_interval_covers_what_it_says() -> None:
    """Of 4000 simulated observers with d' 1.5 and 200 trials each, 93 to 97 % are covered."""
    rng = np.random.default_rng(7)
    h, f = stats.norm.sf(0.5 - 1.5), stats.norm.sf(0.5)
    hits, false = rng.binomial(200, h, 4000), rng.binomial(200, f, 4000)
    covered = 0
    for a, b in zip(hits.tolist(), false.tolist(), strict=True):
        found = detection(Trials(a, 200 - a, b, 200 - b))
        assert found is not None
        low, high = found.d_interval
        covered += low <= 1.5 <= high
    assert 0.93 <= covered / 4000 <= 0.97
