"""The ledger's rows."""

from __future__ import annotations

import pytest
from fakes.captures import damping
from fakes.limits import fake_limits
from fakes.situations import ALL
from fakes.snapshots import no_data, nominal, stale, warning_and_cautions
from hypothesis import given
from hypothesis import strategies as st

from console.approach.snapshot import LimitNow, Snapshot, Verdict
from console.envelope.limits import Allow, Basis, Level
from console.envelope.quantity import AT_CONTACT, Quantity
from console.present.ledger import LedgerRow, ledger
from console.present.tone import Tone
from console.tracking.outlook import ContactQuantity, Motion, Spread
from tests.fakes.changed import replace

LIMITS = fake_limits()
Q = Quantity


def row(s: Snapshot | None, name: str) -> LedgerRow:
    """Give the row of a name."""
    return next(r for r in ledger(s, LIMITS).rows if r.name == name)


def limit(
    allow: Allow, level: Level, bound: float | None, value: float | None, *, standing: bool = False
) -> LimitNow:
    """Give a limit judged on its own."""
    margin = None
    if bound is not None and value is not None:
        margin = bound - value if allow is Allow.BELOW else value - bound
    verdict = Verdict.UNKNOWN
    if margin is not None:
        out = Verdict.OUTSIDE if level is Level.WARNING else Verdict.CAUTION
        verdict = Verdict.INSIDE if margin >= 0 else out
    return LimitNow(
        f"{level.word}-{allow.value}", Q.CLOSING_RATE, Basis.ESTIMATED, level, allow, value, bound,
        margin, verdict, standing, None, "",
    )  # fmt: skip


def with_limits(*limits: LimitNow) -> LedgerRow:
    """Give the closing rate row under these limits alone."""
    return row(replace(nominal(), limits=limits), "Closing rate")


def test_a_row_for_each_contact_quantity_then_the_others_the_file_judges() -> None:
    """Rows keep their order whatever the state."""
    names = [r.name for r in ledger(nominal(), LIMITS).rows]
    assert names[: len(AT_CONTACT)] == [
        "Closing rate", "Lateral offset", "Lateral rate", "Pitch / yaw", "Roll",
        "Pitch / yaw rate", "Roll rate",
    ]  # fmt: skip
    assert names[len(AT_CONTACT) :] == ["Corridor angle", "Source gap", "Range rate gap"]
    assert names == [r.name for r in ledger(None, LIMITS).rows]


def test_the_nominal_row_reads_across() -> None:
    """Now, band here, share used, at contact, contact band, chance."""
    r = row(nominal(), "Closing rate")
    assert (r.now, r.unit, r.limit) == ("0.083", "m/s", "0.050–0.110")
    assert r.bar is not None
    assert r.bar.used == pytest.approx(0.083 / 0.11033, abs=1e-3)
    assert (r.at_contact, r.contact_limit, r.chance) == ("0.071", "0.05–0.10", "> 99 %")
    assert r.tone is Tone.PLAIN


def test_a_standing_caution_colours_and_marks_its_row() -> None:
    """Name, value and bar speak together, doubled by the mark."""
    r = row(nominal(), "Pitch / yaw rate")
    assert (r.mark, r.tone, r.now_tone) == ("◧", Tone.CAUTION, Tone.CAUTION)
    assert r.bar is not None
    assert r.bar.tone is Tone.CAUTION
    w = row(warning_and_cautions(), "Closing rate")
    assert (w.mark, w.tone) == ("■", Tone.WARNING)
    assert w.bar is not None
    assert w.bar.used == 1.0


def test_a_violation_not_yet_standing_colours_the_bar_alone() -> None:
    """Text does not flicker with noise; the bar shows the instant."""
    r = with_limits(limit(Allow.BELOW, Level.WARNING, 0.10, 0.11))
    assert (r.mark, r.tone, r.now_tone) == ("", Tone.PLAIN, Tone.STRONG)
    assert r.bar is not None
    assert (r.bar.used, r.bar.tone) == (1.0, Tone.WARNING)


def test_the_tightest_side_of_a_band_fills_the_bar() -> None:
    """Near the lower limit the bar shows that side."""
    r = with_limits(
        limit(Allow.BELOW, Level.WARNING, 0.20, 0.06),
        limit(Allow.ABOVE, Level.WARNING, 0.05, 0.06),
    )
    assert r.limit == "0.050–0.200"
    assert r.bar is not None
    assert r.bar.used == pytest.approx(0.05 / 0.06)


def test_a_caution_limit_is_a_tick_and_the_only_limit_where_there_is_no_warning() -> None:
    """The tick stands where the caution begins."""
    r = with_limits(
        limit(Allow.BELOW, Level.WARNING, 0.10, 0.06),
        limit(Allow.BELOW, Level.CAUTION, 0.08, 0.06),
    )
    assert r.bar is not None
    assert r.bar.tick == pytest.approx(0.8)
    only = with_limits(limit(Allow.BELOW, Level.CAUTION, 0.08, 0.06))
    assert only.limit == "0.080"
    assert only.bar is not None
    assert (only.bar.used, only.bar.tick) == (pytest.approx(0.75), None)


@given(
    st.one_of(st.none(), st.floats(-1.0, 1.0)),
    st.one_of(st.none(), st.floats(-1.0, 1.0)),
    st.sampled_from(Allow),
)
def test_a_bar_is_full_exactly_outside_its_limit(
    value: float | None, bound: float | None, allow: Allow
) -> None:
    """Unknown has no bar, outside is full, inside is between 0 and 1."""
    r = with_limits(limit(allow, Level.WARNING, bound, value))
    if value is None or bound is None:
        assert r.bar is None
        return
    assert r.bar is not None
    assert 0.0 <= r.bar.used <= 1.0
    outside = value > bound if allow is Allow.BELOW else value < bound
    if outside:
        assert r.bar.used == 1.0
        assert r.bar.tone is Tone.WARNING
    else:
        assert r.bar.tone is Tone.PLAIN


def test_unknown_is_never_shown_as_inside() -> None:
    """Without data there are dashes and no bar."""
    for s in (None, no_data()):
        r = row(s, "Lateral offset")
        assert (r.now, r.limit, r.bar, r.at_contact, r.chance) == ("—", "—", None, "—", "—")


def test_stale_values_are_struck() -> None:
    """The value stays, in the stale voice."""
    r = row(stale(), "Roll")
    assert (r.now, r.now_tone) == ("0.29", Tone.STALE)
    assert "stale" in r.spoken


def test_a_limit_soon_reached_is_said_and_a_far_one_is_not() -> None:
    """The present trend counts for a minute ahead, and not on stale data."""
    warn = replace(limit(Allow.BELOW, Level.WARNING, 0.10, 0.06), violates_in_s=31.9)
    assert with_limits(warn).soon == "limit in 0:31"
    assert with_limits(replace(warn, violates_in_s=90.0)).soon == ""
    assert row(replace(stale(), limits=(warn,)), "Closing rate").soon == ""


def test_a_prediction_outside_its_contact_limit_is_marked() -> None:
    """The predicted value and its chance carry the caution's voice and shape."""
    s = nominal()
    assert s.at_contact is not None
    bad = ContactQuantity(Q.ROLL, Spread(4.4, 0.2), None, 4.0, 0.02)
    others = tuple(q for q in s.at_contact.quantities if q.quantity is not Q.ROLL)
    r = row(replace(s, at_contact=replace(s.at_contact, quantities=(*others, bad))), "Roll")
    assert (r.contact_mark, r.contact_tone, r.chance) == ("◧", Tone.CAUTION, "2 %")


def test_in_a_hold_a_prediction_raises_no_colour() -> None:
    """Contact is not being approached: the figure stands, in the plain voice."""
    s = nominal()
    assert s.at_contact is not None
    bad = ContactQuantity(Q.ROLL, Spread(4.4, 0.2), None, 4.0, 0.02)
    at_contact = replace(s.at_contact, quantities=(bad,))
    r = row(replace(s, at_contact=at_contact, motion=Motion.NOT_CLOSING), "Roll")
    assert (r.at_contact, r.contact_mark, r.contact_tone) == ("4.40", "", Tone.PLAIN)


def test_about_contact_a_limit_that_draws_together_is_not_spoken_of() -> None:
    """Only a limit reached clearly before contact counts as soon."""
    s = nominal()
    assert s.to_contact.best_s is not None
    warn = replace(
        limit(Allow.BELOW, Level.WARNING, 0.10, 0.06), violates_in_s=s.to_contact.best_s
    )
    late = replace(s, limits=(warn,), to_contact=replace(s.to_contact, best_s=40.0))
    for in_s, soon in ((39.0, ""), (30.0, "limit in 0:30")):
        now = replace(late, limits=(replace(warn, violates_in_s=in_s),))
        assert row(now, "Closing rate").soon == soon


def test_after_contact_nothing_is_judged_now() -> None:
    """Whatever the limits last said, the columns of now are empty."""
    s = replace(damping(), limits=nominal().limits, values=nominal().values)
    r = row(s, "Closing rate")
    assert (r.now, r.limit, r.bar, r.mark) == ("—", "—", None, "")


def test_the_chance_of_all_limits_at_once_is_said_for_both_assumptions() -> None:
    """An uncalibrated figure says so."""
    s = nominal()
    said = ledger(s, LIMITS).together.text
    assert said == "all contact limits at once:  control continues 86 %,  thrust stops now 86 %"
    assert s.at_contact is not None
    rough = replace(s, at_contact=replace(s.at_contact, calibrated=False))
    assert "uncalibrated" in ledger(rough, LIMITS).together.text


def test_after_contact_the_measured_values_stand_against_the_contact_limits() -> None:
    """The column changes its name; a value outside is a warning."""
    s = damping()
    assert ledger(s, LIMITS).contact_header == "measured"
    assert row(s, "Closing rate").at_contact == "0.071"
    assert row(s, "Corridor angle").at_contact == "—"
    assert s.capture is not None
    assert s.capture.contact is not None
    out = replace(s.capture.contact, outside=(Q.ROLL,))
    r = row(replace(s, capture=replace(s.capture, contact=out)), "Roll")
    assert (r.contact_mark, r.contact_tone) == ("■", Tone.WARNING)


@pytest.mark.parametrize("name", ALL)
def test_every_row_can_be_spoken(name: str) -> None:
    """The words for a screen reader hold name, value and limit."""
    for r in ledger(ALL[name](), LIMITS).rows:
        assert r.spoken.startswith(f"{r.name} {r.now}")
