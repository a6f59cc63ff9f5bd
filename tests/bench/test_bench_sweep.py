"""One limit varied over passes made by hand: what it says is what arithmetic says."""

from __future__ import annotations

import numpy as np
import pytest

from console.app.input_file import load_limits
from console.bench.labels import Label, Mark
from console.bench.pass_set import PassSet
from console.bench.proportion import wilson
from console.bench.rejudge import Rejudge
from console.bench.sweep import Knob, neutral_value, sweep, varied
from console.core.errors import UsageError
from console.core.ids import LimitId
from console.envelope.limits import Allow, Basis, Curve, Level, Limit
from console.envelope.quantity import Quantity
from console.judging.columns import PassColumns
from tests.fakes.changed import replace

LIMIT = Limit(
    LimitId("offset"), Quantity.LATERAL_OFFSET, Basis.MEASURED, Level.WARNING, Allow.BELOW,
    Curve((0.0, 200.0), (1.0, 1.0)), 0.1, 1.0, 1.0,
)  # fmt: skip
LIMITS = replace(load_limits(None), limits=(LIMIT,))
GOOD = Label(Mark.GOOD, "x", "y")
T0, FAULT_T = 1000.0, 1020.0


def columns(peak: float, lasts_s: float) -> PassColumns:
    """Make a pass whose offset is ``peak`` for a while from 20 s on, else 0; 10 Hz, 60 s."""
    t = T0 + np.arange(600) / 10.0
    value = np.where((t >= FAULT_T) & (t < FAULT_T + lasts_s - 0.05), peak, 0.0)
    return PassColumns(
        t, np.full(600, 50.0), np.full(600, 50.0), {Quantity.LATERAL_OFFSET: value}, {},
        np.zeros(600, dtype=np.bool_),
    )  # fmt: skip


# peak and length of what was good, and of what was a fault
GOODS = [(0.5, 9.0), (1.1, 9.0), (1.3, 9.0), (1.05, 2.0)]
BADS = [(1.2, 9.0), (2.0, 9.0), (1.4, 2.0)]


@pytest.fixture(name="rejudge", scope="module")
def rejudge_fixture() -> Rejudge:
    """Give all passes, ready."""
    return Rejudge(PassSet.of_columns([columns(*one) for one in (*GOODS, *BADS)], LIMITS))


LABELS = [GOOD] * len(GOODS) + [Label(Mark.KNOWN_FAULT, "x", "y", FAULT_T)] * len(BADS)


def test_scale_counts_good_and_bad_passes_beyond_the_curve(rejudge: Rejudge) -> None:
    """At factor f a pass is raised if its peak exceeds f, long enough."""
    factors = [0.4, 1.0, 1.15, 1.35, 1.6, 3.0]
    points = sweep(rejudge, LIMITS, LABELS, "offset", Knob.SCALE, factors)
    for point in points:
        assert point.nuisance.count == sum(peak > point.value for peak, _ in GOODS)
        assert point.missed.count == sum(peak <= point.value for peak, _ in BADS)
        assert (point.nuisance.of, point.missed.of) == (4, 3)
        assert point.nuisance.bounds == wilson(point.nuisance.count, 4)
        found = [peak for peak, _ in BADS if peak > point.value]
        assert point.delay_s == (pytest.approx(1.0, abs=1e-6) if found else None)


def test_offset_moves_the_curve(rejudge: Rejudge) -> None:
    """A shift of 0.35 does on a flat curve of 1 what a factor of 1.35 does."""
    one, two = (
        sweep(rejudge, LIMITS, LABELS, "offset", knob, [value])[0]
        for knob, value in ((Knob.OFFSET, 0.35), (Knob.SCALE, 1.35))
    )
    assert (one.nuisance, one.missed, one.delay_s) == (two.nuisance, two.missed, two.delay_s)


def test_on_delay_trades_nuisance_for_miss_and_delay(rejudge: Rejudge) -> None:
    """With 3 s what lasts 2 s is neither nuisance nor told; the others are told 3 s late."""
    short, long = sweep(rejudge, LIMITS, LABELS, "offset", Knob.ON_DELAY, [0.0, 3.0])
    assert (short.nuisance.count, short.missed.count, short.delay_s) == (3, 0, 0.0)
    assert (long.nuisance.count, long.missed.count) == (2, 1)
    assert long.delay_s == pytest.approx(3.0, abs=1e-6)


def test_points_no_other_beats_are_marked(rejudge: Rejudge) -> None:
    """1.15 and 1.35 are each best in something; 1.0 and 3.0 are beaten; equals both stand."""
    factors = [1.0, 1.15, 1.15, 1.35, 1.6, 3.0]
    points = sweep(rejudge, LIMITS, LABELS, "offset", Knob.SCALE, factors)
    costs = [
        (p.nuisance.count, p.missed.count, float("inf") if p.delay_s is None else p.delay_s)
        for p in points
    ]
    for point, mine in zip(points, costs, strict=True):
        beaten = any(
            all(a <= b for a, b in zip(other, mine, strict=True)) and other != mine
            for other in costs
        )
        assert point.is_unbeaten is not beaten
    assert [p.is_unbeaten for p in points] == [False, True, True, True, False, False]


def test_the_present_setting_is_the_neutral_one(rejudge: Rejudge) -> None:
    """At its neutral value each knob leaves the limit as it is."""
    for knob in Knob:
        assert varied(LIMIT, knob, neutral_value(LIMIT, knob)) == LIMIT


@pytest.mark.parametrize(
    ("knob", "value"),
    [(Knob.SCALE, 0.0), (Knob.SCALE, -1.0), (Knob.ON_DELAY, -1.0), (Knob.DEADBAND, float("nan"))],
)
def test_values_no_file_could_hold_are_refused(knob: Knob, value: float) -> None:
    """Nothing is judged with them."""
    with pytest.raises(UsageError):
        varied(LIMIT, knob, value)


def test_an_unknown_limit_is_refused(rejudge: Rejudge) -> None:
    """It names what was asked for."""
    with pytest.raises(UsageError, match="nosuch"):
        sweep(rejudge, LIMITS, LABELS, "nosuch", Knob.SCALE, [1.0])
