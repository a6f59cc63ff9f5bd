"""The trail keeps what it is handed, knows its gaps, and forgets on demand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from console.present.trail import CaptureChannel, Channel, Trail

T0 = 1_932_100_000.0


def small() -> Trail:
    """Give a trail with little memory."""
    return Trail(levels=2, blocks=4)


def put(trail: Trail, t: float, range_m: float = 10.0, *, coasted: bool = False) -> None:
    """Append a row whose other values tell themselves apart."""
    trail.append(t, range_m, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, coasted)


def test_row_holds_every_channel_in_order() -> None:
    """A row comes back with each value in its channel."""
    trail = small()
    put(trail, T0, 12.0)
    row = trail.path.rows(0, 1)[0]
    expected = np.array([12.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.0, 1.0], np.float32)
    np.testing.assert_array_equal(row, expected)
    assert trail.times.at(0) == T0


@pytest.mark.parametrize(
    ("step_s", "is_gap"),
    [(0.1, False), (1.0, False), (1.0 + 5e-7, False), (1.01, True), (-0.1, True), (8.0, True)],
)
def test_step_longer_than_stale_is_a_gap(step_s: float, is_gap: bool) -> None:
    """A gap is a step beyond the stale time, or back in time; the first row follows one."""
    trail = small()
    put(trail, T0)
    put(trail, T0 + step_s)
    assert trail.path.rows(0, 2)[:, Channel.GAP].tolist() == [1.0, float(is_gap)]


def test_newest_measured_passes_over_coasted_rows() -> None:
    """The end of the trail is the last row that was measured."""
    trail = small()
    assert trail.newest_measured() is None
    put(trail, T0, 9.0)
    put(trail, T0 + 0.1, 8.5, coasted=True)
    newest = trail.newest_measured()
    assert newest is not None
    assert newest[Channel.RANGE_M] == 9.0


def test_only_coasted_rows_have_no_newest_measured() -> None:
    """Where nothing was measured there is no such row."""
    trail = small()
    put(trail, T0, coasted=True)
    assert trail.newest_measured() is None


def test_first_since_finds_the_row_by_its_time() -> None:
    """The first row not older than a time is found, also after wrapping."""
    trail = small()
    for i in range(3000):
        put(trail, T0 + 0.1 * i)
    first = trail.path.first
    assert first > 0
    assert trail.times.first_since(T0 + 250.0) == 2500
    assert trail.times.first_since(T0 + 249.95) == 2500
    assert trail.times.first_since(0.0) == first
    assert trail.times.first_since(T0 + 1e6) == 3000


def test_capture_rows_keep_what_was_not_said_apart() -> None:
    """A field a status did not say is NaN, never zero; the newest hooks are kept."""
    trail = small()
    trail.append_capture(T0, 0.05, None, 1.0, (0.0, 1.0), None, 21.4)
    trail.append_capture(T0 + 1.0, None, 0.1, None, None, 101.3, None)
    rows = trail.capture.rows(0, 2)
    assert math.isnan(rows[0, CaptureChannel.REL_RATE_DPS])
    assert math.isnan(rows[1, CaptureChannel.RING_EXTENSION])
    assert rows[1, CaptureChannel.VESTIBULE_KPA] == np.float32(101.3)
    assert trail.hooks == (0.0, 1.0)
    assert trail.capture_count == 2


def test_clear_begins_another_history() -> None:
    """Clearing empties both series and is seen by a reader as another generation."""
    trail = small()
    put(trail, T0)
    trail.append_capture(T0)
    trail.clear()
    assert (trail.count, trail.capture_count, trail.generation, trail.hooks) == (0, 0, 1, None)
    put(trail, T0 - 500.0)
    assert trail.path.rows(0, 1)[0, Channel.GAP] == 1.0


def test_four_hours_at_ten_hertz_stand_whole() -> None:
    """By default the memory holds more than four hours at ten samples a second."""
    trail = Trail()
    assert trail.path.capacity > 4 * 3600 * 10 * 20
    put(trail, T0)
    assert trail.path.first == 0
