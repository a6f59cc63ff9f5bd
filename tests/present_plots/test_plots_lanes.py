"""The lanes' layout: nothing cut, nothing on top of another, axes that stand, states that show."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from fakes.limits import fake_limits
from fakes.plot_meter import FakeMeter, outside, overlapping
from fakes.situations import ALL
from fakes.snapshots import approach_at, coasted, nominal, stale, warning_and_cautions

from console.approach.snapshot import Snapshot
from console.envelope.limits import Level
from console.envelope.quantity import Quantity
from console.present.lane_spec import Here, here
from console.present.lanes import LanesAxes, LanesFrame, lay_out
from console.present.lanes_now import changing, lanes_words, standing_level
from console.present.lanes_scene import StandingLanes, standing
from console.present.plot_scene import Area, Ink, Line, Scene, Stroke
from console.present.plot_trace import RangeExtent, lane_trace
from console.present.trail import DRAWN, Channel, Trail
from tests.fakes.changed import replace

LIMITS = fake_limits()
SIZES = [(640, 500, 1.0), (850, 670, 1.0), (640, 500, 1.6), (1000, 1000, 2.0), (2040, 1608, 2.4)]


def drawn(
    snapshot: Snapshot | None, width: float = 850, height: float = 670, unit: float = 1.0
) -> tuple[LanesFrame, StandingLanes, Scene]:
    """Give the lanes of a snapshot: frame, standing and changing marks."""
    axes, meter = LanesAxes(), FakeMeter(unit)
    axes.set_limits(LIMITS)
    where = here(snapshot)
    frame = lay_out(width, height, meter, axes.advance(where))
    stand = standing(frame, LIMITS, meter)
    last = None if where is None else Here(where.range_m + 0.5, dict.fromkeys(DRAWN, 0.05))
    return frame, stand, changing(frame, stand, snapshot, last, meter)


@pytest.mark.parametrize(("width", "height", "unit"), SIZES)
@pytest.mark.parametrize("situation", ALL)
def test_no_text_is_cut_or_covered(situation: str, width: int, height: int, unit: float) -> None:
    """In every situation, at every size, texts lie within the widget and not on each other."""
    _, stand, now = drawn(ALL[situation](), width, height, unit)
    labels = (*stand.scene.labels, *now.labels)
    assert overlapping(labels) == []
    assert outside(labels, width, height) == []


@pytest.mark.parametrize("range_m", [250.0, 150.0, 44.0, 17.9, 9.0, 4.4, 2.05, 0.3, 0.0, -0.02])
def test_no_text_is_covered_at_any_range(range_m: float) -> None:
    """At every zoom step, and beyond both ends of the axis, the same holds."""
    s = approach_at(max(range_m, 0.0))
    assert s.estimate is not None
    s = replace(s, estimate=replace(s.estimate, range_m=range_m))
    frame, stand, now = drawn(s, 640, 500)
    labels = (*stand.scene.labels, *now.labels)
    assert overlapping(labels) == []
    assert outside(labels, 640, 500) == []
    assert all(0.0 <= m.x <= frame.width for m in now.markers)


def test_ticks_stand_within_their_lane() -> None:
    """Each value label is centred on its tick and lies within its lane's height."""
    frame, stand, _ = drawn(nominal())
    for label in stand.scene.labels:
        if label.box.right <= frame.lanes[0].plot.left - 5.0:
            assert any(
                lane.plot.top - 1.0 <= label.box.top and label.box.bottom <= lane.plot.bottom + 1.0
                for lane in frame.lanes
            )


@pytest.mark.parametrize(
    ("range_m", "step_m"), [(200.4, 200.0), (30.0, 50.0), (20.2, 20.0), (4.9, 5.0), (-0.01, 5.0)]
)
def test_axis_takes_the_step_of_the_range(range_m: float, step_m: float) -> None:
    """The axis shows 200, 50, 20 or 5 m."""
    assert LanesAxes().advance(Here(range_m, dict.fromkeys(DRAWN, 0.0))).step_m == step_m


def test_axis_steps_on_the_way_in_and_stays_between() -> None:
    """Over a whole approach with noise the axis changes three times, never back."""
    axes, rng = LanesAxes(), np.random.default_rng(5)
    axes.set_limits(LIMITS)
    steps = []
    for range_m in np.linspace(190.0, 0.0, 4000):
        noisy = float(range_m + rng.normal(0.0, 0.03))
        steps.append(axes.advance(Here(noisy, dict.fromkeys(DRAWN, 0.01))))
    changes = [(a, b) for a, b in pairwise(steps) if a != b]
    assert [b.step_m for _, b in changes] == [50.0, 20.0, 5.0]


def test_value_axes_follow_from_the_limits_alone() -> None:
    """Values inside their limits do not move the axes; they hold every limit in the picture."""
    quiet, busy = LanesAxes(), LanesAxes()
    for axes in (quiet, busy):
        axes.set_limits(LIMITS)
    a = quiet.advance(Here(10.0, dict.fromkeys(DRAWN, 0.0)))
    b = busy.advance(Here(10.0, {**dict.fromkeys(DRAWN, 0.04), Channel.CLOSING_MPS: 0.12}))
    assert a == b
    assert [v.high for v in a.values] >= [0.16, 0.55, 5.0]


def test_retreat_opens_the_closing_axis_below_zero_and_noise_does_not() -> None:
    """A negative closing rate beyond noise is shown; a hold's noise leaves zero at the bottom."""
    axes = LanesAxes()
    axes.set_limits(LIMITS)
    still = axes.advance(Here(20.0, dict.fromkeys(DRAWN, -0.003)))
    assert still.values[0].low == 0.0
    back = axes.advance(Here(20.0, {**dict.fromkeys(DRAWN, 0.0), Channel.CLOSING_MPS: -0.19}))
    assert back.values[0].low <= -0.19
    assert back.values[0].high == still.values[0].high


def test_value_beyond_its_axis_makes_the_axis_step() -> None:
    """A closing rate over the axis doubles it rather than leaving the picture."""
    axes = LanesAxes()
    axes.set_limits(LIMITS)
    before = axes.advance(Here(10.0, dict.fromkeys(DRAWN, 0.0))).values[0].high
    after = axes.advance(Here(10.0, {**dict.fromkeys(DRAWN, 0.0), Channel.CLOSING_MPS: 0.3}))
    assert after.values[0].high == 2.0 * before


def test_band_edge_stands_where_the_limit_is() -> None:
    """The lateral band at 5 m has its edges at plus and minus the warning limit there, 0.22 m."""
    frame, stand, _ = drawn(nominal())
    lane = frame.lanes[1]
    band = next(m for m in stand.scene.marks if isinstance(m, Area) and m.clip == lane.plot)
    at_5m = np.isclose(band.x, frame.ranges.px(5.0))
    expected = sorted([lane.values.px(0.22), lane.values.px(-0.22)])
    assert sorted(set(np.round(band.y[at_5m], 6))) == pytest.approx(expected)


def test_stale_point_is_hollow_and_says_its_age() -> None:
    """Coasted points are hatched, the way there dotted, and the words say for how long."""
    _, _, now = drawn(coasted())
    points = [m for m in now.markers if not m.hollow]
    assert all(m.stale for m in points)
    assert any(label.text == "coasted 7.8 s" for label in now.labels)
    dotted = [m for m in now.lines if m.stroke is Stroke.DOTTED and m.width > 1.0]
    assert len(dotted) == 6
    assert any(label.text == "stale 1.6 s" for label in drawn(stale())[2].labels) or any(
        label.text == "coasted 1.6 s" for label in drawn(stale())[2].labels
    )


def test_fresh_point_is_whole_and_says_nothing() -> None:
    """With fresh data no point is hatched and no age is said."""
    _, _, now = drawn(nominal())
    assert not any(m.stale for m in now.markers)
    assert not any("coasted" in label.text or "stale" in label.text for label in now.labels)


def inks(scene: Scene) -> set[Ink]:
    """Give the inks of a scene."""
    return {mark.ink for mark in scene.marks}


def test_colour_only_where_abnormal() -> None:
    """The nominal picture has no alarm colour; an exceedance colours its own lane only."""
    abnormal = {Ink.CAUTION, Ink.WARNING}
    _, stand, now = drawn(nominal())
    assert not abnormal & (inks(stand.scene) | inks(now))
    frame, _, now = drawn(warning_and_cautions())
    tops = [(lane.head.top, lane.plot.bottom) for lane in frame.lanes]
    coloured = [m for m in now.lines if m.ink in abnormal]
    assert coloured
    assert all(m.clip in (frame.lanes[0].plot, frame.lanes[1].plot) for m in coloured)
    words = [m for m in now.labels if m.ink in abnormal]
    assert {m.text for m in words} == {"■ WARNING", "◧ CAUTION"}
    assert all(not tops[2][0] <= m.box.top <= tops[2][1] for m in words)


def test_standing_level_is_of_the_lanes_own_quantities() -> None:
    """A standing rate limit does not make the offset lane abnormal."""
    s = nominal()
    standing_rate = replace(
        s.limits[0], quantity=Quantity.LATERAL_RATE, level=Level.WARNING, standing=True
    )
    frame, _, _ = drawn(s)
    assert standing_level(frame.lanes[1].spec, (standing_rate,)) is None


def test_fan_is_two_sigma_wide() -> None:
    """The fan's rim stands two sigma off the predicted path."""
    s = nominal()
    frame, _, now = drawn(s)
    lane = frame.lanes[0]
    fan = next(m for m in now.marks if isinstance(m, Area) and m.clip == lane.plot)
    last = s.path[-1]
    n = len(s.path)
    assert fan.y[n - 1] == pytest.approx(
        lane.values.px(last.closing_rate_mps + 2.0 * last.closing_sigma_mps)
    )
    assert fan.x[n - 1] == pytest.approx(frame.ranges.contact_px)


def test_next_mark_is_emphasised() -> None:
    """The name of the mark that comes next is in the text's full ink."""
    _, _, now = drawn(approach_at(8.0))
    assert any(m.text == "5 m" and m.ink is Ink.TEXT for m in now.labels)


def trail_of(rows: list[tuple[float, float, bool]]) -> Trail:
    """Give a trail of (time, range, coasted)."""
    trail = Trail(levels=2, blocks=8)
    for t, r, was_coasted in rows:
        trail.append(t, r, 0.08, 0.0, 0.0, 0.0, 0.0, 0.0, was_coasted)
    return trail


def test_trail_is_broken_where_data_were_missing() -> None:
    """A silence and a coasted stretch are gaps in the trace, between points that are drawn."""
    rows = [(0.1 * i, 10.0 - 0.1 * i, False) for i in range(10)]
    rows += [(8.0 + 0.1 * i, 8.0 - 0.1 * i, 3 <= i < 5) for i in range(10)]
    trail = trail_of(rows)
    frame, _, _ = drawn(approach_at(8.0))
    nodes = trail.path.refine(0, 20, RangeExtent(frame.ranges, 800.0))
    trace = lane_trace(nodes, frame.ranges, frame.lanes[0].values, Channel.CLOSING_MPS)
    expected = [frame.ranges.px(float(np.float32(r))) for _, r, was in rows if not was]
    finite = np.isfinite(trace.x)
    assert trace.x[finite] == pytest.approx(expected, abs=1e-3)
    runs = np.flatnonzero(np.diff(finite.astype(int)) == 1).size + int(finite[0])
    assert runs == 3


def test_decimated_trail_covers_the_whole_trail_to_a_pixel() -> None:
    """Column by column, the decimated trace reaches as high and as low as every row does."""
    rng = np.random.default_rng(2)
    trail = Trail(levels=3, blocks=8)
    ranges = np.concatenate([20.0 + rng.normal(0, 0.02, 6000), np.linspace(20.0, 5.0, 2500)])
    closing = 0.09 + rng.normal(0.0, 0.004, ranges.size)
    for i, (r, c) in enumerate(zip(ranges, closing, strict=True)):
        trail.append(0.1 * i, r, c, 0.0, 0.0, 0.0, 0.0, 0.0, False)
    frame, _, _ = drawn(approach_at(5.1))
    nodes = trail.path.refine(0, trail.count, RangeExtent(frame.ranges, 800.0), 1.5)
    trace = lane_trace(nodes, frame.ranges, frame.lanes[0].values, Channel.CLOSING_MPS)
    x = frame.ranges.px_of(ranges)
    y = frame.lanes[0].values.px_of(closing)
    ok = np.isfinite(trace.x)
    for column in np.arange(np.floor(x.min()), np.ceil(x.max()), 3.0):
        raw = y[(x >= column) & (x < column + 3.0)]
        near = trace.y[ok][(trace.x[ok] >= column - 3.0) & (trace.x[ok] < column + 6.0)]
        if raw.size:
            assert near.min() <= raw.min() + 1e-3
            assert near.max() >= raw.max() - 1e-3
    assert trace.x.size < 0.8 * ranges.size


def test_words_say_what_is_shown() -> None:
    """The spoken form gives range, each value, what is abnormal and how old it is."""
    words = lanes_words(warning_and_cautions())
    assert "Range 4.40 m" in words
    assert "Closing rate 0.127 m/s, warning" in words
    assert "coasted 7.8 s" in lanes_words(coasted())
    assert lanes_words(None) == "No data yet."


def test_lines_through_heads_leave_their_words_alone() -> None:
    """The present line is interrupted where a lane's head has words."""
    frame, stand, now = drawn(approach_at(19.9), 640, 500)
    upright = [m for m in now.lines if isinstance(m, Line) and m.x[0] == m.x[-1]]
    for lane, end in zip(frame.lanes, stand.head_ends, strict=True):
        for line in upright:
            crosses = line.y.min() < lane.head.bottom and line.y.max() > lane.head.top
            assert not (crosses and line.x[0] < end)


def test_nothing_is_judged_from_nan() -> None:
    """A value that is not a number moves no axis."""
    axes = LanesAxes()
    axes.set_limits(LIMITS)
    before = axes.advance(Here(10.0, dict.fromkeys(DRAWN, 0.0)))
    assert axes.advance(Here(10.0, dict.fromkeys(DRAWN, math.nan))) == before
