"""Axes: round numbers, ticks that fit, scales that are what they say, steps without flutter."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from fakes.plot_meter import FakeMeter, overlapping
from hypothesis import given
from hypothesis import strategies as st

from console.present.plot_axis import (
    RangeScale,
    Scale,
    Steps,
    clock_step,
    decimals_of,
    nice_above,
    range_ticks,
    tick_step,
)
from console.present.plot_scene import Box, Label

POSITIVE = st.floats(1e-6, 1e6)


@given(POSITIVE)
def test_nice_number_is_round_and_not_far_above(value: float) -> None:
    """The round number is not below, at most a half above, and has at most two digits."""
    nice = nice_above(value)
    assert value * (1.0 - 1e-8) <= nice <= value * 1.5 * (1.0 + 1e-8)
    mantissa = nice / 10.0 ** math.floor(math.log10(nice) + 1e-9)
    assert abs(mantissa * 10.0 - round(mantissa * 10.0)) < 1e-6


@given(POSITIVE, st.integers(1, 20))
def test_tick_step_is_one_two_or_five(span: float, most: int) -> None:
    """A step is 1, 2 or 5 times a power of ten and makes no more steps than asked for."""
    step = tick_step(span, most)
    assert span / step <= most * (1.0 + 1e-6)
    mantissa = step / 10.0 ** math.floor(math.log10(step) + 1e-9)
    assert min(abs(mantissa - m) for m in (1.0, 2.0, 5.0)) < 1e-6


@pytest.mark.parametrize(
    ("step", "decimals"), [(1.0, 0), (20.0, 0), (0.5, 1), (0.05, 2), (0.25, 2), (0.002, 3)]
)
def test_decimals_are_what_a_step_needs(step: float, decimals: int) -> None:
    """A step's multiples are written with just the decimals that tell them apart."""
    assert decimals_of(step) == decimals


@given(st.floats(-50, 50), st.floats(0.01, 100), st.floats(40, 900), st.floats(10, 80))
def test_ticks_lie_on_the_axis_and_apart(low: float, span: float, px: float, apart: float) -> None:
    """Every tick stands within the axis, at least as far from the next as asked for."""
    scale = Scale(low, low + span, px, 0.0)
    ticks = scale.ticks(apart)
    assert all(-1e-3 <= tick.px <= px + 1e-3 for tick in ticks)
    gaps = [a.px - b.px for a, b in pairwise(ticks)]
    assert all(gap >= apart * (1 - 1e-6) or len(ticks) <= 2 for gap in gaps)


def test_negative_ticks_have_a_real_minus() -> None:
    """Negative labels carry the minus sign, zero none."""
    texts = [tick.text for tick in Scale(-0.4, 0.4, 100.0, 0.0).ticks(20.0)]
    assert texts == ["−0.4", "−0.2", "0.0", "0.2", "0.4"]


def test_range_axis_is_a_square_root() -> None:
    """A quarter of the outer range stands half way; contact at its place; below zero beyond."""
    scale = RangeScale(20.0, 100.0, 700.0)
    assert scale.px(20.0) == pytest.approx(100.0)
    assert scale.px(5.0) == pytest.approx(400.0)
    assert scale.px(0.0) == 700.0
    assert scale.px(-0.05) == pytest.approx(700.0 + 30.0)


@given(st.floats(-5.0, 250.0))
def test_range_axis_is_one_function(range_m: float) -> None:
    """One value and an array give the same place, and the place gives the range back."""
    scale = RangeScale(220.0, 60.0, 800.0)
    px = scale.px(range_m)
    assert float(scale.px_of(np.array([range_m]))[0]) == pytest.approx(px, abs=1e-9)
    assert scale.range_at(px) == pytest.approx(range_m, abs=1e-6)


@pytest.mark.parametrize("outer_m", [5.5, 22.0, 55.0, 220.0])
@pytest.mark.parametrize("width", [200.0, 560.0, 1900.0])
@pytest.mark.parametrize("unit", [1.0, 2.0])
def test_range_ticks_neither_touch_nor_leave(outer_m: float, width: float, unit: float) -> None:
    """Labels of the range axis neither touch each other nor leave their row; 0 is among them."""
    meter = FakeMeter(unit)
    row = Box(0.0, 0.0, width, meter.height)
    scale = RangeScale(outer_m, 50.0, width - 25.0)
    ticks = range_ticks(scale, (0.0, 200.0, 50.0, 20.0, 5.0, 10.0, 2.0, 1.0, 0.5), row, meter)
    labels = [
        Label(t.text, Box(t.px - meter.width(t.text) / 2, 0.0, meter.width(t.text), 15.0))
        for t in ticks
    ]
    assert overlapping(labels) == []
    assert all(label.box.inside(row) for label in labels)
    assert ticks[-1].text == "0"


@pytest.mark.parametrize(
    ("span", "most", "step"), [(400, 8, 60), (400, 40, 10), (60, 6, 10), (7200, 4, 1800)]
)
def test_clock_steps_are_clock_units(span: float, most: int, step: int) -> None:
    """Steps of a time axis are whole seconds, minutes or hours."""
    assert clock_step(span, most) == step


STEPS = Steps((5.0, 20.0, 50.0, 200.0), 0.9, 1.05)


@pytest.mark.parametrize(
    ("present", "needed", "expected"),
    [
        (None, 20.0, 20.0), (None, 21.1, 50.0), (None, 4.4, 5.0),
        (None, None, 200.0), (None, 900.0, 200.0),
        (50.0, 18.1, 50.0), (50.0, 17.9, 20.0), (20.0, 20.9, 20.0), (20.0, 21.1, 50.0),
        (20.0, None, 20.0), (20.0, 4.6, 20.0), (20.0, 4.5, 5.0), (5.0, 5.2, 5.0),
        (5.0, 60.0, 200.0), (20.0, math.nan, 20.0),
    ],
)  # fmt: skip
def test_steps_hold_on(present: float | None, needed: float | None, expected: float) -> None:
    """A smaller step is taken late and left late; not knowing changes nothing."""
    assert STEPS.next(present, needed) == expected


@given(st.lists(st.floats(-0.05, 0.05), min_size=2, max_size=60), st.sampled_from((4.5, 18.0, 45)))
def test_noise_at_a_threshold_steps_at_most_once(noise: list[float], at: float) -> None:
    """A vehicle that stands at a threshold with noise of 5 % makes the axis step once at most."""
    present = STEPS.next(None, at * 1.2)
    changes = 0
    for share in noise:
        new = STEPS.next(present, at * (1 + share))
        changes += new != present
        present = new
    assert changes <= 1
