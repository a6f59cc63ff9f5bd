"""The pyramid gives what a walk over all rows gives, at any coarseness and after any wrap."""

from __future__ import annotations

import threading

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from console.core.errors import UsageError
from console.present.pyramid import FACTOR, Decimated, Pyramid

ROWS = np.random.default_rng(11).normal(size=(3000, 2)).astype(np.float32)
ROWS[::37, 1] = np.nan
ROWS[512:600, 1] = np.nan


def filled(count: int, blocks: int = 16) -> Pyramid:
    """Give a small pyramid (blocks of 256 rows) with so many rows."""
    pyramid = Pyramid(2, levels=2, blocks=blocks)
    for i in range(count):
        pyramid.append(ROWS[i % len(ROWS)])
    return pyramid


def assert_tiles(nodes: Decimated, start: int, stop: int) -> None:
    """Assert that nodes cover rows ``start`` to before ``stop`` once each, in order."""
    covered = [i for f, n in zip(nodes.first, nodes.size, strict=True) for i in range(f, f + n)]
    assert covered == list(range(start, stop))


def assert_extremes(nodes: Decimated) -> None:
    """Assert each node against the rows it stands for."""
    for i in range(len(nodes)):
        first, size = int(nodes.first[i]), int(nodes.size[i])
        rows = ROWS[np.arange(first, first + size) % len(ROWS)]
        np.testing.assert_array_equal(nodes.low[i], np.fmin.reduce(rows, axis=0))
        np.testing.assert_array_equal(nodes.high[i], np.fmax.reduce(rows, axis=0))


@given(
    count=st.integers(0, 2900), ends=st.tuples(st.integers(0, 2900), st.integers(0, 2900)),
    pixels=st.integers(1, 400),
)  # fmt: skip
def test_query_equals_brute_force(count: int, ends: tuple[int, int], pixels: int) -> None:
    """A query tiles the rows asked for, in at most as many nodes as pixels, with true extremes."""
    pyramid = SHARED[count // 100]
    start, stop = min(ends), min(max(ends), pyramid.count)
    nodes = pyramid.query(start, stop, pixels)
    assert_tiles(nodes, start, max(start, stop))
    assert len(nodes) <= max(pixels, 1)
    assert_extremes(nodes)


SHARED = [filled(100 * k) for k in range(30)]


def test_few_rows_stay_rows() -> None:
    """Where there are no more rows than pixels each row is a node of its own."""
    nodes = filled(300).query(10, 110, 100)
    assert nodes.size.tolist() == [1] * 100
    np.testing.assert_array_equal(nodes.low, ROWS[10:110])


@pytest.mark.parametrize("count", [0, 1, 15, 16, 17, 255, 256, 257, 4095, 4096, 9001])
def test_wrap_gives_up_the_oldest_blocks_first(count: int) -> None:
    """After wrapping the newest rows stand, the oldest readable lies two blocks from the next."""
    pyramid = filled(count)
    block = FACTOR**2
    assert pyramid.count == count
    assert pyramid.first % block == 0
    assert pyramid.count - pyramid.first <= pyramid.capacity - block
    assert pyramid.first == 0 or pyramid.count - pyramid.first > pyramid.capacity - 2 * block - 1
    nodes = pyramid.query(0, count, 50)
    assert_tiles(nodes, pyramid.first, count)
    assert_extremes(nodes)


def test_rows_come_back_as_appended() -> None:
    """Single rows are given back unchanged, those no longer held left out."""
    pyramid = filled(5000)
    first = pyramid.first
    np.testing.assert_array_equal(pyramid.rows(0, 5000), ROWS[np.arange(first, 5000) % len(ROWS)])


def width_px(low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """Give nodes' widths at forty pixels a unit of channel 0."""
    return (high[:, 0] - low[:, 0]) * 40.0


def test_refine_splits_until_a_pixel_or_a_row() -> None:
    """With room enough every node is a single row or within the finest size."""
    nodes = filled(2900).refine(3, 2777, width_px, finest_px=120.0)
    assert_tiles(nodes, 3, 2777)
    assert_extremes(nodes)
    small = width_px(nodes.low, nodes.high) <= 120.0
    assert (small | (nodes.size == 1)).all()
    assert nodes.size.max() > 1


def test_refine_leaves_coarse_what_is_off_the_screen() -> None:
    """Nodes of no size on the screen are not split: the whole costs a handful."""
    nodes = filled(2900).refine(0, 2900, lambda low, _: np.zeros(len(low), np.float32))
    assert_tiles(nodes, 0, 2900)
    assert len(nodes) <= 2 * FACTOR + 2900 // FACTOR**2


def test_refine_spends_a_short_budget_on_the_largest() -> None:
    """With a short budget the rest stays boxes, still with true extremes and no row left out."""
    nodes = filled(2900).refine(0, 2900, width_px, finest_px=0.0, budget=300)
    assert_tiles(nodes, 0, 2900)
    assert_extremes(nodes)
    assert len(nodes) <= 300


def test_hour_on_one_pixel_does_not_hide_the_next_minute() -> None:
    """A long stand still and a short way in: nearly all nodes go to the way in."""
    pyramid = Pyramid(1, levels=3, blocks=8)
    ranges = np.concatenate([np.full(8000, 20.0), np.linspace(20.0, 0.0, 400)])
    for r in ranges:
        pyramid.append((r,))
    nodes = pyramid.refine(0, 8400, lambda low, high: (high[:, 0] - low[:, 0]) * 35.0)
    way_in = nodes.first >= 8000
    assert way_in.sum() >= 350
    assert (~way_in).sum() < 40


def test_clear_forgets() -> None:
    """After clearing nothing is left and counting begins anew."""
    pyramid = filled(400)
    pyramid.clear()
    assert (pyramid.count, pyramid.first, len(pyramid.query(0, 400, 10))) == (0, 0, 0)


def test_reader_never_sees_a_half_written_row() -> None:
    """While one thread appends and wraps, another finds only whole rows and true extremes.

    The promise holds while less than a block is written during one reading.
    """
    pyramid = Pyramid(2, levels=3, blocks=5)
    block, total = FACTOR**3, 60_000
    checked = 0

    def write() -> None:
        for i in range(total):
            pyramid.append((i, -i))

    writer = threading.Thread(target=write)
    writer.start()
    try:
        while pyramid.count < total or checked == 0:
            before = pyramid.count
            nodes = pyramid.query(0, total, 64)
            if pyramid.count - before < block:
                checked += 1
                last = nodes.first + nodes.size - 1
                np.testing.assert_array_equal(nodes.low[:, 0], nodes.first)
                np.testing.assert_array_equal(nodes.high[:, 0], last)
                np.testing.assert_array_equal(nodes.low[:, 1], -last)
    finally:
        writer.join()


@pytest.mark.parametrize(("channels", "levels", "blocks"), [(0, 2, 8), (1, 0, 8), (1, 2, 3)])
def test_impossible_sizes_are_our_own_mistake(channels: int, levels: int, blocks: int) -> None:
    """A pyramid without channels, levels or room is refused."""
    with pytest.raises(UsageError):
        Pyramid(channels, levels, blocks)
