"""Steps: due, done and overdue by range, phase, time and data."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from procedure_tools import T0, Watch, procedure_of, shipped_procedure, step

from console.approach.action import StepDone
from console.approach.condition import Situation
from console.approach.event import (
    AnyEvent,
    ExceedanceCleared,
    ExceedanceRaised,
    Phase,
    Refused,
    StepFellDue,
    StepWasDone,
)
from console.approach.procedure_book import ProcedureBook
from console.core.ids import SourceId
from console.core.records import CaptureStatus
from console.judging.register import Register


def due_steps(watch: Watch) -> dict[str, float]:
    """Give when each step fell due."""
    return {event.step: event.t for event in watch.of(StepFellDue)}


def approached(watch: Watch) -> Watch:
    """Come from 20 m to 5 m at 0.1 m/s."""
    watch.stand(20.0, 10.0)
    watch.move(20.0, 5.0, 150.0)
    return watch


def test_a_step_by_range_falls_due_once_when_its_range_is_reached() -> None:
    """At 10 m on a track of 0.1 m/s from 20 m: 100 s after the start, and never again."""
    watch = approached(Watch(procedure_of(step("a", "{ range_below_m = 10 }"))))
    assert len(watch.of(StepFellDue)) == 1
    assert due_steps(watch)["a"] == pytest.approx(T0 + 110.0, abs=1.0)
    watch.move(5.0, 15.0, 50.0)
    watch.move(15.0, 5.0, 100.0)
    assert len(watch.of(StepFellDue)) == 1


def test_a_step_whose_range_lay_behind_at_the_start_is_left_out() -> None:
    """A console switched on at 20 m does not ask for what belongs to 100 m; it is not listed."""
    watch = Watch(procedure_of(step("far", "{ range_below_m = 100 }")))
    watch.stand(20.0, 30.0)
    assert due_steps(watch) == {}
    assert watch.line("step:far") is None


def test_a_step_by_range_and_phase_needs_both() -> None:
    """In the right place but moving is not holding there."""
    watch = Watch(procedure_of(step("a", '{ phase = "hold", range_below_m = 12 }')))
    watch.stand(20.0, 10.0)
    watch.move(20.0, 10.0, 100.0)
    assert due_steps(watch) == {}
    watch.stand(10.0, 20.0)
    assert "a" in due_steps(watch)


def test_time_after_a_phase_is_counted_from_its_entry() -> None:
    """Ten seconds after the hold began, whatever the phase is then."""
    watch = Watch(procedure_of(step("a", '{ after = "hold", after_s = 10 }')))
    watch.stand(20.0, 30.0)
    began = watch.state.phases.since
    assert due_steps(watch)["a"] == pytest.approx(began + 10.0, abs=0.11)


def test_a_time_of_day_makes_a_step_due() -> None:
    """At 09:35:15 UTC on the samples' clock, a quarter of a minute after the start."""
    watch = Watch(procedure_of(step("a", '{ at = "2031-04-10T09:35:15Z" }')))
    watch.stand(20.0, 30.0)
    assert due_steps(watch)["a"] == pytest.approx(T0 + 15.0, abs=0.11)


def test_a_step_waits_for_an_earlier_one_to_be_done() -> None:
    """Five seconds after somebody said the first is done, not after it fell due."""
    watch = Watch(
        procedure_of(
            step("a", "{ range_below_m = 15 }"), step("b", '{ after_step = "a", after_s = 5 }')
        )
    )
    approached(watch)
    assert set(due_steps(watch)) == {"a"}
    watch.act(StepDone("MK", "step:a"))
    said = watch.t
    watch.stand(5.0, 10.0)
    assert due_steps(watch)["b"] == pytest.approx(said + 5.0, abs=0.11)


def test_capture_data_make_a_step_due_and_show_another_done() -> None:
    """Soft capture makes it due, the moved ring shows it done, without initials."""
    watch = Watch(
        procedure_of(
            step(
                "ring",
                "{ data = { soft_capture = true } }",
                "done = { data = { ring_extension = { below = 0.98 } } }",
            )
        )
    )
    watch.move(1.0, 0.05, 10.0)
    watch.capture(contact=True)
    assert due_steps(watch) == {}
    watch.capture(soft_capture=True, ring_extension=1.0)
    assert "ring" in due_steps(watch)
    watch.capture(ring_extension=0.5)
    (done,) = watch.of(StepWasDone)
    assert (done.step, done.initials) == ("ring", "")
    assert watch.line("step:ring").state == "done"


def test_data_may_show_a_step_done_before_it_falls_due() -> None:
    """Then it is done, and is never asked for."""
    watch = Watch(
        procedure_of(
            step(
                "late",
                '{ after = "contact", after_s = 60 }',
                "done = { data = { hard_capture = true } }",
            )
        )
    )
    watch.capture(contact=True)
    watch.capture(hard_capture=True)
    watch.capture(vestibule_kpa=1.0)
    for _ in range(70):
        watch.wait(1.0)
    assert watch.of(StepFellDue) == []
    assert len(watch.of(StepWasDone)) == 1


def test_somebody_says_a_step_is_done_with_initials_and_time() -> None:
    """The line turns from now to done; the event names who and when."""
    watch = approached(Watch(procedure_of(step("a", "{ range_below_m = 10 }"))))
    line = watch.line("step:a")
    assert (line.state, line.who, line.words) == ("now", "crew", "do a")
    (event,) = watch.act(StepDone("MK", "step:a"))
    assert (event.step, event.initials, event.t) == ("a", "MK", pytest.approx(watch.t))
    assert watch.line("step:a").state == "done"
    assert watch.line("step:a").t == pytest.approx(watch.t)


def test_a_step_may_be_done_early() -> None:
    """It is then never due."""
    watch = Watch(procedure_of(step("a", "{ range_below_m = 10 }")))
    watch.stand(20.0, 5.0)
    watch.act(StepDone("MK", "step:a"))
    watch.move(20.0, 5.0, 150.0)
    assert watch.of(StepFellDue) == []


@pytest.mark.parametrize("key", ["step:none", "none", ""])
def test_a_step_that_is_not_there_is_refused_with_words(key: str) -> None:
    """So is one that is done already."""
    watch = approached(Watch(procedure_of(step("a", "{ range_below_m = 10 }"))))
    (event,) = watch.act(StepDone("MK", key))
    assert isinstance(event, Refused)
    assert key in event.words
    watch.act(StepDone("MK", "step:a"))
    (again,) = watch.act(StepDone("MK", "step:a"))
    assert isinstance(again, Refused)
    assert "already" in again.words


def test_without_a_procedure_a_step_is_refused_and_the_mend_is_told() -> None:
    """The option is named."""
    watch = Watch()
    watch.stand(20.0, 2.0)
    (event,) = watch.act(StepDone("MK", "step:a"))
    assert isinstance(event, Refused)
    assert "--procedure" in event.words


def test_an_overdue_step_stands_as_an_advisory_until_it_is_done() -> None:
    """Raised ``overdue_s`` after it fell due, with the due time as onset; cleared when done."""
    watch = Watch(procedure_of(step("a", "{ range_below_m = 15 }", "overdue_s = 12")))
    approached(watch)
    due = due_steps(watch)["a"]
    (raised,) = [event for event in watch.of(ExceedanceRaised) if event.id == "step:a"]
    assert (raised.level, raised.onset, raised.source) == ("advisory", due, None)
    assert raised.t == pytest.approx(due + 12.0, abs=0.11)
    assert "do a" in raised.words
    assert watch.line("step:a").overdue_s == pytest.approx(watch.t - due - 12.0, abs=0.2)
    watch.act(StepDone("MK", "step:a"))
    (cleared,) = [event for event in watch.of(ExceedanceCleared) if event.id == "step:a"]
    assert cleared.t == pytest.approx(watch.t)


def test_a_step_of_the_way_in_is_missed_once_contact_is_made() -> None:
    """Its advisory ends there; the line is plain and last of what is past; it may be ticked."""
    parts = (
        step("a", "{ range_below_m = 15 }", "overdue_s = 5"),
        step("b", "{ range_below_m = 4 }", "overdue_s = 600"),
        step("c", "{ data = { soft_capture = true } }", "overdue_s = 5"),
    )
    watch = Watch(procedure_of(*parts))
    watch.move(16.0, 1.0, 15.0)
    assert watch.line("step:a").overdue_s > 0.0
    watch.capture(contact=True)
    watch.capture(contact=True, soft_capture=True)
    watch.wait(20.0)
    for key in ("step:a", "step:b"):
        line = watch.line(key)
        assert (line.state, line.overdue_s, line.t) == ("missed", None, None)
    assert watch.line("step:c").state == "now"
    assert watch.line("step:c").overdue_s == pytest.approx(15.0, abs=0.5)
    assert [e.id for e in watch.of(ExceedanceCleared) if ":" in e.id] == ["step:a"]
    standing = [one.id for one in watch.state.snapshot().exceedances if one.cleared is None]
    assert [id_ for id_ in standing if id_.startswith("step:")] == ["step:c"]
    states = [line.state for line in watch.state.snapshot().calls]
    assert states.index("now") > states.index("missed")
    watch.act(StepDone("AB", "step:a"))
    assert watch.line("step:a").state == "done"


def test_a_step_without_overdue_time_is_never_overdue() -> None:
    """It may wait for ever."""
    watch = approached(Watch(procedure_of(step("a", "{ range_below_m = 15 }"))))
    watch.stand(5.0, 100.0)
    assert [event for event in watch.of(ExceedanceRaised) if event.id.startswith("step")] == []


def test_without_data_no_range_is_known_and_nothing_falls_due() -> None:
    """The coasted range passes 8 m while the data is lost; the step waits for data."""
    watch = Watch(procedure_of(step("a", "{ range_below_m = 8 }")))
    watch.stand(20.0, 10.0)
    watch.move(20.0, 10.0, 100.0)
    for _ in range(60):
        watch.wait(1.0)
    assert due_steps(watch) == {}


def test_lines_come_in_the_order_of_expectation() -> None:
    """Due steps, then what has a time soonest first, then the rest along the capture chain."""
    watch = Watch(
        procedure_of(
            step("hook", "{ data = { ready_to_hook = true } }"),
            step("soft", "{ data = { soft_capture = true } }"),
            step("after", '{ after_step = "hook" }'),
            step("close", "{ range_below_m = 4.5 }"),
            step("now", "{ range_below_m = 15 }"),
        )
    )
    approached(watch)
    keys = [line.key for line in watch.state.snapshot().calls if line.state != "done"]
    steps = [key.removeprefix("step:") for key in keys if key.startswith("step:")]
    assert steps == ["now", "close", "soft", "hook", "after"]
    assert keys.index("step:close") < keys.index("mark:4") < keys.index("contact")
    assert keys.index("contact") < keys.index("step:soft")
    ahead = watch.line("step:close").in_s
    assert ahead == pytest.approx((5.0 - 4.5) / 0.1, abs=1.5)


class Wakeful(ProcedureBook):
    """A book that asks every step at every look."""

    def look(self, now: Situation) -> list[AnyEvent]:
        """Wake all, then look."""
        self._wake()
        return super().look(now)


@pytest.mark.parametrize("seed", range(4))
def test_steps_that_sleep_miss_nothing(seed: int) -> None:
    """Random phases, ranges, statuses and words by hand: as if every step were always asked."""
    rng = random.Random(seed)
    chained = step("b", '{ after_step = "a" }') + step("c", '{ after_step = "b" }')
    whole = shipped_procedure()
    extra = procedure_of(
        step("a", "{ range_below_m = 60 }", "done = { range_below_m = 30 }"), chained
    )
    procedure = replace(whole, steps=(*whole.steps, *extra.steps))
    books = [book(procedure, Register()) for book in (ProcedureBook, Wakeful)]
    logs: list[list[AnyEvent]] = [[], []]
    phase, range_m, capture = Phase.APPROACH, 220.0, None
    for n in range(1500):
        if rng.random() < 0.02:
            phase = rng.choice(list(Phase))
        if rng.random() < 0.03:
            capture = CaptureStatus(
                SourceId("vehicle"), n, n / 10.0, soft_capture=rng.choice([None, True]),
                ring_extension=rng.choice([None, 0.0, 0.5]), hooks=rng.choice([None, (0.5, 0.5)]),
                ready_to_hook=rng.choice([None, (True,)]), vestibule_kpa=rng.choice([None, 100.0]),
                hard_capture=rng.choice([None, True]),
            )  # fmt: skip
        range_m += rng.uniform(-1.0, 0.7)
        seen_m = None if rng.random() < 0.1 else range_m
        key = rng.choice(list(books[0]._steps)) if rng.random() < 0.003 else ""
        for book, log in zip(books, logs, strict=True):
            log.extend(book.look(Situation(n / 10.0, T0 + n / 10.0, phase, seen_m, capture)))
            said = book.step(key)
            if said is not None and not said.is_done:
                log.extend(book.finish(said, "AB", n / 10.0, T0 + n / 10.0))
    assert logs[0] == logs[1]
    assert len(logs[0]) > 10
