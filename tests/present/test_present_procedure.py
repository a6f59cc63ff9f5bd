"""View models of steps, polls, shelving, and what the entry line tells."""

from __future__ import annotations

import pytest
from fakes.procedures import T, poll_of, shelved, step_line
from fakes.snapshots import exceedance, hold_20m, nominal, warning_and_cautions
from hypothesis import given
from hypothesis import strategies as st

from console.approach.event import HoldReleased, NoteMade, Refused, Unshelved
from console.approach.procedure import Answer
from console.approach.snapshot import CallLine, PollNow, Snapshot
from console.envelope.limits import Level
from console.present.call_lines import CallsView, Turn, call_lines, cut
from console.present.exceedance_lines import exceedances, fit
from console.present.told import message_of
from console.present.tone import Tone
from tests.fakes.changed import replace


def with_poll(poll: PollNow) -> Snapshot:
    """Give the hold with a poll open."""
    return replace(hold_20m(), polls=(poll,))


GO, NO_GO, NOT_YET = Answer.GO, Answer.NO_GO, Answer.NOT_YET


@pytest.mark.parametrize(
    ("answers", "summary", "tone"),
    [
        ((NOT_YET, NOT_YET), "0 of 2 go", Tone.STRONG),
        ((GO, NOT_YET, GO), "2 of 3 go", Tone.STRONG),
        ((GO, GO), "2 of 2 go", Tone.STRONG),
        ((GO, NO_GO), "◧ no-go", Tone.CAUTION),
    ],
)
def test_a_poll_counts_who_is_go_and_only_a_no_go_takes_colour(
    answers: tuple[Answer, ...], summary: str, tone: Tone
) -> None:
    """Doubled by its mark, as everything abnormal."""
    (block,) = call_lines(with_poll(poll_of(*answers))).polls
    assert (block.summary, block.tone) == (summary, tone)
    assert block.is_complete == (set(answers) == {GO})
    coloured = [p.shape for p in block.positions if p.tone is Tone.CAUTION]
    assert coloured == ["◧"] * answers.count(NO_GO)


def test_a_position_shows_answer_initials_and_time() -> None:
    """Nothing but "not yet" before it has answered."""
    (block,) = call_lines(with_poll(poll_of(GO, NOT_YET))).polls
    first, second = block.positions
    assert (first.shape, first.answer, first.initials) == ("✓", "go", "LT")
    assert first.when
    assert (second.answer, second.initials, second.when) == ("not yet", "", "")
    assert "yours" in second.spoken
    assert "2" not in first.spoken.split(",")[1]


def test_a_late_poll_says_so_and_one_that_was_left_keeps_its_head_alone() -> None:
    """Overdue by half a minute; left without the release."""
    late = poll_of(GO, NOT_YET, overdue_s=30.0)
    assert call_lines(with_poll(late)).polls[0].summary == "1 of 2 go, 0:30 late"
    left = call_lines(with_poll(poll_of(GO, NOT_YET, is_left=True))).polls[0]
    assert left.positions == ()
    assert left.title.endswith("hold left unreleased")


def test_a_released_poll_is_no_longer_shown() -> None:
    """The line of the release tells the rest."""
    done = poll_of(GO, GO, t_released=T + 9.0, released_by="MK")
    assert call_lines(with_poll(done)).polls == ()


def test_ones_own_position_is_the_one_that_waits() -> None:
    """Of several polls the first of mine that is not go."""
    other = replace(poll_of(GO, GO), id="go-200")
    view = call_lines(replace(hold_20m(), polls=(other, poll_of(GO, NOT_YET))))
    own = view.own_position
    assert own is not None
    assert own.poll == "go-20"


def test_steps_have_a_box_and_name_who_does_them() -> None:
    """Due, late, to come, done; calls keep their circle."""
    lines = (
        step_line("a", "done", t=T),
        step_line("b", "now"),
        step_line("c", "now", overdue_s=75.0),
        step_line("d", "next", in_s=20.0),
        step_line("e", "later"),
        CallLine("mark:10", "10 metres", "next", None, 30.0),
    )
    view = call_lines(replace(nominal(), calls=lines))
    assert [row.shape for row in view.rows] == ["✓", "☐", "☐", "☐", "☐", "○"]
    assert [row.when for row in view.rows][1:4] == ["now", "1:15 late", "in 0:20"]
    assert view.rows[1].words == "crew: do b"
    assert view.due_step is not None
    assert view.due_step.key == "step:b"
    assert view.due is None
    assert view.choosable == ("step:b", "step:c", "step:d", "step:e")


def test_the_call_to_make_is_never_a_step() -> None:
    """Logging a call and ticking a step are two things."""
    lines = (step_line("a", "now"), CallLine("mark:10", "10 metres", "now", T, None))
    view = call_lines(replace(nominal(), calls=lines))
    assert view.due is not None
    assert view.due.key == "mark:10"


@given(
    st.lists(st.sampled_from(["done", "now", "next", "later"]), max_size=20),
    st.integers(0, 12),
    st.integers(0, 19),
)
def test_cutting_keeps_the_chosen_row_and_what_is_due(
    states: list[str], rows: int, at: int
) -> None:
    """At most so many rows, in their order; a row that is due goes last of all."""
    lines = tuple(step_line(str(n), state) for n, state in enumerate(states))
    view = CallsView(call_lines(replace(nominal(), calls=lines)).rows)
    chosen = view.rows[at % len(view.rows)].key if view.rows else None
    kept = cut(view, rows, chosen)
    assert len(kept) <= rows
    order = [row.key for row in view.rows]
    assert [row.key for row in kept] == sorted((r.key for r in kept), key=order.index)
    due = [row.key for row in view.rows if row.turn is Turn.NOW]
    if rows > len(due):
        assert set(due) <= {row.key for row in kept}
        assert chosen is None or chosen in {row.key for row in kept}


def test_a_shelving_is_a_line_with_reason_who_and_the_time_left() -> None:
    """The time is cut to whole seconds, so that it never promises more."""
    view = exceedances(replace(nominal(), shelved=(shelved(1),)))
    line = next(x for x in view.lines if x.is_shelved)
    assert line.words == "caution limit-1: known (MK)"
    assert line.state == "4:10 left"
    assert view.summary.endswith("1 shelved")
    standing = exceedances(replace(nominal(), shelved=(shelved(1, standing=True),)))
    assert next(x for x in standing.lines if x.is_shelved).state == "would stand, 4:10 left"


def test_a_shelved_exceedance_neither_blinks_nor_waits_nor_counts_as_standing() -> None:
    """Its line is the shelving's."""
    now = 1000.0
    made = exceedance("limit-1#1", Level.WARNING, now - 5, "x")
    made = replace(made, waits=False, shelved=True)
    view = exceedances(replace(nominal(), t=now, exceedances=(made,), shelved=(shelved(1),)))
    assert view.summary.startswith("0 standing · 0 unacknowledged · 0 cleared")
    assert view.waiting == ()
    assert not any(line.blinks for line in view.lines)
    assert [line.is_shelved for line in view.lines] == [True]


def test_what_cleared_while_shelved_does_not_wait() -> None:
    """Nobody confirmed it, and nobody is asked to."""
    now = 1000.0
    made = replace(exceedance("a#1", Level.WARNING, now - 9, "x", cleared=now - 1), waits=False)
    (line,) = exceedances(replace(nominal(), t=now, exceedances=(made,))).lines
    assert not line.is_unacknowledged
    assert line.state == "cleared"


@given(st.integers(1, 10), st.integers(1, 6))
def test_however_short_the_list_every_shelving_is_named(full: int, count: int) -> None:
    """In a line of its own or by its name with the time left."""
    snapshot = replace(warning_and_cautions(), shelved=tuple(shelved(n) for n in range(count)))
    fitted = fit(exceedances(snapshot), full)
    named = [x for x in (*fitted.lines, *fitted.packed) if x.is_shelved]
    assert {line.id for line in named} == {f"limit-{n}" for n in range(count)}
    assert all("left" in line.name for line in named)


def test_the_entry_line_tells_refusals_releases_and_what_came_back() -> None:
    """A refusal begins with a mark; the release says that it commanded nothing."""
    refused = Refused(t=T, deed="release", initials="MK", words="the 20 m hold is not released")
    assert message_of(refused) == "! the 20 m hold is not released"
    said = message_of(HoldReleased(t=T, initials="MK", range_m=20.0))
    assert said is not None
    assert said.startswith("the 20 m hold is released")
    assert "nothing was commanded" in said
    back = Unshelved(t=T, id="roll", source=None, level="caution", initials="", standing=True)
    assert message_of(back) == "caution roll is back from the shelf: time is up, and stands"
    by_hand = Unshelved(t=T, id="roll", source=None, level="caution", initials="MK", standing=True)
    assert message_of(by_hand) is None
    assert message_of(NoteMade(t=T, initials="MK", text="x")) is None
