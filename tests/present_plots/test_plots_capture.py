"""The capture plots: curves true, hooks of any number, nothing not received shown as a value."""

from __future__ import annotations

import math
from functools import lru_cache

import msgspec
import numpy as np
import pytest
from fakes.captures import CAPTURES, T_CONTACT, damping, docked, hooking, status_after
from fakes.plot_meter import FakeMeter, outside, overlapping
from fakes.snapshots import nominal

from console.approach.snapshot import Snapshot
from console.present.capture_hooks import cells, hooks_words
from console.present.capture_plots import CaptureFrame, lay_out_capture, standing_capture
from console.present.capture_plots_now import (
    capture_trace,
    capture_words,
    changing_capture,
    highest,
    last_told,
)
from console.present.capture_spec import PANELS, CaptureAxes
from console.present.plot_scene import Bar, Box, Ink, Scene
from console.present.trail import CaptureChannel, Trail
from tests.fakes.changed import replace


@lru_cache
def trail_until(after_s: float, hz: float = 2.0) -> Trail:
    """Give the statuses from 5 s before contact on."""
    trail = Trail(levels=3, blocks=8)
    for i in range(int(-5 * hz), int(after_s * hz) + 1):
        s = status_after(max(i / hz, 0.0))
        trail.append_capture(
            T_CONTACT + i / hz, s.rel_rate_mps, s.rel_rate_dps, s.ring_extension, s.hooks,
            s.vestibule_kpa, s.vestibule_degc,
        )  # fmt: skip
    return trail


def drawn(
    snapshot: Snapshot | None, trail: Trail, width: float = 850, height: float = 670,
    unit: float = 1.0,
) -> tuple[CaptureFrame, Scene, Scene]:  # fmt: skip
    """Give the capture plots of a snapshot: frame, standing and changing marks."""
    meter = FakeMeter(unit)
    frame = lay_out_capture(width, height, meter, CaptureAxes().advance(snapshot, highest(trail)))
    return frame, standing_capture(frame, meter), changing_capture(frame, snapshot, trail, meter)


SIZES = [(850, 670, 1.0), (640, 500, 1.0), (640, 988, 2.0), (640, 500, 2.0), (2040, 1608, 2.4)]


@pytest.mark.parametrize(("width", "height", "unit"), SIZES)
@pytest.mark.parametrize("situation", CAPTURES)
def test_no_text_is_cut_or_covered(situation: str, width: int, height: int, unit: float) -> None:
    """In every situation, at every size, texts lie within the widget and not on each other."""
    s = CAPTURES[situation]()
    _, stand, now = drawn(s, trail_until(s.t - T_CONTACT), width, height, unit)
    labels = (*stand.labels, *now.labels)
    assert overlapping(labels) == []
    assert outside(labels, width, height) == []


def test_what_no_status_told_is_said_to_be_not_received() -> None:
    """Before any status there is no value and no point, only the words."""
    _, _, now = drawn(nominal(), Trail(levels=1, blocks=4))
    said = [m.text for m in now.labels]
    assert said.count("not yet received") == 4
    assert "Hooks  not yet received" in said
    assert now.markers == ()
    assert capture_words(None) == "Capture not yet received."


def test_trace_is_the_curve() -> None:
    """The trace of ring extension goes through every status since contact."""
    s = hooking()
    trail = trail_until(s.t - T_CONTACT)
    frame, _, _ = drawn(s, trail)
    panel = frame.panels[2]
    trace = capture_trace(trail, panel, T_CONTACT, 0, trail.capture_count)
    x = panel.time.px(220.0)
    y = float(np.interp(x, trace.x, trace.y))
    assert y == pytest.approx(panel.values.px(status_after(220.0).ring_extension or 0), abs=0.6)


def test_trace_in_pieces_is_the_whole_trace() -> None:
    """A trace added to row by row has the same points as one drawn at once."""
    s = damping()
    trail = trail_until(40.0)
    frame, _, _ = drawn(s, trail)
    for panel in frame.panels:
        whole = capture_trace(trail, panel, T_CONTACT, 0, trail.capture_count)
        pieces = [
            capture_trace(trail, panel, T_CONTACT, max(i - 1, 0), i + 1)
            for i in range(trail.capture_count)
        ]
        points = {(x, y) for p in pieces for x, y in zip(p.x, p.y, strict=True)}
        assert points == set(zip(whole.x, whole.y, strict=True))


def test_value_not_told_is_bridged_and_a_silence_is_not() -> None:
    """A status without a value does not break its trace; ten seconds without any status do."""
    trail = Trail(levels=1, blocks=8)
    for t, value in ((0, 0.5), (1, None), (2, 0.4), (30, 0.3), (31, 0.2)):
        trail.append_capture(T_CONTACT + t, value)
    frame, _, _ = drawn(damping(), trail)
    trace = capture_trace(trail, frame.panels[0], T_CONTACT, 0, 5)
    assert np.isfinite(trace.x).tolist() == [True, True, False, True, True]
    assert last_told(trail, CaptureChannel.REL_RATE_MPS, 2) == 0
    assert last_told(trail, CaptureChannel.RING_EXTENSION, 2) == 2


@pytest.mark.parametrize("count", [1, 2, 8, 12, 16, 24, 60])
@pytest.mark.parametrize("width", [150.0, 390.0])
def test_hooks_of_any_number_have_their_own_cells(count: int, width: float) -> None:
    """As many cells as hooks, apart from each other, each wide enough for its number."""
    meter, area = FakeMeter(), Box(10.0, 20.0, width, 160.0)
    made = cells(count, area, meter)
    assert len(made) == count
    assert all(cell.inside(area.grown(0.01)) for cell in made)
    assert all(cell.width >= meter.width(str(count)) for cell in made)
    assert not any(
        a.grown(-0.01).overlaps(b.grown(-0.01)) for i, a in enumerate(made) for b in made[i + 1 :]
    )


def test_gauge_is_as_full_as_the_hook_is_closed() -> None:
    """Each hook's gauge is filled to its value from 0 open to 1 closed."""
    s = hooking()
    assert s.capture is not None
    hooks = s.capture.status.hooks
    assert hooks is not None
    _, _, now = drawn(s, trail_until(460.0))
    bars = [m.box for m in now.marks if isinstance(m, Bar) and m.ink in (Ink.BAR, Ink.BAR_GROUND)]
    shares = [
        full.height / ground.height for ground, full in zip(bars[::2], bars[1::2], strict=True)
    ]
    assert shares == pytest.approx(list(hooks))
    assert {str(i) for i in range(1, 13)} <= {m.text for m in now.labels}


def test_hook_without_a_value_is_hatched() -> None:
    """A hook whose value is not a number is hatched, never drawn as open or closed."""
    s = hooking()
    assert s.capture is not None
    status = msgspec.structs.replace(s.capture.status, hooks=(1.0, math.nan))
    s = replace(s, capture=replace(s.capture, status=status))
    _, _, now = drawn(s, trail_until(460.0))
    assert sum(isinstance(m, Bar) and m.hatched for m in now.marks) == 1


def test_count_of_closed_hooks_is_the_snapshots() -> None:
    """The head says how many hooks are closed, as the snapshot counts them."""
    assert hooks_words(hooking().capture)[0] == "Hooks  7 of 12 closed"


def test_axes_change_by_steps_and_hold_all_since_contact() -> None:
    """The time axes hold now at every second, in few steps; value axes hold the largest value."""
    axes, last = CaptureAxes(), docked()
    spans = []
    for after in range(0, 2100, 10):
        s = replace(last, t=T_CONTACT + after)
        view = axes.advance(s, (0.071, 0.15, 1.0, 101.3))
        assert view.late_s >= after
        spans.append(view.late_s)
    assert spans == sorted(spans)
    assert set(spans) <= {60.0, 120.0, 300.0, 600.0, 1200.0, 1800.0, 3600.0}
    assert view.tops == (0.1, 0.2, 1.0, 120.0)
    assert view.early_s == 600.0


def test_stale_values_are_hatched_and_not_in_plain_ink() -> None:
    """When capture is silent each newest point is hollow and hatched, its value in stale ink."""
    s = damping()
    assert s.capture is not None
    s = replace(s, stale=True, capture=replace(s.capture, is_silent=True, age_s=7.0))
    _, _, now = drawn(s, trail_until(40.0))
    assert now.markers
    assert all(m.stale for m in now.markers)
    assert any(m.ink is Ink.STALE and m.text.endswith("m/s") for m in now.labels)
    assert "silent 7.0 s" in capture_words(s)


def test_navigation_that_ended_makes_no_capture_value_stale() -> None:
    """Relative navigation may end after soft capture; capture statuses go on and are fresh."""
    _, _, now = drawn(replace(damping(), stale=True, age_s=30.0), trail_until(40.0))
    assert now.markers
    assert not any(m.stale for m in now.markers)


def test_pressure_stands_with_its_unit() -> None:
    """Pressure is said in kPa with its temperature, drawn and spoken."""
    s = docked()
    _, _, now = drawn(s, trail_until(2100.0))
    assert any(m.text == "101.226 kPa  21.4 °C" for m in now.labels)
    words = capture_words(s)
    assert "Pressure 101.226 kPa" in words
    assert all(spec.titles[-1] in words for spec in PANELS)
