"""The axis of time since contact keeps its few marks whatever time the data claims."""

from __future__ import annotations

import pytest

pytest.importorskip("matplotlib")

from matplotlib.figure import Figure

from console.debrief.figure_capture import since_contact


@pytest.mark.parametrize("end_s", [0.0, 47.0, 640.0, 7200.0, 86_400.0, 3.2e9])
def test_the_marks_stay_few(end_s: float) -> None:
    """They begin at contact, evenly, up to the end: six at most, a hundred years on too."""
    axes = Figure().add_subplot()
    since_contact(axes, end_s)
    ticks = list(axes.get_xticks())
    assert ticks[0] == 0.0
    assert len(ticks) <= 6
    assert ticks[-1] <= max(end_s, 1.0)
    if end_s >= 47.0:
        assert len(ticks) >= 3
