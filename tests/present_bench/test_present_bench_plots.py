"""What the bench's plots mean: densities counted by hand, curves where they belong."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from console.app.input_file import load_limits
from console.envelope.limits import Allow, Basis, Curve, Limit
from console.envelope.quantity import Quantity
from console.judging.columns import PassColumns
from console.judging.stack import PassStack, StackColumn
from console.present.bench_curve import (
    CurveNow,
    CurveView,
    Touch,
    changing,
    forbidden,
    lay_out,
    point_near,
    points_px,
    standing,
    view_of,
)
from console.present.bench_delays import NONE, bin_edges, delays_scene
from console.present.bench_density import CELL_PX, LEAST_SHADE, density, outermost_m, value_span
from console.present.plot_scene import Bar, Ink
from tests.fakes.changed import replace

LIMIT: Limit = load_limits(None).limits[0]


@dataclass(frozen=True)
class PlainMeter:
    """A font of seven pixels a letter."""

    unit: float = 1.0
    height: float = 15.0

    def width(self, text: str, *, bold: bool = False) -> float:
        """Give seven pixels a letter."""
        return 7.0 * len(text)


METER = PlainMeter()
FRAME = lay_out(800.0, 500.0, METER, CurveView(25.0, 0.0, 0.25))


def column_of(*passes: tuple[list[float], list[float]]) -> StackColumn:
    """Stack passes given as ranges and rates."""
    made = []
    for ranges_m, rates in passes:
        n = len(ranges_m)
        r = np.array(ranges_m)
        none = np.zeros(n, dtype=np.bool_)
        made.append(
            PassColumns(
                np.arange(n) * 0.1, r, r, {}, {Quantity.CLOSING_RATE: np.array(rates)}, none
            )
        )
    column = PassStack.of(made).column(Basis.ESTIMATED, Quantity.CLOSING_RATE)
    assert column is not None
    return column


def count_at(column: StackColumn, range_m: float, rate: float) -> int:
    """Give the count of the cell at a range and a rate."""
    found = density(column, FRAME.plot, FRAME.ranges, FRAME.values)
    across = int((FRAME.ranges.px(range_m) - FRAME.plot.left) // CELL_PX)
    down = int((FRAME.values.px(rate) - FRAME.plot.top) // CELL_PX)
    return int(found.counts[down, across])


def test_a_cell_counts_how_often_a_trace_comes_into_it() -> None:
    """A vehicle that stands counts once, one that comes again twice, two passes twice."""
    hold = ([10.0] * 50, [0.0801] * 50)
    assert count_at(column_of(hold), 10.0, 0.0801) == 1
    again = ([10.0, 5.0, 10.0], [0.0801, 0.0801, 0.0801])
    assert count_at(column_of(again), 10.0, 0.0801) == 2
    assert count_at(column_of(hold, hold), 10.0, 0.0801) == 2
    assert count_at(column_of(hold), 5.0, 0.0801) == 0


def test_what_is_unknown_or_outside_is_in_no_cell() -> None:
    """NaN, ranges beyond the axis, values beyond it."""
    column = column_of(([np.nan, 10.0, 300.0, 10.0, -3.0], [0.1, np.nan, 0.1, 9.0, 0.1]))
    assert density(column, FRAME.plot, FRAME.ranges, FRAME.values).counts.sum() == 0


def test_one_trace_can_be_seen_beside_many() -> None:
    """Its shade is never below the least; an empty cell has none."""
    many = [([10.0], [0.0801])] * 3000
    found = density(column_of(*many, ([5.0], [0.2])), FRAME.plot, FRAME.ranges, FRAME.values)
    shades = found.shades()
    assert set(np.unique(found.counts)) == {0, 1, 3000}
    assert shades[found.counts == 1].min() >= LEAST_SHADE
    assert shades[found.counts == 3000].max() == 1.0
    assert shades[found.counts == 0].max() == 0.0


def test_the_view_holds_curve_and_traces() -> None:
    """As far out as the passes go, no farther than the curve; an outlier does not flatten it."""
    rates = [0.09] * 5000
    rates[7] = 50.0
    column = column_of((list(np.linspace(28.0, 0.1, 5000)), rates))
    far_m = outermost_m(column.stack)
    view = view_of(LIMIT, value_span(column.stack, LIMIT, 30.0), far_m)
    assert view.outer_m == 30.0
    assert view.low == 0.0
    assert 0.18 < view.high < 1.0
    assert view_of(LIMIT, None, 0.0).outer_m == 200.0
    short = replace(LIMIT, curve=Curve((0.0, 3.0), (0.05, 0.05)))
    assert view_of(short, None, far_m).outer_m == 5.0


def test_a_pixel_and_back_is_the_same_place() -> None:
    """What is under the pointer is what is drawn there."""
    for range_m, value in ((0.0, 0.0), (2.0, 0.1), (25.0, 0.25), (11.3, 0.173)):
        x, y = FRAME.ranges.px(range_m), FRAME.values.px(value)
        assert FRAME.at(x, y) == pytest.approx((range_m, value), abs=1e-9)


def test_points_are_taken_within_reach_only() -> None:
    """The nearest one; none from afar."""
    places = points_px(FRAME, LIMIT.curve)
    x, y = places[1]
    assert point_near(FRAME, LIMIT.curve, x + 5.0, y - 5.0, 1.0) == 1
    assert point_near(FRAME, LIMIT.curve, x, y + 60.0, 1.0) is None


def test_the_forbidden_side_is_that_of_the_limit() -> None:
    """Above an upper limit, below a lower one; none where the curve is out of sight."""
    above = forbidden(FRAME, LIMIT)
    assert above is not None
    assert above.y.min() == FRAME.plot.top
    below = forbidden(FRAME, replace(LIMIT, allow=Allow.ABOVE))
    assert below is not None
    assert below.y.max() == FRAME.plot.bottom
    far = replace(LIMIT, curve=Curve((50.0, 200.0), (0.1, 0.1)))
    assert forbidden(FRAME, far) is None


def test_gains_losses_and_the_opened_curve_are_drawn() -> None:
    """The opened curve only where it differs; marks within the plot."""
    draft = replace(LIMIT, curve=Curve((0.0, 2.0, 20.0, 200.0), (0.1, 0.09, 0.16, 0.6)))
    gained = (Touch(5.0, 0.11), Touch(300.0, 9.0))
    now = CurveNow(LIMIT, draft, 1, 7, gained, (Touch(3.0, 0.1),))
    scene = changing(FRAME, now, METER)
    inks = [mark.ink for mark in scene.marks]
    assert Ink.WARNING in inks
    assert "2.0 m   0.090 m/s" in scene.words()
    same = changing(FRAME, replace(now, draft=LIMIT, gained=(), lost=()), METER)
    assert len(same.lines) == 1
    for mark in scene.marks:
        if hasattr(mark, "x") and isinstance(mark.x, np.ndarray) and mark.ink is Ink.WARNING:
            assert np.nanmax(mark.x) <= FRAME.plot.right + 10.0
            assert np.nanmin(mark.y) >= FRAME.plot.top - 10.0


@pytest.mark.parametrize("size", [(300.0, 200.0), (800.0, 500.0), (1600.0, 900.0)])
def test_no_tick_label_is_cut_or_on_another(size: tuple[float, float]) -> None:
    """Every label of the standing scene lies inside the plot's area and clear of the others."""
    for view in (
        CurveView(2.0, 0.0, 0.25),
        CurveView(200.0, -0.5, 1.2),
        CurveView(25.0, 0.0, 12.0),
    ):
        frame = lay_out(*size, METER, view)
        labels = standing(frame, LIMIT, METER, 300, False).labels
        ticks = [
            label for label in labels if label.text.replace("−", "").replace(".", "").isdigit()
        ]
        assert len(ticks) >= 4
        for n, label in enumerate(ticks):
            assert label.box.left >= 0.0
            assert label.box.right <= size[0]
            assert label.box.top >= 0.0
            assert label.box.bottom <= size[1]
            assert not any(label.box.overlaps(other.box) for other in ticks[n + 1 :])


def test_delays_are_counted_in_round_bins() -> None:
    """Both sides over the same bins, every delay in one of them."""
    edges = bin_edges([0.4, 3.1, 11.9])
    assert edges[0] == 0.0
    assert edges[-1] > 11.9
    scene = delays_scene(500.0, 250.0, METER, (0.4, 3.1, 3.12), (0.3,))
    bars = [mark for mark in scene.marks if isinstance(mark, Bar)]
    assert sum(mark.ink is Ink.BAR for mark in bars) == 2
    assert sum(mark.ink is Ink.TRACE_A for mark in bars) == 1
    assert NONE in delays_scene(500.0, 250.0, METER, (), ()).words()
