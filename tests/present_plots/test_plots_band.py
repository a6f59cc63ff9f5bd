"""The drawn envelope is the limits file's: tightest where several meet, open where none is."""

from __future__ import annotations

import math

import numpy as np
import pytest
from fakes.limits import fake_limits
from hypothesis import given
from hypothesis import strategies as st

from console.core.ids import LimitId
from console.envelope.limits import Allow, Basis, Curve, Level, Limit
from console.envelope.quantity import Quantity
from console.present.envelope_band import bound_at, edges, offset_of_angle_m, sampled_ranges

LIMITS = fake_limits()


def test_closing_band_is_the_two_warning_limits() -> None:
    """The closing lane's region lies between closing-slow and closing-fast, read off the file."""
    region = edges(LIMITS, (Quantity.CLOSING_RATE,), Level.WARNING, 22.0)
    for r, low, high in zip(region.ranges_m, region.low, region.high, strict=True):
        expected = np.interp(r, [0, 2, 20, 200], [0.10, 0.10, 0.16, 0.60])
        assert high == pytest.approx(expected, abs=1e-12)
        assert math.isnan(low) if r > 20.0 else low == 0.05


def test_outside_every_curve_the_region_is_open() -> None:
    """Beyond a curve's last range nothing is limited, and the end is an end, not a slope."""
    region = edges(LIMITS, (Quantity.CLOSING_RATE,), Level.WARNING, 220.0)
    beyond = region.ranges_m > 200.0
    assert beyond.any()
    assert np.isnan(region.high[beyond]).all()
    nearest = region.ranges_m[beyond].min()
    assert nearest - 200.0 < 1e-5


def test_no_limits_no_region() -> None:
    """Without a file, and for a quantity without limits, the region is open everywhere."""
    assert edges(None, (Quantity.CLOSING_RATE,), Level.WARNING, 20.0).is_open
    assert edges(LIMITS, (Quantity.SOURCE_GAP,), Level.WARNING, 20.0).is_open


def corridor(angle_deg: float, level: Level = Level.WARNING) -> Limit:
    """Give a corridor limit of one angle from 2 to 200 m."""
    curve = Curve((2.0, 200.0), (angle_deg, angle_deg))
    return Limit(
        LimitId("cone"), Quantity.CORRIDOR_ANGLE, Basis.MEASURED, level, Allow.BELOW, curve,
        0.0, 0.0, 0.0,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("angle_deg", "offset_m"),
    [(45.0, 10.0), (30.0, 10.0 / math.sqrt(3.0)), (0.0, 0.0), (90.0, None), (-1.0, None)],
)
def test_corridor_angle_is_an_offset_at_its_range(
    angle_deg: float, offset_m: float | None
) -> None:
    """At 10 m a cone of 45 deg is 10 m wide and one of 30 deg 10/sqrt(3); 90 deg has no width."""
    found = offset_of_angle_m(angle_deg, 10.0)
    assert found == (None if offset_m is None else pytest.approx(offset_m))


def test_corridor_is_not_applied_inside_its_curve() -> None:
    """At a range its curve does not cover a corridor bounds nothing."""
    assert bound_at(corridor(45.0), 1.0) is None
    assert bound_at(corridor(45.0), 4.0) == pytest.approx(4.0)


@given(
    st.lists(st.tuples(st.floats(0.1, 300.0), st.floats(0.0, 5.0)), min_size=1, max_size=6),
    st.floats(1.0, 220.0),
)
def test_curves_points_are_among_the_sampled(
    points: list[tuple[float, float]], outer_m: float
) -> None:
    """Every point of a curve within the picture is drawn as it is; ranges descend to zero."""
    known = sorted({round(r, 3): v for r, v in points}.items())
    curve = Curve(tuple(r for r, _ in known), tuple(v for _, v in known))
    limit = Limit(
        LimitId("x"), Quantity.ROLL, Basis.MEASURED, Level.WARNING, Allow.BELOW, curve, 0, 0, 0
    )
    ranges = sampled_ranges((limit,), outer_m)
    assert (np.diff(ranges) < 0).all()
    assert (ranges[0], ranges[-1]) == (outer_m, 0.0)
    assert all(r in ranges for r in curve.ranges_m if r <= outer_m)
