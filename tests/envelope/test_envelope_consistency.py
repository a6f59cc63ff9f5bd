"""Whether a limits file hangs together: each contradiction planted alone is the one found."""

from __future__ import annotations

import random

import numpy as np
import pytest
from scipy.integrate import quad

from console.app.input_file import load_limits
from console.core.ids import LimitId
from console.envelope.consistency import inconsistencies
from console.envelope.consistency_motion import planned_time_s
from console.envelope.inconsistency import Kind
from console.envelope.limits import (
    Allow,
    Curve,
    GlideSlope,
    HandsOff,
    Level,
    Limit,
    LimitsFile,
)
from console.envelope.quantity import Quantity
from console.envelope.reading import parse_limits
from tests.fakes.changed import replace

SHIPPED = load_limits(None)


def found_in(limits: LimitsFile) -> list[tuple[Kind, Level, str]]:
    """Give kind, level and place of everything found."""
    return [(one.kind, one.level, one.place) for one in inconsistencies(limits)]


def with_limit(name: str, **changes: object) -> LimitsFile:
    """Give the shipped file with one limit changed."""
    limits = [replace(limit, **changes) if limit.id == name else limit for limit in SHIPPED.limits]
    return replace(SHIPPED, limits=tuple(limits))


def curve(*points: tuple[float, float]) -> Curve:
    """Make a curve of points."""
    return Curve(tuple(float(r) for r, _ in points), tuple(float(v) for _, v in points))


def test_the_shipped_files_hang_together() -> None:
    """Nothing is found in what travels with the program."""
    assert found_in(SHIPPED) == []


PLANTED = [
    ("a caution looser than its warning", "roll", {"curve": curve((0, 1.9), (200, 6.0))},
     (Kind.ORDER, Level.CAUTION, "roll")),
    ("a lower limit with a looser caution", "closing-slow", {"curve": curve((0, 0.05), (3, 0.07))},
     (Kind.ORDER, Level.CAUTION, "closing-slow")),
    ("a caution that waits longer", "corridor-caution", {"on_delay_s": 4.0},
     (Kind.ORDER, Level.CAUTION, "corridor")),
    ("a caution that ends sooner", "pitch-yaw-caution", {"curve": curve((0, 2), (150, 3))},
     (Kind.ORDER, Level.CAUTION, "pitch-yaw")),
    ("a planned rate beyond the limit", "closing-fast",
     {"curve": curve((0, 0.1), (2, 0.1), (20, 0.15), (190, 0.5), (200, 0.5))},
     (Kind.GLIDE_SLOPE, Level.CAUTION, "closing-fast")),
    ("a dead band that reaches the plan", "closing-fast-caution", {"deadband": 0.0065},
     (Kind.GLIDE_SLOPE, Level.CAUTION, "closing-fast-caution")),
    ("an envelope wider than the contact limit", "lateral-offset",
     {"curve": curve((0, 0.11), (2, 0.14), (25, 0.75))},
     (Kind.CONTACT, Level.CAUTION, "lateral-offset")),
    ("no warning at contact", "roll-rate", {"curve": curve((1, 0.15), (200, 0.4))},
     (Kind.CONTACT, Level.ADVISORY, "contact_limit[roll_rate]")),
    ("a dead band wider than the region", "roll-caution", {"deadband": 2.1},
     (Kind.DEADBAND, Level.CAUTION, "roll-caution")),
    ("a delay longer than the way", "closing-slow-caution", {"on_delay_s": 56.0},
     (Kind.DELAY, Level.CAUTION, "closing-slow-caution")),
]  # fmt: skip


@pytest.mark.parametrize(
    ("what", "name", "changes", "expected"), PLANTED, ids=[p[0] for p in PLANTED]
)
def test_a_planted_contradiction_is_found(what, name, changes, expected) -> None:
    """Each is told at its own limit, with the right weight, and says how to mend it."""
    limits = with_limit(name, **changes)
    assert expected in found_in(limits), what
    for one in inconsistencies(limits):
        assert one.words
        assert one.mend
        assert "\n" not in str(one)


def test_the_best_of_several_cautions_counts() -> None:
    """A warning with one good and one late caution is in order."""
    late = replace(
        next(one for one in SHIPPED.limits if one.id == "roll-caution"),
        id=LimitId("roll-late"),
        on_delay_s=9.0,
    )
    assert found_in(replace(SHIPPED, limits=(late, *SHIPPED.limits))) == []


def test_a_gap_between_two_curves_is_found_and_a_touch_is_none() -> None:
    """Curves of one kind that leave 5 to 8 m open are told; ones that meet are not."""
    base = next(one for one in SHIPPED.limits if one.id == "source-gap")
    inner = replace(base, id=LimitId("in"), curve=curve((0, 1), (5, 1)))
    outer = replace(base, id=LimitId("out"), curve=curve((8, 1), (200, 1)))
    file = replace(SHIPPED, limits=(outer, inner), contact_limits=())
    assert found_in(file) == [(Kind.GAP, Level.CAUTION, "out")]
    assert "from 5 to 8 m" in inconsistencies(file)[0].words
    meeting = replace(outer, curve=curve((5, 1), (200, 1)))
    assert found_in(replace(file, limits=(meeting, inner))) == []


def test_a_region_too_narrow_for_its_dead_bands_is_found() -> None:
    """Between an upper and a lower closing limit there must be room for either dead band."""
    file = with_limit("closing-slow-caution", curve=curve((0, 0.089), (5, 0.089)), deadband=0.008)
    assert (Kind.DEADBAND, Level.CAUTION, "closing-fast-caution") in found_in(file)


def test_braking_too_weak_for_the_hands_off_range_is_found() -> None:
    """9 cm/s, 5.5 s and 1 mm/s² need 4.5 m: more than there is at 1.8 m."""
    file = replace(SHIPPED, hands_off=HandsOff(1.8, 1.5, 4.0, 0.001))
    found = [one for one in inconsistencies(file) if one.kind is Kind.STOPPING]
    assert {one.place for one in found} >= {"hands_off", "closing-fast"}
    assert pytest.approx(4.545) == 0.09 * 5.5 + 0.09**2 / 0.002


def test_a_file_without_limits_is_in_order() -> None:
    """Contact conditions alone need no warning to guard them."""
    assert found_in(replace(SHIPPED, limits=())) == []


def test_the_order_rule_agrees_with_a_dense_search() -> None:
    """On random pairs of curves the rule finds a looser caution exactly where samples show one."""
    random_ = random.Random(6)
    seen = set()
    for _ in range(300):
        caution, warning = (
            _random_limit(random_, level) for level in (Level.CAUTION, Level.WARNING)
        )
        file = replace(SHIPPED, limits=(caution, warning), contact_limits=())
        told = any(
            one.kind is Kind.ORDER and "tighter than its caution" in one.words
            for one in inconsistencies(file)
        )
        low = max(caution.curve.ranges_m[0], warning.curve.ranges_m[0])
        high = min(caution.curve.ranges_m[-1], warning.curve.ranges_m[-1])
        looser = False
        if low <= high:
            ranges = np.linspace(low, high, 4001)
            a, b = (
                np.interp(ranges, c.curve.ranges_m, c.curve.values) for c in (caution, warning)
            )
            looser = bool((a > b + 1e-9).any())
        assert told == looser
        seen.add(told)
    assert seen == {True, False}


def _random_limit(random_: random.Random, level: Level) -> Limit:
    ranges = sorted(random_.sample(range(100), random_.randint(2, 4)))
    rise = 2.0 if level is Level.WARNING else 1.0
    return Limit(
        LimitId(level.word), Quantity.SOURCE_GAP, SHIPPED.limits[0].basis, level, Allow.BELOW,
        curve(*((r, random_.randint(0, 8) + rise) for r in ranges)), 0.0, 1.0, 1.0,
    )  # fmt: skip


@pytest.mark.parametrize("range_m", [0.5, 20.0, 60.0, 200.0, 250.0])
def test_time_along_the_plan_is_its_integral(range_m: float) -> None:
    """Planned time is the integral of dr/v, by quadrature, outside the slope's end as well."""
    slope = GlideSlope(curve((0, 0.05), (10, 0.09), (20, 0.09), (200, 0.55)))

    def inverse(r: float) -> float:
        return 1.0 / float(np.interp(r, slope.curve.ranges_m, slope.curve.values))

    expected, _ = quad(inverse, 0.0, range_m, points=[10, 20, 200], limit=200)
    assert planned_time_s(slope, range_m) == pytest.approx(expected, rel=1e-8)


def test_a_check_reads_what_it_prints(tmp_path) -> None:
    """The contact conditions file hangs together too, read from its text."""
    text = load_limits(None).text.replace("deadband = 0.1\n", "deadband = 0.31\n")
    file = parse_limits(text.encode(), "x.toml")
    assert found_in(file) == [(Kind.DEADBAND, Level.CAUTION, "source-gap")]
