"""Colours that mean different things, as eyes without one kind of cone see them.

Vision is simulated after Machado, Oliveira and Fernandes, "A physiologically-based model for
simulation of color vision deficiency", IEEE TVCG 15(6), 2009, at severity 1.0, by the library
``colorspacious``; distance is CAM02-UCS (Luo, Cui and Li, Color Res. Appl. 31(4), 2006). One unit
is about a just noticeable difference side by side; ten is asked, for marks that lie apart.
"""

from __future__ import annotations

import itertools
from functools import cache

import numpy as np
import pytest
from colorspacious import cspace_convert, deltaE

from console.present.theme import DARK, LIGHT, Theme
from console.present.tone import CAUTION_MARK, MARK_OF, WARNING_MARK

LEAST = 10.0
VISIONS = (None, "protanomaly", "deuteranomaly", "tritanomaly")
TRACES = ("trace_a", "trace_b", "trace_c")
ALARMS = ("caution", "warning")
GREYS = ("plan", "band_edge", "bar", "stale", "text_quiet")
MEANINGS = (*TRACES, *ALARMS, *GREYS, "text", "focus")

DOUBLED: dict[frozenset[str], str] = {
    frozenset(("trace_a", "focus")): "a ring round a whole part, never a line in a plot",
    frozenset(("trace_b", "plan")): "all that is planned or foreseen is dashed",
    frozenset(("trace_b", "band_edge")): "the edge of a filled band, with its limit in words",
    frozenset(("trace_b", "bar")): "a bar in the ledger, never a line in a plot",
    frozenset(("trace_b", "stale")): "hatching and a line through the figure",
    frozenset(("trace_b", "text_quiet")): "words",
    **{
        frozenset(pair): "greys: dashed, edge of a band, bar, hatched, or words"
        for pair in itertools.combinations(GREYS, 2)
    },
}
"""Pairs that may look alike to somebody, and what tells them apart without colour."""


@cache
def as_seen(colour: str, vision: str | None) -> np.ndarray:
    """Give a colour as it looks, sRGB from 0 to 1."""
    plain = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255.0
    if vision is None:
        return plain
    space = {"name": "sRGB1+CVD", "cvd_type": vision, "severity": 100}
    return np.clip(cspace_convert(plain, space, "sRGB1"), 0.0, 1.0)


@cache
def least_distance(theme: Theme, a: str, b: str) -> float:
    """Give the least distance of two of a theme's colours over all visions."""
    return min(
        float(
            deltaE(
                as_seen(getattr(theme, a), vision),
                as_seen(getattr(theme, b), vision),
                input_space="sRGB1",
            )
        )
        for vision in VISIONS
    )


def test_the_simulation_is_the_published_one():
    """Pure red without the long-wave cone, by the paper's matrix for severity 1.0.

    Machado et al. 2009, table of protanomaly matrices, 1.0: first column 0.152286, 0.114503,
    -0.003882 on linear RGB (from memory; the table also stands in the library).
    """
    linear = np.clip(np.array([0.152286, 0.114503, -0.003882]), 0.0, 1.0)
    wanted = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    assert as_seen("#ff0000", "protanomaly") == pytest.approx(wanted, abs=2e-3)


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda t: t.name)
def test_meanings_stay_apart_or_are_doubled(theme: Theme) -> None:
    """Every pair, under every vision."""
    alike = {
        (a, b): round(least_distance(theme, a, b), 1)
        for a, b in itertools.combinations(MEANINGS, 2)
        if frozenset((a, b)) not in DOUBLED and least_distance(theme, a, b) < LEAST
    }
    assert alike == {}


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda t: t.name)
def test_no_trace_or_alarm_relies_on_its_doubling_alone(theme: Theme) -> None:
    """Caution, warning and the three traces are told apart by colour too, by everybody."""
    for a, b in itertools.combinations((*TRACES, *ALARMS, "text"), 2):
        assert frozenset((a, b)) not in DOUBLED
        assert least_distance(theme, a, b) >= LEAST, (a, b)


def test_doubled_pairs_need_it() -> None:
    """What is listed as doubled looks alike to somebody in one of the themes, greys aside."""
    for pair in DOUBLED:
        a, b = pair
        if not pair <= set(GREYS):
            assert min(least_distance(theme, a, b) for theme in (DARK, LIGHT)) < LEAST, pair


def test_levels_have_shapes_of_their_own() -> None:
    """Caution and warning differ without any colour."""
    assert len({CAUTION_MARK, WARNING_MARK}) == 2
    assert len(set(MARK_OF.values())) == len(MARK_OF)
