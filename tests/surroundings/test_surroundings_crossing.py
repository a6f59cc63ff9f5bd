"""Finding changes of sign: none missed, not even one shorter than the step."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from console.surroundings.crossing import bisected, crossings


def test_roots_of_a_sine_to_a_millisecond() -> None:
    """Every half period, in order."""
    found = crossings(lambda t: math.sin(2.0 * math.pi * t / 5400.0), 100.0, 12_000.0)
    assert found == pytest.approx([2700.0, 5400.0, 8100.0, 10_800.0], abs=1e-3)


@settings(deadline=None, max_examples=200)
@given(st.floats(0.0, 2700.0), st.floats(1e-7, 0.01), st.sampled_from([1.0, -1.0]))
def test_a_dip_shorter_than_the_step_is_found(shift: float, depth: float, sign: float) -> None:
    """A cosine that just dips past zero gives both edges, wherever the grid falls."""

    def f(t: float) -> float:
        return sign * (1.0 - depth + math.cos(2.0 * math.pi * (t - shift) / 5400.0))

    half = math.acos(1.0 - depth) / (2.0 * math.pi) * 5400.0
    middle = shift + 2700.0
    start, end = middle - 2000.0, middle + 2000.0
    assert crossings(f, start, end) == pytest.approx([middle - half, middle + half], abs=2e-3)


def test_touching_without_crossing_gives_nothing() -> None:
    """A least value above zero is not a change of sign."""
    assert crossings(lambda t: (t - 1000.0) ** 2 + 1.0, 0.0, 2000.0) == ()
    assert crossings(lambda t: 5.0, 0.0, 2000.0) == ()


def test_times_do_not_depend_on_where_the_search_begins() -> None:
    """The grid is absolute: the same bits from any start."""

    def f(t: float) -> float:
        return math.cos(t / 700.0)

    whole = crossings(f, 0.0, 20_000.0)
    later = crossings(f, 1234.5, 20_000.0)
    assert later == tuple(t for t in whole if t >= 1234.5)


def test_bisection_keeps_the_side() -> None:
    """Falling and rising functions alike."""
    assert bisected(lambda t: t - 3.2, 0.0, 10.0) == pytest.approx(3.2, abs=1e-3)
    assert bisected(lambda t: 3.2 - t, 0.0, 10.0) == pytest.approx(3.2, abs=1e-3)
