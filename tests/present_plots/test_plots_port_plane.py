"""The port plane: the right way round, its ellipse a true 95 %, nothing covered."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from fakes.approach import estimate_of, sample_at
from fakes.captures import retracting
from fakes.limits import fake_limits
from fakes.plot_meter import FakeMeter, outside, overlapping
from fakes.situations import ALL
from fakes.snapshots import approach_at, coasted, nominal, warning_and_cautions
from hypothesis import given
from hypothesis import strategies as st

from console.approach.snapshot import Snapshot
from console.envelope.limits import Level
from console.envelope.quantity import Quantity
from console.present.lane_spec import here
from console.present.plot_scene import Ink, Ring, Scene, Shape, series
from console.present.plot_trace import Polyline
from console.present.port_plane import (
    HALF_M,
    PlaneFrame,
    clocking_boxes,
    contact_radius_m,
    corridor_here,
    ellipse_95,
    lay_out_plane,
    needed_half_m,
    standing_plane,
)
from console.present.port_plane_now import changing_plane, plane_words
from console.present.trail import Channel
from tests.fakes.changed import replace

LIMITS = fake_limits()
CHI_SQUARE_2DOF_UPPER_5_PERCENT = 5.991
"""NIST/SEMATECH e-Handbook of Statistical Methods, table 1.3.6.7.4, nu = 2, 0.95."""


def drawn(
    snapshot: Snapshot | None, width: float = 366, height: float = 398, unit: float = 1.0,
    kept: dict[str, int] | None = None, trail: Polyline | None = None,
) -> tuple[PlaneFrame, Scene, Scene]:  # fmt: skip
    """Give the port plane of a snapshot: frame, standing and changing marks."""
    meter = FakeMeter(unit)
    contact_m = contact_radius_m(LIMITS)
    needed = needed_half_m(here(snapshot), corridor_here(snapshot), contact_m)
    frame = lay_out_plane(width, height, meter, HALF_M.next(None, needed))
    nothing = Polyline(series(()), series(()))
    now = changing_plane(
        frame, snapshot, trail or nothing, here(snapshot), contact_m, meter,
        {} if kept is None else kept,
    )  # fmt: skip
    return frame, standing_plane(frame, LIMITS, meter), now


@pytest.mark.parametrize(
    ("width", "height", "unit"),
    [(366, 398, 1.0), (260, 280, 1.0), (300, 320, 1.8), (880, 960, 2.4)],
)
@pytest.mark.parametrize("situation", ALL)
def test_no_text_is_cut_or_covered(situation: str, width: int, height: int, unit: float) -> None:
    """In every situation, at every size, texts lie within the widget and not on each other."""
    _, stand, now = drawn(ALL[situation](), width, height, unit)
    labels = (*stand.labels, *now.labels)
    assert overlapping(labels) == []
    assert outside(labels, width, height) == []


def test_y_is_right_and_z_up_with_one_scale() -> None:
    """Seen from the vehicle +y lies right, +z up, and a metre is as long either way."""
    frame, _, now = drawn(nominal())
    assert frame.across.px(0.1) > frame.across.px(0.0)
    assert frame.up.px(0.1) < frame.up.px(0.0)
    assert frame.across.px_per_unit == pytest.approx(frame.up.px_per_unit)
    point = next(m for m in now.markers if m.shape is Shape.DISC)
    where = here(nominal())
    assert where is not None
    assert point.x == pytest.approx(frame.across.px(where.values[Channel.Y_M]))
    assert point.y == pytest.approx(frame.up.px(where.values[Channel.Z_M]))


def test_clocking_mark_stands_at_plus_z() -> None:
    """The clocking mark is drawn straight above the docking axis, at the top."""
    frame, stand, _ = drawn(nominal())
    sign, _ = clocking_boxes(frame, FakeMeter())
    mark = next(m for m in stand.markers if m.shape is Shape.UP)
    assert mark.x == pytest.approx(frame.across.px(0.0))
    assert frame.plot.top <= sign.top < frame.plot.top + 10.0


def test_ellipse_of_independent_axes_is_the_tabled_chi_square() -> None:
    """With sigma 1 m and 2 m apart the half axes are sqrt(5.991) and twice that (NIST table)."""
    e = ellipse_95(1.0, 0.0, 4.0)
    root = math.sqrt(CHI_SQUARE_2DOF_UPPER_5_PERCENT)
    assert e.half_major_m == pytest.approx(2.0 * root, rel=1e-4)
    assert e.half_minor_m == pytest.approx(root, rel=1e-4)
    assert abs(math.sin(e.turn_rad)) == pytest.approx(1.0)


@given(st.floats(0.01, 3.0), st.floats(0.01, 3.0), st.floats(-0.99, 0.99))
def test_ellipse_follows_the_covariances_eigenvectors(sy: float, sz: float, rho: float) -> None:
    """Axes and turn agree with numpy's eigenvalue decomposition."""
    cov = np.array([[sy * sy, rho * sy * sz], [rho * sy * sz, sz * sz]])
    e = ellipse_95(cov[0, 0], cov[0, 1], cov[1, 1])
    values, vectors = np.linalg.eigh(cov)
    chi = CHI_SQUARE_2DOF_UPPER_5_PERCENT
    assert e.half_major_m == pytest.approx(math.sqrt(chi * values[1]), rel=1e-3)
    assert e.half_minor_m == pytest.approx(math.sqrt(chi * max(values[0], 0)), rel=1e-3, abs=1e-6)
    if values[1] > 1.01 * values[0]:
        along = np.array([math.cos(e.turn_rad), math.sin(e.turn_rad)])
        assert abs(along @ vectors[:, 1]) == pytest.approx(1.0, abs=1e-6)


def test_ellipse_holds_ninety_five_percent() -> None:
    """Of 200,000 draws 95 % lie within, to a quarter of a percent."""
    cov = np.array([[2e-4, 6e-5], [6e-5, 1.1e-4]])
    e = ellipse_95(cov[0, 0], cov[0, 1], cov[1, 1])
    points = np.random.default_rng(8).multivariate_normal([0, 0], cov, 200_000)
    c, s = math.cos(e.turn_rad), math.sin(e.turn_rad)
    u, v = points @ np.array([c, s]), points @ np.array([-s, c])
    share = np.mean((u / e.half_major_m) ** 2 + (v / e.half_minor_m) ** 2 <= 1.0)
    assert share == pytest.approx(0.95, abs=0.0025)


def test_corridor_circle_is_the_warning_limit_here() -> None:
    """At 5.1 m the circle has the lateral warning limit's radius of the snapshot."""
    s = nominal()
    expected = next(
        n.limit for n in s.limits
        if n.quantity is Quantity.LATERAL_OFFSET and n.level is Level.WARNING
    )  # fmt: skip
    corridor = corridor_here(s)
    assert corridor is not None
    assert corridor.radius_m == expected
    frame, _, now = drawn(s)
    circle = next(m for m in now.marks if isinstance(m, Ring) and m.ink is Ink.EDGE)
    assert circle.half_width == pytest.approx(corridor.radius_m * frame.px_per_m)


def test_tighter_corridor_angle_makes_the_circle() -> None:
    """A corridor angle of 1 deg at 5.1 m is tighter than the lateral limit: 5.1 tan 1 deg."""
    s = nominal()
    cone = replace(
        s.limits[0], quantity=Quantity.CORRIDOR_ANGLE, level=Level.WARNING, limit=1.0,
        standing=False,
    )  # fmt: skip
    corridor = corridor_here(replace(s, limits=(*s.limits, cone)))
    assert corridor is not None
    assert corridor.radius_m == pytest.approx(5.1 * math.tan(math.radians(1.0)))


def test_unknown_limit_draws_no_corridor() -> None:
    """Where no limit applies here there is no circle, not one of some size."""
    s = nominal()
    assert (
        corridor_here(replace(s, limits=tuple(replace(n, limit=None) for n in s.limits))) is None
    )
    assert corridor_here(None) is None


def test_colour_only_where_abnormal() -> None:
    """The circle is grey until an exceedance of offset or corridor stands."""
    abnormal = {Ink.CAUTION, Ink.WARNING}
    assert not abnormal & {m.ink for m in drawn(nominal())[2].marks}
    assert Ink.CAUTION in {m.ink for m in drawn(warning_and_cautions())[2].marks}


def test_coasted_point_is_hatched_with_its_age() -> None:
    """A coasted point is hollow and hatched and says its age."""
    _, _, now = drawn(coasted())
    assert next(m for m in now.markers if m.shape is Shape.DISC).stale
    assert any(m.text == "coasted 7.8 s" for m in now.labels)
    assert "coasted 7.8 s" in plane_words(coasted())


def ended_snapshot() -> Snapshot:
    """Give a captured vehicle whose navigation ended 6 minutes ago, as it is meant to."""
    s = retracting()
    old = replace(s.sources[0], age_s=364.0, stale=True, lost_link=True)
    drifted = estimate_of(sample_at(s.t, -1.0, 0.02))
    return replace(s, sources=(old,), stale=True, age_s=364.0, estimate=drifted)


@pytest.mark.parametrize(("width", "height", "unit"), [(366, 398, 1.0), (340, 260, 1.0)])
def test_navigation_that_has_ended_is_said_quietly(
    width: float, height: float, unit: float
) -> None:
    """Where it was seen last, in plain grey with the time, and no corridor: no word of stale."""
    s = ended_snapshot()
    frame, _, now = drawn(s, width, height, unit)
    label = next(m for m in now.labels if m.text.startswith("navigation ended"))
    assert label.text == "navigation ended 09:42:22"
    assert (label.ink, label.bold) == (Ink.QUIET, False)
    point = next(m for m in now.markers if m.shape is Shape.DISC)
    assert (point.stale, point.hollow) == (False, True)
    assert s.measured is not None
    assert point.x == pytest.approx(frame.across.px(s.measured.y_m))
    assert point.y == pytest.approx(frame.up.px(s.measured.z_m))
    assert "stale" not in now.words()
    assert corridor_here(s) is None
    assert plane_words(s).startswith("Navigation ended 09:42:22, last at y ")


def test_navigation_silent_before_soft_capture_is_stale_all_the_same() -> None:
    """What stands against the source still counts: it has not ended by design."""
    s = ended_snapshot()
    link = replace(coasted().exceedances[0], raised=s.t - 2.0)
    _, _, now = drawn(replace(s, exceedances=(link,)))
    assert next(m for m in now.markers if m.shape is Shape.DISC).stale
    assert "navigation ended" not in now.words()
    assert "stale 6:04" in now.words()


def test_picture_is_resized_by_steps_only() -> None:
    """On the way in the half width takes few values, each of them round."""
    half: float | None = None
    seen = []
    for range_m in np.geomspace(191.0, 1.0, 250) - 1.0:
        s = approach_at(float(range_m))
        need = needed_half_m(here(s), corridor_here(s), contact_radius_m(LIMITS))
        half = HALF_M.next(half, need)
        seen.append(half)
    changes = sum(a != b for a, b in pairwise(seen))
    assert changes == len(set(seen)) - 1
    assert set(seen) <= set(HALF_M.sizes)


def test_names_do_not_hop_while_the_trail_grows() -> None:
    """Over ten seconds of a wandering point each name changes its place at most once."""
    rng = np.random.default_rng(4)
    kept: dict[str, int] = {}
    s = nominal()
    assert s.estimate is not None
    hops: dict[str, int] = {}
    xs: list[float] = []
    ys: list[float] = []
    for _ in range(100):
        y, z = rng.normal(0.03, 0.002), rng.normal(0.04, 0.002)
        moved = replace(s, estimate=replace(s.estimate, y_m=y, z_m=z))
        frame, _, _ = drawn(moved)
        xs.append(frame.across.px(y))
        ys.append(frame.up.px(z))
        before = dict(kept)
        drawn(moved, kept=kept, trail=Polyline(series(xs), series(ys)))
        for name in kept:
            hops[name] = hops.get(name, 0) + (name in before and before[name] != kept[name])
    assert kept
    assert max(hops.values()) <= 1
