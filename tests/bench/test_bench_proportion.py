"""Intervals of shares and sample sizes, against printed examples and scipy."""

import math

import pytest
from scipy import stats

from console.bench.proportion import exact, runs_for_width, runs_needed, wilson
from console.core.errors import UsageError

# Newcombe, Statistics in Medicine 17, 1998, Table I: methods 3 (score) and 5 (exact); from memory.
NEWCOMBE = [
    (81, 263, (0.2553, 0.3662), (0.2527, 0.3676)),
    (15, 148, (0.0624, 0.1605), (0.0578, 0.1617)),
    (0, 20, (0.0, 0.1611), (0.0, 0.1684)),
    (1, 29, (0.0061, 0.1718), (0.0009, 0.1776)),
]


@pytest.mark.parametrize(("k", "n", "score", "tails"), NEWCOMBE)
def test_intervals_are_those_of_the_printed_table(k, n, score, tails) -> None:
    """Wilson and exact intervals agree with Newcombe 1998, Table I, to its four digits."""
    assert score == pytest.approx(wilson(k, n), abs=5.1e-5)
    assert tails == pytest.approx(exact(k, n), abs=5.1e-5)


def test_the_exact_interval_is_that_of_the_handbook() -> None:
    """4 of 20 at 90 % gives NIST/SEMATECH e-Handbook 7.2.4.2's limits (digits from memory)."""
    assert pytest.approx(exact(4, 20, 0.90), abs=2e-6) == (0.071354, 0.401029)


def test_ten_in_a_hundred_is_as_printed() -> None:
    """10 and 0 of 100 give the Wilson bounds printed in a public collection of examples."""
    # codegolf.stackexchange.com/questions/105389, which takes z = 1.96
    assert pytest.approx(wilson(10, 100), abs=1.1e-5) == (0.05523, 0.17437)
    assert pytest.approx(wilson(0, 100), abs=1.1e-5) == (0.0, 0.03699)


@pytest.mark.parametrize("confidence", [0.8, 0.95, 0.999])
@pytest.mark.parametrize("n", [1, 7, 50, 10_000])
def test_intervals_agree_with_scipy(n, confidence) -> None:
    """Both intervals are scipy's, for no, few, half and all passes."""
    for k in {0, 1, n // 3, n // 2, n}:
        result = stats.binomtest(k, n)
        for ours, method in ((wilson, "wilson"), (exact, "exact")):
            theirs = result.proportion_ci(confidence, method)
            assert (theirs.low, theirs.high) == pytest.approx(ours(k, n, confidence), abs=1e-9)


def test_no_passes_tell_nothing() -> None:
    """Without passes the share may be anything."""
    assert wilson(0, 0) == exact(0, 0) == (0.0, 1.0)


# 59, 93, 124, 153: Wilks' orders 1 to 4 for 95/95; 59 is printed in "Uncertainty, Sample Size and
# the 95/95 Tolerance Limit". The other rows follow from the binomial distribution (scipy below).
TABLE = {
    (0.01, 0.90): (230, 388, 531, 667),
    (0.05, 0.95): (59, 93, 124, 153),
    (0.10, 0.95): (29, 46, 61, 76),
    (0.01, 0.95): (299, 473, 628, 773),
    (0.05, 0.99): (90, 130, 165, 198),
}


@pytest.mark.parametrize("asked", TABLE)
def test_runs_needed_are_those_of_the_tables(asked) -> None:
    """Sample sizes with 0 to 3 failures are Wilks' and what scipy's binomial says."""
    chance, confidence = asked
    for failures, runs in enumerate(TABLE[asked]):
        assert runs == runs_needed(chance, confidence, failures)
        assert stats.binom.cdf(failures, runs, chance) <= 1.0 - confidence
        assert stats.binom.cdf(failures, runs - 1, chance) > 1.0 - confidence


@pytest.mark.parametrize(("chance", "confidence", "runs"), [(0.5, 0.75, 2), (0.1, 0.1, 1)])
def test_a_size_that_just_suffices_is_not_exceeded(chance, confidence, runs) -> None:
    """Where the rule comes out at a whole number, rounding adds no run."""
    assert runs == runs_needed(chance, confidence)


@pytest.mark.parametrize("chance", [0.3, 0.02, 1e-3, 1e-4])
def test_without_failures_the_logarithm_rule_holds(chance) -> None:
    """Zero failures: n is ln(1-C)/ln(1-p), rounded up, and near 3/p (the rule of three)."""
    n = runs_needed(chance)
    assert n == math.ceil(math.log(0.05) / math.log(1.0 - chance))
    if chance < 0.01:
        # Eypasch et al., BMJ 311, 1995: upper bound 3/n where nothing was seen
        assert n == pytest.approx(3.0 / chance, rel=0.01)


def test_sizes_for_a_width_are_the_survey_ones() -> None:
    """5 points at 95 % ask for 385 runs, 3 points for 1068 (Cochran 1977, from memory)."""
    assert (runs_for_width(0.05), runs_for_width(0.03)) == (385, 1068)
    assert runs_for_width(0.01, share=0.02) < runs_for_width(0.01)


@pytest.mark.parametrize(
    "call",
    [
        lambda: wilson(3, 2),
        lambda: exact(-1, 2),
        lambda: wilson(1, 2, 1.0),
        lambda: runs_needed(0.0),
        lambda: runs_needed(0.1, failures=-1),
        lambda: runs_for_width(0.1, share=1.5),
    ],
)
def test_what_makes_no_sense_is_refused(call) -> None:
    """Counts beyond the passes and shares outside 0 to 1 are a caller's mistake."""
    with pytest.raises(UsageError):
        call()
