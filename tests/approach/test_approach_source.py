"""Source in use, ages, clocks, late samples, restarts, duplicates: what is believed and when."""

from __future__ import annotations

import pytest
from approach_tools import (
    OPTICAL,
    RADIO,
    T0,
    Run,
    closing,
    limit,
    limits_file,
    lines,
    sample,
    status,
)

from console.approach.action import ChooseSource
from console.approach.engine_time import EngineTime
from console.approach.event import (
    ExceedanceCleared,
    ExceedanceRaised,
    Phase,
    SamplesLost,
    SourceChanged,
    SourceRestarted,
)
from console.core.ids import SourceId
from console.core.records import Heartbeat, RelativeSample
from console.envelope.limits import DataRules


def both(begin_s: float, end_s: float, range_m: float, **radio: object) -> list[RelativeSample]:
    """Give optical at 10 Hz and radio at 2 Hz in order of time."""
    made = closing(begin_s, end_s, range_m)
    other = closing(begin_s, end_s, range_m + 0.004, source=RADIO, **radio)[::5]
    return sorted(made + other, key=lambda s: (s.t, s.source))


def changes(run: Run) -> list[tuple[str, float]]:
    """Give each source that came into use, and when, past the start."""
    return [(event.source, round(event.t - T0, 6)) for event in run.of(SourceChanged)]


def only(source: str, records: list[RelativeSample]) -> list[RelativeSample]:
    """Give the samples of one source."""
    return [record for record in records if record.source == source]


def test_first_heard_is_in_use() -> None:
    """The source of the first valid sample is in use; an invalid one counts for nothing."""
    run = Run()
    run.feed(sample(0.0, 9.0, valid=False), sample(0.1, 9.0, source=RADIO), sample(0.2, 9.0))
    assert changes(run) == [("radio", 0.1)]


def test_stale_source_gives_way_at_the_tick() -> None:
    """With a fresh one beside it, a source is left at the first tick at which it is stale."""
    run = Run()
    run.feed(*both(0, 5, 15.0))
    run.feed(*only("radio", both(5, 8, 14.55)))
    assert changes(run) == [("optical", 0.0), ("radio", 6.0)]  # 4.9 s was the last sample


def test_stale_exactly_is_not_older() -> None:
    """Data as old as ``stale_after_s``, to the microsecond, is not stale yet."""
    run = Run()
    run.feed(sample(0.0, 9.0), sample(0.0, 9.0, source=RADIO), sample(1.0, 9.0, source=RADIO))
    assert len(changes(run)) == 1
    run.feed(sample(1.000002, 9.0, 2000, source=RADIO))
    assert changes(run) == [("optical", 0.0), ("radio", 1.000002)]


def test_current_stays_when_none_is_better_and_is_judged_at_once() -> None:
    """With no better source it stays in use however old, and its next sample is judged."""
    run = Run(limits_file(limit()))
    run.feed(*closing(0, 2, 15.0))
    run.wait(60.0)
    found = run.feed(sample(60.0, 9.0, 999, range_rate_mps=-0.5))
    assert changes(run) == [("optical", 0.0)]
    raised = [e for e in found if isinstance(e, ExceedanceRaised) and e.source is None]
    assert [e.onset for e in raised] == [T0 + 60.0]


def test_other_stale_source_is_no_better() -> None:
    """Of two stale ones neither is chosen; the one heard again first is, at once."""
    run = Run(limits_file(limit()))
    run.feed(*both(0, 2, 15.0))
    run.wait(20.0)
    assert len(changes(run)) == 1
    run.feed(sample(20.0, 13.0, 500, source=RADIO, range_rate_mps=-0.5))
    assert changes(run)[-1] == ("radio", 20.0)
    assert [e.onset for e in run.of(ExceedanceRaised) if e.source is None] == [T0 + 20.0]


def test_no_way_back_for_ten_seconds() -> None:
    """After a change the choice rests ten seconds, though the new one carries a warning."""
    run = Run()
    run.feed(*both(0, 3, 30.0))
    run.feed(*only("radio", both(3, 5, 29.73)))  # optical silent: radio from 4.0 on
    assert changes(run)[-1] == ("radio", 4.0)
    frozen = {"range_m": 29.5, "y_m": 0.5, "range_rate_mps": -0.05}
    for past_s in range(50, 200):
        run.feed(closing(past_s / 10, past_s / 10 + 0.1, 29.55 - 0.009 * (past_s - 50))[0])
        if past_s % 5 == 0:
            run.feed(sample(past_s / 10, seq=900 + past_s, source=RADIO, **frozen))
    assert "data:frozen" in {e.id for e in run.of(ExceedanceRaised)}
    raised = min(e.t for e in run.of(ExceedanceRaised) if e.id == "data:frozen")
    assert raised < T0 + 12.0
    assert changes(run)[-1] == ("optical", 14.0)


def test_new_source_that_goes_stale_gives_way_within_the_rest() -> None:
    """The rest ends early where the new source goes stale itself."""
    run = Run()
    run.feed(*both(0, 3, 30.0))
    run.feed(*only("radio", both(3, 5, 29.73)))
    run.feed(*closing(5, 8, 29.55))  # radio's last was 4.5: stale from 5.6 on
    assert changes(run) == [("optical", 0.0), ("radio", 4.0), ("optical", 5.6)]


def test_warning_moves_the_choice_and_a_caution_does_not() -> None:
    """A source that carries a data warning gives way to one that carries none."""
    run = Run()
    run.feed(*both(0, 10, 30.0))
    for past_s in range(100, 130):
        run.feed(sample(past_s / 10, 29.1, source=OPTICAL))  # frozen: all values alike
        if past_s % 5 == 0:
            run.feed(*closing(past_s / 10, past_s / 10 + 0.1, 29.1, source=RADIO))
    assert changes(run)[-1][0] == "radio"
    assert "data:frozen" in run.of(SourceChanged)[-1].reason


def test_change_restarts_timers_and_leaves_what_stands() -> None:
    """A pending raise begins afresh with the new source; an exceedance goes on standing."""
    slow = limit("slow", on_delay_s=2.0)
    run = Run(limits_file(limit("at-once"), slow))
    fast = {"range_rate_mps": -0.5}
    for n in range(15):
        run.feed(sample(n / 10, 20 - n / 20, n, **fast))
        run.feed(sample(n / 10, 20 - n / 20 + 0.001 * n, n, source=RADIO, **fast))
    run.intake.action(T0 + 1.4, ChooseSource(source="radio"))
    for n in range(15, 40):
        run.feed(sample(n / 10, 20 - n / 20 + 0.001 * n, n, source=RADIO, **fast))
    raised = {e.id: e for e in run.of(ExceedanceRaised) if e.source is None}
    assert raised["slow"].onset == T0 + 1.5
    assert raised["at-once"].onset == T0
    assert sum(e.id == "at-once" for e in run.of(ExceedanceRaised)) == 1
    assert not any(e.source is None for e in run.of(ExceedanceCleared))


def test_operators_choice_overrides_and_is_given_back() -> None:
    """A chosen source is used whatever its state; back to automatic the rule decides again."""
    run = Run()
    run.feed(*both(0, 2, 15.0))
    run.intake.action(T0 + 2.0, ChooseSource(source="radio"))
    assert run.state.board.in_use == RADIO
    run.feed(*closing(2, 6, 14.8))
    assert run.state.board.in_use == RADIO
    assert run.state.snapshot().source_is_forced
    run.intake.action(T0 + 5.9, ChooseSource(source=None))
    assert run.state.board.in_use == OPTICAL
    run.intake.action(T0 + 5.9, ChooseSource(source="never-heard"))
    assert run.state.board.in_use == OPTICAL


def test_forced_source_is_judged_alone() -> None:
    """Asked for one source, nothing of another is judged, even before the one is heard."""
    run = Run(limits_file(limit()), source=RADIO)
    run.feed(*(sample(n / 10, 9.0, n, range_rate_mps=-1.0) for n in range(10)))
    assert run.state.judged == 0
    assert run.state.snapshot().source is None
    run.feed(sample(2.0, 9.0, 1, source=RADIO))
    assert (run.state.judged, run.state.board.in_use) == (1, RADIO)


# ---------------------------------------------------------------------- silence


def test_stale_and_lost_stand_from_their_ticks_on_and_clear_by_themselves() -> None:
    """Stale is a caution at its age, a silent link a warning at its; the next sample ends both."""
    run = Run()
    run.feed(*closing(0, 3, 15.0))
    run.wait(20.0)
    raised = [(e.id, e.level, round(e.t - T0, 6)) for e in run.of(ExceedanceRaised)]
    assert raised == [("data:stale", "caution", 4.0), ("data:link", "warning", 8.0)]
    assert all(e.source == "optical" for e in run.of(ExceedanceRaised))
    assert run.of(ExceedanceRaised)[0].onset == T0 + 2.9
    assert Phase.DATA_LOST is run.state.phases.phase
    snapshot = run.state.snapshot()
    assert snapshot.coasted
    assert pytest.approx(snapshot.age_s) == 17.1
    found = run.feed(sample(20.0, 13.2))
    cleared = {(e.id, round(e.t - T0, 6)) for e in found if isinstance(e, ExceedanceCleared)}
    assert {("data:stale", 20.0), ("data:link", 20.0)} == cleared
    run.feed(*closing(20.1, 25, 13.2))
    assert Phase.APPROACH is run.state.phases.phase


def test_invalid_samples_do_not_keep_a_source_fresh() -> None:
    """A source that sends only invalid samples grows stale."""
    run = Run()
    run.feed(sample(0.0, 9.0), *(sample(n / 10, 9.0, n, valid=False) for n in range(1, 30)))
    assert [e.id for e in run.of(ExceedanceRaised)] == ["data:stale"]
    assert run.state.invalid[OPTICAL] == 29


def test_relative_navigation_may_end_after_soft_capture() -> None:
    """From soft capture on silent sensors are no fault, silent capture statuses are."""
    run = Run()
    run.feed(*closing(0, 2, 0.3))
    run.wait(4.0)
    assert [e.id for e in run.of(ExceedanceRaised)] == ["data:stale"]
    run.feed(status(4.0, contact=True, soft_capture=True))
    assert [e.id for e in run.of(ExceedanceCleared)] == ["data:stale"]
    run.wait(8.9)
    assert len(run.of(ExceedanceRaised)) == 1
    run.wait(12.0)
    last = run.of(ExceedanceRaised)[-1]
    assert (last.id, last.source, last.level) == ("data:link", "mechanism", "caution")
    run.feed(status(13.0, soft_capture=True))
    assert run.of(ExceedanceCleared)[-1].id == "data:link"


def test_each_silent_capture_source_clears_by_itself() -> None:
    """Two mechanisms report; the one that falls silent is named, and cleared when it is back."""
    run = Run()
    run.feed(status(0, contact=True, soft_capture=True), status(0.1, 1, source="port-side"))
    for n in range(1, 9):
        run.feed(status(float(n), contact=True))
    assert [e.source for e in run.of(ExceedanceRaised)] == ["port-side"]
    run.feed(status(9.0, 2, source="port-side"))
    assert [e.source for e in run.of(ExceedanceCleared)] == ["port-side"]


# ---------------------------------------------------------------------- counters and clocks


def test_duplicates_are_dropped_and_counted() -> None:
    """A second sample of one number in one run changes nothing."""
    run, single = Run(limits_file(limit())), Run(limits_file(limit()))
    samples = closing(0, 4, 15.0)
    single.feed(*samples)
    for one in samples:
        run.feed(one, one)
    assert lines(single.events) == lines(run.events)
    assert len(samples) == run.state.snapshot().sources[0].duplicates
    assert single.state.judged == run.state.judged


def test_loss_and_restart_are_events() -> None:
    """A gap in the counter is loss; a lower number at a later time a new run."""
    run = Run()
    run.feed(sample(0, 9.0, 10), sample(1, 9.0, 14), sample(2, 9.0, 3), sample(3, 9.0, 4))
    (lost,), (restart,) = run.of(SamplesLost), run.of(SourceRestarted)
    assert (lost.first_seq, lost.count) == (11, 3)
    assert restart.seq == 3
    assert run.state.judged == 4


def test_heartbeat_shows_loss_at_the_tail() -> None:
    """A heartbeat that names a number that never came is loss, and no sample."""
    run = Run(mode=EngineTime.RECEIVE)
    run.receive(0.0, sample(0, 9.0, 10))
    run.receive(1.0, Heartbeat(OPTICAL, T0 + 1.0, 15))
    (lost,) = run.of(SamplesLost)
    assert (lost.first_seq, lost.count) == (11, 5)
    assert run.state.judged == 1


def test_late_sample_is_counted_and_not_judged() -> None:
    """On a live link a sample older than the newest judged is counted as late, not judged."""
    run = Run(limits_file(limit()), mode=EngineTime.RECEIVE)
    run.receive(0.1, sample(0.0, 9.0, 1))
    run.receive(0.3, sample(0.2, 9.0, 3))
    run.receive(0.35, sample(0.1, 9.0, 2, range_rate_mps=-9.0))
    assert run.of(ExceedanceRaised) == []
    assert (run.state.judged, run.state.late[OPTICAL]) == (2, 1)
    assert run.state.snapshot().sources[0].late == 1
    assert run.state.snapshot().sources[0].lost == 0


def test_sample_not_older_than_the_newest_judged_is_judged() -> None:
    """What came behind a sample that was not judged is not late by that."""
    run = Run(limits_file(limit()), mode=EngineTime.RECEIVE)
    run.receive(0.1, sample(0.0, 9.0, 1))
    run.receive(0.3, sample(0.2, -4.0, 3))  # a glitch below zero: never judged
    run.receive(0.35, sample(0.1, 9.0, 2, range_rate_mps=-9.0))
    assert [e.onset for e in run.of(ExceedanceRaised)] == [T0 + 0.1]


def test_sample_of_the_same_time_is_judged() -> None:
    """Equal times are not older."""
    run = Run(limits_file(limit()), mode=EngineTime.RECEIVE)
    run.receive(0.1, sample(0.0, 9.0, 1))
    run.receive(0.2, sample(0.0, 9.0, 2, range_rate_mps=-9.0))
    assert len(run.of(ExceedanceRaised)) == 1


@pytest.mark.parametrize("hours", [-5.0, 5.0, 24.0 * 365.0])
def test_skewed_clock_is_told_and_the_age_counts_from_receipt(hours: float) -> None:
    """A source whose clock is hours off is as fresh as it is received; the offset is told."""
    run = Run(mode=EngineTime.RECEIVE)
    off_s = hours * 3600.0
    for n in range(50):
        run.receive(n / 10 + 0.05, sample(n / 10 + off_s, 15.0 - n / 100, n, y_m=0.001 * n))
    now = run.state.snapshot().sources[0]
    assert now.age_s == pytest.approx(0.0, abs=0.01)
    assert now.clock_offset_s == pytest.approx(0.05 - off_s, abs=0.01)
    run.wait(7.0)
    assert pytest.approx(run.state.snapshot().age_s, abs=0.06) == 2.1
    assert "data:stale" in {e.id for e in run.of(ExceedanceRaised)}


def test_steady_delay_is_age() -> None:
    """Data that always comes half a second late is half a second old, not freshly stamped."""
    run = Run(mode=EngineTime.RECEIVE)
    for n in range(50):
        run.receive(n / 10 + 0.5, sample(n / 10, 15.0 - n / 100, n))
    now = run.state.snapshot().sources[0]
    assert pytest.approx(now.age_s) == 0.5
    assert now.clock_offset_s is None


def test_change_to_a_source_with_another_clock_is_judged() -> None:
    """Times of two clocks are not compared: an hour's difference keeps nothing from judging."""
    run = Run(limits_file(limit()), mode=EngineTime.RECEIVE)
    for n in range(30):
        run.receive(n / 10, sample(n / 10 + 3600.0, 15.0, n, y_m=0.001 * n))
        run.receive(n / 10, sample(n / 10, 15.0, n, source=RADIO, y_m=0.001 * n))
    before = run.state.judged
    for n in range(30, 60):  # optical falls silent
        run.receive(n / 10, sample(n / 10, 15.0, n, source=RADIO, range_rate_mps=-0.5))
    assert run.state.board.in_use == RADIO
    assert run.state.judged > before + 10
    assert sum(e.source is None for e in run.of(ExceedanceRaised)) == 1


def test_delayed_second_source_is_late_until_it_catches_up() -> None:
    """With one clock, what is older than the newest judged stays late after a change too."""
    run = Run(limits_file(limit()), mode=EngineTime.RECEIVE)
    for n in range(30):
        run.receive(n / 10, sample(n / 10, 15.0 - n / 100, n))
        run.receive(n / 10 + 0.001, sample(n / 10 - 0.5, 15.05 - n / 100, n, source=RADIO))
    run.intake.action(T0 + 2.95, ChooseSource(source="radio"))
    before = run.state.judged
    for n in range(30, 40):
        run.receive(n / 10, sample(n / 10 - 0.5, 15.05 - n / 100, n, source=RADIO))
    assert run.state.judged - before == 6  # 2.9 to 3.4 s
    assert run.state.late[RADIO] == 4


def test_a_third_source_is_taken_when_it_alone_is_fresh() -> None:
    """The rule looks at every source, not at two."""
    run = Run()
    third = SourceId("third")
    run.feed(*both(0, 2, 15.0), sample(2.0, 14.8, source=third))
    for n in range(21, 60):
        run.feed(sample(n / 10, 14.8 - n / 1000, n, source=third, y_m=0.001 * n))
    assert third == run.state.board.in_use


def test_lost_at_the_age_of_stale_is_both_at_once() -> None:
    """Where both ages are one, the caution and the warning come with one tick."""
    run = Run(limits_file(data=DataRules(1.0, 1.0)))
    run.feed(*closing(0, 2, 15.0))
    run.wait(4.0)
    assert len({(e.id, e.t) for e in run.of(ExceedanceRaised)}) == 2
    assert len({e.t for e in run.of(ExceedanceRaised)}) == 1
