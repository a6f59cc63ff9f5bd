"""The sweep's plot has room for its own words, as narrow as it is at 1280 pixels."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from bench_view_tools import bench_on, shown
from pytestqt.qtbot import QtBot

from console.present.bench_sweep import SweepView, sweep_scene
from console.present.plot_scene import Label, Line
from tests.fakes.changed import replace

HEIGHT = 204.0


@pytest.mark.parametrize("width", [320.0, 354.0, 700.0])
def test_nothing_of_the_sweep_is_cut(qtbot: QtBot, width: float) -> None:
    """For every point each figure and the axes' names stand whole; the plot stands still."""
    view = bench_on()
    qtbot.addWidget(view)
    shown(view)
    view.sweeper.ask()
    qtbot.waitUntil(lambda: bool(view.tick() or (view.sweep.view and view.sweep.view.points)))
    found: SweepView = view.sweep.view
    floors = set()
    for chosen in range(len(found.points)):
        one = replace(found, chosen=chosen)
        scene = sweep_scene(width, HEIGHT, view.sweep.meter, one)
        labels = [mark for mark in scene.marks if isinstance(mark, Label)]
        told = " ".join(label.text for label in labels)
        assert "…" not in told
        assert "nuisance · " in told if width > 600.0 else ") missed" in told
        assert "upward missed" in told
        assert all(label.box.right <= width for label in labels)
        assert all(label.box.bottom <= HEIGHT for label in labels)
        line = max((m for m in scene.marks if isinstance(m, Line)), key=lambda m: len(m.x))
        named = [label for label in labels if label.text[:1] == "×" and " · " not in label.text]
        corners = np.column_stack([line.x, line.y])
        for first, second in pairwise(corners):
            for x, y in first + np.linspace(0.0, 1.0, 200)[:, None] * (second - first):
                assert not any(
                    n.box.left < x < n.box.right and n.box.top < y < n.box.bottom for n in named
                )
        floors.add(max(mark.y[0] for mark in scene.marks if isinstance(mark, Line)))
    assert len(floors) == 1
