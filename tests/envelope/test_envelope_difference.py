"""What another limits file changes, in words and as curves."""

from __future__ import annotations

import numpy as np
import pytest

from console.app.input_file import load_limits
from console.envelope.difference import difference
from console.envelope.limits import Curve, LimitsFile
from console.envelope.reading import parse_limits
from tests.fakes.changed import replace

SHIPPED = load_limits(None)


def changed(*pairs: tuple[str, str]) -> LimitsFile:
    """Give the shipped file with pieces of its text replaced once each."""
    text = SHIPPED.text
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new, 1)
    return parse_limits(text.encode(), "b.toml")


def test_a_file_does_not_differ_from_itself() -> None:
    """Nor by title, revision, author and reason, which judge nothing."""
    other = changed(("revision = 7", "revision = 8"), ('author = "Lead', 'author = "X'))
    assert difference(SHIPPED, other).is_empty


WORDED = [
    (("range_m = 1.8 ", "range_m = 2.0 "), "hands_off.range_m: 1.8 → 2 (+0.2)"),
    (("lost_after_s = 5.0", "lost_after_s = 4.0"), "data.lost_after_s: 5 → 4 (−1)"),
    (("[200, 150, 100,", "[200, 150, 120,"), "marks: 120 m added"),
    (("deadband = 0.004", "deadband = 0.002"), "closing-fast: deadband: 0.004 → 0.002 (−0.002)"),
    (("on_delay_s = 25.0", "on_delay_s = 20.0"), "range-rate-gap: on_delay_s: 25 → 20 (−5)"),
    (('level = "warning"', 'level = "caution"'), "closing-fast: level warning → caution"),
    (('basis = "estimated"', 'basis = "measured"'),
     "closing-fast: basis estimated → measured"),
    (("never_shelve = true", "never_shelve = false"),
     "closing-fast: never_shelve true → false"),
    (('action = "Call hold"', 'action = "Hold"'), 'closing-fast: action "Call hold" → "Hold"'),
    (("min = 0.05\nmax = 0.10", "min = 0.06\nmax = 0.10"),
     "contact_limit[closing_rate]: min 0.05 max 0.1 m/s → min 0.06 max 0.1 m/s"),
    (("[[0, 0.10], [2, 0.10], [20, 0.16]", "[[0, 0.10], [2, 0.10], [20, 0.18]"),
     "closing-fast: curve raised by up to 0.02 m/s at 20 m"),
    (("[[0, 0.05], [3, 0.05]]", "[[0, 0.05], [4, 0.04]]"),
     ("closing-slow: curve lowered by up to 0.0075 m/s at 3 m, applied from 0 to 4 m "
     "(was 0 to 3 m)")),
    (("[[0, 0.09], [20, 0.09], [200, 0.55]]", "[[0, 0.09], [20, 0.09], [200, 0.50]]"),
     "glide_slope: curve lowered by up to 0.05 m/s at 200 m"),
]  # fmt: skip


@pytest.mark.parametrize(("pair", "words"), WORDED, ids=[words[:30] for _, words in WORDED])
def test_a_change_is_told_in_words(pair, words) -> None:
    """One change gives the line that says it (a mark moved gives two)."""
    found = difference(SHIPPED, changed(pair)).words
    assert words in found
    assert len(found) <= 2


def test_added_and_removed_limits_are_told() -> None:
    """A renamed limit is one removed and one added, with what it does."""
    other = changed(('id = "roll-rate"', 'id = "roll-speed"'))
    found = difference(SHIPPED, other).words
    assert found[0].startswith("roll-rate: removed (warning, estimated roll_rate below 0.15 deg/s")
    assert found[1].startswith("roll-speed: added (")
    assert len(found) == 2


def test_curves_stand_side_by_side_over_every_point_of_either() -> None:
    """Old, new and change are what linear interpolation gives; outside a curve stands nothing."""
    old, new = Curve((0.0, 2.0, 20.0), (0.1, 0.1, 0.16)), Curve((1.0, 5.0, 30.0), (0.1, 0.2, 0.3))
    limit = SHIPPED.limits[0]
    before = replace(SHIPPED, limits=(replace(limit, curve=old),))
    after = replace(SHIPPED, limits=(replace(limit, curve=new),))
    (change,) = difference(before, after).curves
    assert [p.range_m for p in change.points] == [0, 1, 2, 5, 20, 30]
    assert (change.place, change.unit) == (limit.id, "m/s")
    for point in change.points:
        for value, curve in ((point.old, old), (point.new, new)):
            if curve.ranges_m[0] <= point.range_m <= curve.ranges_m[-1]:
                assert value == pytest.approx(
                    np.interp(point.range_m, curve.ranges_m, curve.values)
                )
            else:
                assert value is None
    assert change.points[0].change is None
    assert change.points[2].change == pytest.approx(0.025)
