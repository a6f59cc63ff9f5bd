"""How numbers, times and chances are written."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from console.envelope.quantity import Quantity
from console.present import text
from console.tracking.outlook import Countdown


@pytest.mark.parametrize(
    ("value", "decimals", "expected"),
    [
        (0.0834, 3, "0.083"),
        (-0.19, 3, "−0.190"),
        (-0.0004, 3, "0.000"),
        (-0.0, 1, "0.0"),
        (12.0, 0, "12"),
        (None, 2, "—"),
        (math.nan, 2, "—"),
        (math.inf, 2, "—"),
    ],
)
def test_a_number_has_fixed_decimals_and_a_real_minus(
    value: float | None, decimals: int, expected: str
) -> None:
    """Digits do not jump, minus zero is zero, and what is unknown is a dash."""
    assert expected == text.number(value, decimals)


@given(st.floats(-1e6, 1e6), st.integers(0, 4))
def test_a_written_number_reads_back(value: float, decimals: int) -> None:
    """What is on the screen differs from the value by at most half of the last decimal."""
    written = text.number(value, decimals)
    assert "-" not in written
    read = float(written.replace("−", "-"))
    assert abs(read - value) <= 0.5 * 10**-decimals + 1e-9 * abs(value)


@given(st.floats(-0.9994, 0.9994))
def test_the_width_of_a_small_number_stands_still(value: float) -> None:
    """Apart from its sign a figure under 1 always takes the same number of places."""
    assert len(text.number(value, 3).lstrip("−")) == 5


@pytest.mark.parametrize(
    ("seconds", "down", "expected"),
    [
        (64.0, False, "1:04"),
        (64.6, False, "1:05"),
        (64.6, True, "1:04"),
        (0.0, False, "0:00"),
        (3599.7, False, "1:00:00"),
        (3599.7, True, "59:59"),
        (3723.0, False, "1:02:03"),
        (-5.2, False, "−0:05"),
        (-0.2, False, "0:00"),
        (None, False, "—"),
        (math.nan, True, "—"),
    ],
)
def test_a_duration_is_minutes_and_seconds(
    seconds: float | None, down: bool, expected: str
) -> None:
    """Minutes and two digits of seconds; a deadline is cut, never rounded up."""
    assert expected == text.duration(seconds, down=down)


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (61.0, 67.0, "± 3 s"),
        (63.9, 66.2, "± 3 s"),
        (64.0, 64.0, "± 1 s"),
        (10.0, 200.0, "± 2:16"),
        (61.0, None, "or later"),
        (None, None, ""),
    ],
)
def test_the_doubt_of_a_countdown_never_promises_more_than_its_bounds(
    low: float | None, high: float | None, expected: str
) -> None:
    """The wider side counts, rounded up; an open late bound is said in words."""
    assert text.doubt(Countdown(64.0, low, high)) == expected


@pytest.mark.parametrize(
    ("share", "expected"),
    [(1.0, "> 99 %"), (0.9901, "> 99 %"), (0.99, "99 %"), (0.88, "88 %"), (0.01, "1 %"),
     (0.004, "< 1 %"), (0.0, "< 1 %"), (None, "—")],
)  # fmt: skip
def test_a_chance_is_never_certain(share: float | None, expected: str) -> None:
    """Whole percent, and beyond 99 or below 1 only a bound."""
    assert expected == text.chance(share)


def test_a_band_has_both_ends_or_says_which_is_open() -> None:
    """Two limits are joined by a dash; a lone upper one stands alone, a lone lower one has ≥."""
    assert text.band(0.05, 0.11, 3) == "0.050–0.110"
    assert text.band(None, 0.11, 2) == "0.11"
    assert text.band(0.05, None, 2) == "≥\u20090.05"
    assert text.band(None, None, 2) == "—"


def test_range_is_finer_near_by() -> None:
    """Centimetres below 100 m, decimetres beyond."""
    assert text.range_m(5.1) == "5.10"
    assert text.range_m(150.04) == "150.0"
    assert text.range_m(None) == "—"


def test_ages_and_signs() -> None:
    """An age has tenths; a signed figure always carries its sign."""
    assert text.age(1.62) == "1.6 s"
    assert text.age(130.0) == "2:10"
    assert text.signed(0.5, 1) == "+0.5"
    assert text.signed(-0.5, 1) == "−0.5"
    assert text.signed(0.0, 1) == "±0.0"


def test_hash_clock_and_counts() -> None:
    """Short forms for a line."""
    assert text.short_hash("3f9a" + "0" * 58 + "c1") == "3f9a…c1"
    assert text.short_hash("") == "—"
    assert text.clock(0.0) == "00:00:00"
    assert text.clock(None) == "—"
    assert (text.count(1, "value"), text.count(2, "value")) == ("1 value", "2 values")
    assert text.quantity(0.5246, Quantity.PITCH_YAW) == "0.52"


@pytest.mark.parametrize(("value", "expected"), [(0.1, 1), (0.05, 2), (4.0, 1), (0.125, 3)])
def test_decimals_of_a_files_number(value: float, expected: int) -> None:
    """The fewest that write it whole."""
    assert expected == text.decimals_of(value)
