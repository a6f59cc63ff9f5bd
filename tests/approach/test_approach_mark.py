"""Range marks and the hands-off point: armed, passed, interpolated, armed again."""

from __future__ import annotations

import itertools

import pytest
from approach_tools import OPTICAL, RADIO, T0, Run, limits_file, sample, status
from hypothesis import given
from hypothesis import strategies as st

from console.approach.action import ChooseSource
from console.approach.event import HandsOffPassed, MarkPassed
from console.core.records import RelativeSample
from tests.fakes.changed import replace


def marks_of(run: Run) -> list[tuple[float, float]]:
    """Give each mark passed and when, past the start."""
    return [(p.range_m, round(p.t - T0, 6)) for p in run.state.milestones.passed]


def fed(*ranges_m: float, step_s: float = 0.5, **changes: object) -> Run:
    """Give a run over samples of these ranges, evenly spaced."""
    run = Run(limits_file(marks_m=(10.0,)))
    run.feed(*(sample(n * step_s, r, n, **changes) for n, r in enumerate(ranges_m)))
    return run


@pytest.mark.parametrize(
    ("ranges_m", "times"),
    [
        ([10.2, 9.8, 9.6], [0.25]),  # linear between 10.2 and 9.8
        ([10.1, 9.8, 9.6], [1 / 6]),
        ([10.2, 10.0, 9.9], [0.5]),  # on the mark counts
        ([10.2, 9.8], []),  # one sample shows nothing
        ([10.2, 9.8, 10.1, 9.9], []),
        ([10.2, 9.8, 10.1, 9.9, 9.8], [1.25]),  # from the sample before the first of the two
        ([10.0, 9.9, 9.8], []),  # began on the mark: not armed
        ([9.0, 8.9], []),
        ([11.0, 5.0, 4.0], [1 / 12]),
        ([10.2, 9.9, 9.8, 10.3, 10.4, 9.9, 9.8], [1 / 3]),  # not far enough out to be armed again
        ([10.2, 9.9, 9.8, 10.7, 9.9, 9.8], [1 / 3]),  # only one sample far enough out
        ([10.2, 9.9, 9.8, 10.6, 10.6, 9.9, 9.8], [1 / 3]),  # 1.01 m + 0.5 m is not above itself
        ([10.2, 9.9, 9.8, 10.7, 10.61, 9.99, 9.8], [1 / 3, 2.0 + 0.5 * 0.61 / 0.62]),
        ([9.0, 10.7, 10.7, 9.8, 9.7], [1.0 + 0.5 * 0.7 / 0.9]),  # armed though it began inside
    ],
)
def test_mark_is_passed_when_two_successive_samples_say_so(
    ranges_m: list[float], times: list[float]
) -> None:
    """Two successive samples pass a mark, between the first of them and the one before."""
    assert [t for _, t in marks_of(fed(*ranges_m))] == pytest.approx(times, abs=1e-6)


def test_invalid_samples_count_for_nothing_between_two() -> None:
    """Invalid samples neither pass a mark nor stand between two that do."""
    run = Run(limits_file(marks_m=(10.0,)))
    run.feed(
        sample(0.0, 10.2),
        sample(0.5, 8.0, valid=False),
        sample(1.0, 9.8),
        sample(1.5, 11.0, valid=False),
        sample(2.0, 9.6),
    )
    assert marks_of(run) == [(10.0, 0.5)]


def test_several_marks_are_passed_by_one_step_outermost_first() -> None:
    """A leap over several ranges passes them all, in order of time."""
    run = Run(limits_file(marks_m=(1.0, 5.0, 10.0)))
    run.feed(sample(0.0, 11.0), sample(1.0, 0.5), sample(2.0, 0.4))
    assert [m for m, _ in marks_of(run)] == [10.0, 5.0, 1.0]
    times = [event.t for event in run.of(MarkPassed)]
    assert sorted(times) == times


def test_hands_off_closing_rate_is_interpolated_like_its_time() -> None:
    """Closing rate at the hands-off point lies between the two samples' as its time does."""
    run = Run()
    run.feed(
        sample(0.0, 2.0, range_rate_mps=-0.10),
        sample(1.0, 1.6, range_rate_mps=-0.06),
        sample(2.0, 1.5),
    )
    (event,) = run.of(HandsOffPassed)
    assert pytest.approx(event.t) == T0 + 0.5
    assert pytest.approx(event.closing_rate_mps) == 0.08


def test_last_hands_off_passing_before_contact_counts() -> None:
    """Backing out and coming in again passes the hands-off point anew."""
    run = Run()
    run.feed(*(sample(n, r) for n, r in enumerate([2.0, 1.7, 1.6, 2.4, 2.5, 1.7, 1.6])))
    assert len(run.of(HandsOffPassed)) == 2
    passing = run.state.milestones.hands_off
    assert passing is not None
    assert pytest.approx(passing.t) == T0 + 4.875


def test_equal_times_still_interpolate_by_range() -> None:
    """Two samples of one time give that time, and a closing rate between theirs."""
    run = Run()
    run.feed(
        sample(1.0, 2.0, 1, range_rate_mps=-0.10),
        sample(1.0, 1.6, 2, range_rate_mps=-0.06),
        sample(1.1, 1.5, 3),
    )
    (event,) = run.of(HandsOffPassed)
    assert event.t == T0 + 1.0
    assert pytest.approx(event.closing_rate_mps) == 0.08


def test_nothing_is_passed_after_contact() -> None:
    """From contact on samples pass no mark, but one passed before may show itself later."""
    limits = limits_file(marks_m=(10.0, 9.0))
    run = Run(limits)
    run.feed(
        sample(0.0, 10.2),
        sample(0.5, 9.8),
        status(0.8, contact=True),
        sample(1.0, 9.4),  # the second sample inside 10 m: passed at 0.25 s, before contact
        sample(1.5, 8.8),
        sample(2.0, 8.0),
    )
    assert marks_of(run) == [(10.0, 0.25)]


def test_mark_later_than_a_contact_reported_late_is_taken_back() -> None:
    """A late status that tells of an earlier contact takes back what was passed since."""
    run = Run(limits_file(marks_m=(10.0, 9.0)))
    run.receive(0.0, sample(0.0, 10.2))
    for past_s, range_m in ((0.5, 9.8), (1.0, 9.2), (1.5, 8.8), (2.0, 8.7)):
        run.receive(past_s, sample(past_s, range_m))
    assert [m for m, _ in marks_of(run)] == [10.0, 9.0]
    run.receive(2.1, status(0.9, contact=True))
    assert [m for m, _ in marks_of(run)] == [10.0]


def test_hands_off_later_than_a_contact_reported_late_gives_way_to_the_one_before() -> None:
    """Of several passings the last before contact counts, however late contact is told."""
    run = Run()
    for n, range_m in enumerate([2.0, 1.7, 1.6, 2.4, 2.5, 1.7, 1.6]):
        run.receive(n, sample(n, range_m))
    run.receive(6.5, status(4.0, contact=True))
    passing = run.state.milestones.hands_off
    assert passing is not None
    assert pytest.approx(passing.t) == T0 + 2 / 3


def test_new_source_passes_marks_by_its_own_samples() -> None:
    """After a change of source the new one's samples pass a mark, the old one's do not."""
    run = Run(limits_file(marks_m=(10.0,)))
    run.feed(sample(0.0, 10.4, 1), sample(0.0, 10.3, 1, source=RADIO))
    run.intake.action(T0, ChooseSource(source="radio"))
    run.feed(sample(0.2, 9.8, 2), sample(0.4, 9.7, 3))
    assert marks_of(run) == []
    run.feed(sample(0.5, 9.9, 2, source=RADIO), sample(0.6, 9.8, 3, source=RADIO))
    assert marks_of(run) == [(10.0, 0.375)]
    assert OPTICAL in run.state.board.sources


def naive_passings(ranges_m: list[float], m: float) -> int:
    """Count passings by looking at every pair, with nothing remembered but whether it is armed."""
    armed, count = ranges_m[0] > m, 0
    for a, b in itertools.pairwise(ranges_m):
        if armed and a <= m and b <= m:
            armed, count = False, count + 1
        elif not armed and a > 1.01 * m + 0.5 and b > 1.01 * m + 0.5:
            armed = True
    return count


@given(st.lists(st.sampled_from([9.0, 10.0, 10.4, 10.6, 10.61, 12.0]), min_size=1, max_size=30))
def test_passings_are_as_many_as_pairs_say(ranges_m: list[float]) -> None:
    """Whatever the ranges do, passings are those that pairs of samples and the arming tell."""
    run = fed(*ranges_m, step_s=0.1)
    assert naive_passings(ranges_m, 10.0) == len(marks_of(run))
    times = [t for _, t in marks_of(run)]
    assert sorted(times) == times


@given(st.floats(10.001, 12.0), st.floats(8.0, 10.0), st.floats(0.01, 0.9), st.floats(7.0, 10.0))
def test_passing_lies_between_the_samples_about_it(
    before_m: float, first_m: float, step_s: float, second_m: float
) -> None:
    """An interpolated passing is never outside the two samples it is taken from."""
    run = fed(before_m, first_m, second_m, step_s=step_s)
    ((_, t),) = marks_of(run)
    assert 0.0 <= t <= step_s + 1e-6


def test_mark_wording_says_range_and_rate() -> None:
    """The call names the range as the limits file does and the rate in whole centimetres."""
    run = Run(limits_file(marks_m=(10.0, 0.5)))
    made: list[RelativeSample] = [sample(n / 10, 10.5 - 0.09 * n / 10, n) for n in range(80)]
    run.feed(*(replace_y(one, n) for n, one in enumerate(made)))
    (event,) = run.of(MarkPassed)
    assert event.words.startswith("10 metres, closing 9 centimetres a second, contact in 11")
    assert event.words.endswith("seconds")


def replace_y(one: RelativeSample, n: int) -> RelativeSample:
    """Let the last digits move, so that nothing looks frozen."""
    import msgspec

    return msgspec.structs.replace(one, y_m=0.001 * (n % 7), z_m=0.001 * (n % 5))


def test_marks_ahead_are_the_armed_ones_inside_the_range() -> None:
    """What is still to be called is what is armed and nearer than the vehicle."""
    run = Run(replace(limits_file(), marks_m=(20.0, 10.0, 5.0)))
    run.feed(sample(0.0, 12.0), sample(0.1, 9.9), sample(0.2, 9.8))
    assert run.state.milestones.marks_ahead(9.8) == [5.0]
