"""Contact: by range, by status, revised, and what was measured then."""

from __future__ import annotations

import itertools

import pytest
from approach_tools import RADIO, T0, Run, limit, limits_file, sample, status
from hypothesis import given
from hypothesis import strategies as st

from console.approach.event import ContactMade, ExceedanceRaised, Phase
from console.approach.words import not_kept_words
from console.core.records import Record
from console.envelope.limits import ContactLimit
from console.envelope.quantity import Quantity


def contact_past_s(run: Run) -> float | None:
    """Give the time of contact past the start."""
    return None if run.state.contact.t is None else round(run.state.contact.t - T0, 6)


@pytest.mark.parametrize(
    ("ranges_m", "expected_s"),
    [
        ([0.1, 0.05, 0.02], None),
        ([0.1, -0.05, 0.02, -0.01], None),  # single samples declare nothing
        ([0.1, -0.05, -0.06], 1.0),  # the first of the two
        ([0.1, 0.0, 0.0], 1.0),
        ([0.1, -0.05, 0.01, -0.01, -0.02, -0.03], 3.0),
        ([0.0, 0.0], 0.0),
    ],
)
def test_contact_by_range_needs_two_successive_samples(
    ranges_m: list[float], expected_s: float | None
) -> None:
    """Contact by range is the first of two successive valid samples at or below zero."""
    run = Run()
    run.feed(*(sample(float(n), r, n) for n, r in enumerate(ranges_m)))
    assert expected_s == contact_past_s(run)


def test_invalid_samples_declare_no_contact() -> None:
    """Invalid samples below zero are no contact and keep none from being found."""
    run = Run()
    run.feed(sample(0, 0.1), sample(1, -0.1, valid=False), sample(2, -0.1, valid=False))
    assert contact_past_s(run) is None
    run.feed(sample(3, -0.01), sample(4, 0.5, valid=False), sample(5, -0.02))
    assert contact_past_s(run) == 3.0


@pytest.mark.parametrize("field", ["contact", "soft_capture"])
def test_first_status_that_reports_it_is_contact(field: str) -> None:
    """A status that reports contact or soft capture is contact at its own time."""
    run = Run()
    run.feed(
        sample(0, 0.5),
        status(1.0, **{field: False}),
        status(2.0, **{field: True}),
        status(3.0, contact=True, soft_capture=True),
    )
    assert contact_past_s(run) == 2.0
    (event,) = run.of(ContactMade)
    assert event.by == "capture status"


def test_earlier_of_range_and_status_is_contact() -> None:
    """Where range shows an earlier contact than a status told, contact moves back to it."""
    run = Run()
    run.feed(sample(0, 0.1), sample(1, -0.01), status(1.5, contact=True), sample(2, -0.02))
    assert contact_past_s(run) == 1.0
    assert [event.t for event in run.of(ContactMade)] == [T0 + 1.5, T0 + 1.0]
    later = Run()
    later.feed(sample(0, 0.1), status(0.5, contact=True), sample(1, -0.01), sample(2, -0.02))
    assert contact_past_s(later) == 0.5


RATES = {0.1: -0.11, 0.03: -0.09, -0.01: -0.07, -0.05: -0.05}


@pytest.mark.parametrize(
    ("before_m", "after_m", "rate"),
    [(0.03, -0.05, 0.09), (0.1, -0.01, 0.07), (0.03, -0.01, 0.07)],
)
def test_values_at_contact_are_of_the_sample_nearest_to_zero(
    before_m: float, after_m: float, rate: float
) -> None:
    """Of the last sample before contact and the first at it, the nearer to zero is measured."""
    run = Run()
    run.feed(
        sample(0, 0.3),
        sample(1, before_m, range_rate_mps=RATES[before_m]),
        sample(2, after_m, range_rate_mps=RATES[after_m]),
        sample(3, -0.2),
    )
    measured = run.state.contact.measured()
    assert measured is not None
    assert rate == pytest.approx(measured.values[Quantity.CLOSING_RATE])


def test_values_at_contact_by_status_may_come_from_a_later_sample() -> None:
    """After a status the next sample is taken too, if it is nearer to zero."""
    run = Run()
    run.feed(sample(0, 0.3), sample(1, 0.1, range_rate_mps=-0.11), status(1.5, contact=True))
    first = run.state.contact.measured()
    assert first is not None
    assert pytest.approx(first.values[Quantity.CLOSING_RATE]) == 0.11
    run.feed(sample(2, 0.03, range_rate_mps=-0.09), sample(3, 0.0, range_rate_mps=-0.5))
    second = run.state.contact.measured()
    assert second is not None
    assert pytest.approx(second.values[Quantity.CLOSING_RATE]) == 0.09


def test_status_that_comes_late_still_finds_the_samples_about_it() -> None:
    """Samples of the last seconds are kept, so that a late report of contact is measured right."""
    run = Run()
    for n in range(200):  # 50 a second, the report 0.4 s late
        run.receive(n / 50, sample(n / 50, 0.2 - 0.1 * n / 50, n, range_rate_mps=-0.1 + n / 1e4))
    run.receive(4.0, status(1.99, contact=True))
    nearest = run.state.contact.nearest()
    assert nearest is not None
    assert pytest.approx(nearest.sample.t) == T0 + 2.0


def test_unknown_at_contact_is_outside() -> None:
    """A quantity nobody measured at contact is outside its limit, never inside."""
    limits = limits_file(contact_limits=(ContactLimit(Quantity.ROLL_RATE, None, 9.0),))
    run = Run(limits)
    run.feed(sample(0, 0.1, roll_rate_dps=None), sample(1, -0.01, roll_rate_dps=None))
    run.feed(sample(2, -0.02))
    measured = run.state.contact.measured()
    assert measured is not None
    assert measured.outside == (Quantity.ROLL_RATE,)
    blind = Run(limits)
    blind.feed(status(0, contact=True))
    measured = blind.state.contact.measured()
    assert measured is not None
    assert measured.outside == (Quantity.ROLL_RATE,)


def test_nothing_is_judged_at_zero_or_after_contact() -> None:
    """No sample at range 0 or below is judged, and none after contact."""
    run = Run(limits_file(limit(curve=limit().curve)))
    fast = {"range_rate_mps": -5.0}
    run.feed(sample(0, 0.1), sample(1, 0.0, **fast), sample(2, 0.2), sample(3, -1.0, **fast))
    assert run.of(ExceedanceRaised) == []
    run.feed(sample(4, 0.1), status(4.5, contact=True), sample(5, 0.1, **fast))
    assert run.of(ExceedanceRaised) == []
    assert run.state.judged == 3


def test_standing_exceedance_goes_on_standing_after_contact() -> None:
    """Contact leaves what stands as it is."""
    run = Run(limits_file(limit()))
    run.feed(sample(0, 0.2, range_rate_mps=-0.3), sample(1, -0.1), sample(2, -0.2))
    run.feed(*(sample(3 + n, 0.5) for n in range(5)))
    (one,) = [e for e in run.state.register if e.source is None]
    assert one.cleared is None


def test_other_sources_declare_no_contact() -> None:
    """Only the source in use shows contact by range."""
    run = Run()
    run.feed(sample(0, 1.0), sample(0, -0.1, source=RADIO), sample(0.5, -0.1, source=RADIO))
    assert contact_past_s(run) is None
    assert Phase.CONTACT is not run.state.phases.phase


def earliest(records: list[Record]) -> float | None:
    """Find contact by searching the whole list."""
    valid = [r for r in records if hasattr(r, "range_m") and r.valid]
    pairs = [a.t for a, b in itertools.pairwise(valid) if max(a.range_m, b.range_m) <= 0]
    reports = [r.t for r in records if hasattr(r, "contact") and (r.contact or r.soft_capture)]
    return min(pairs[:1] + reports[:1], default=None)


steps = st.lists(
    st.one_of(
        st.tuples(st.sampled_from([0.2, 0.0, -0.1]), st.booleans()),
        st.sampled_from(["nothing", "contact", "soft_capture"]),
    ),
    max_size=12,
)


@given(steps)
def test_contact_is_the_earliest_of_all_signs(made: list) -> None:
    """Whatever comes in which order, contact is the earliest of what shows it."""
    records: list[Record] = []
    for n, step in enumerate(made):
        if isinstance(step, str):
            records.append(status(float(n), n, **({} if step == "nothing" else {step: True})))
        else:
            records.append(sample(float(n), step[0], n, valid=step[1]))
    run = Run(limits_file(data=limits_file().data))
    run.feed(*records)
    assert earliest(records) == run.state.contact.t


@pytest.mark.parametrize(
    ("outside", "words"),
    [
        ([("roll", 9.0), ("closing rate", 0.2)], "OUT roll, closing rate"),
        ([("roll", None), ("closing rate", 0.2)], "OUT closing rate; unknown: roll"),
        ([("roll", None), ("closing rate", None)], "unknown: roll, closing rate"),
    ],
)
def test_what_was_unknown_at_contact_is_not_named_as_measured_outside(
    outside: list[tuple[str, float | None]], words: str
) -> None:
    """Both are not kept, but the words tell them apart."""
    assert not_kept_words(outside, "OUT ", "unknown: ") == words
