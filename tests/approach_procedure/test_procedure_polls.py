"""Polls at hold points: answers by position, release by word, refused while one is missing."""

from __future__ import annotations

import pytest
from procedure_tools import Watch, procedure_of, shipped_procedure

from console.approach.action import PollAnswer, ReleaseHold
from console.approach.event import (
    ExceedanceCleared,
    ExceedanceRaised,
    HoldReleased,
    PollAnswered,
    PollOpened,
    Refused,
)
from console.approach.procedure import Answer

GO, NO_GO, NOT_YET = (answer.value for answer in Answer)


def at_hold() -> Watch:
    """Give a watch whose vehicle stands at the 20 m hold, the poll open."""
    watch = Watch(procedure_of())
    watch.stand(20.0, 10.0)
    return watch


def answer(watch: Watch, position: str, word: str, by: str = "") -> None:
    """Answer the poll."""
    watch.act(PollAnswer("MK", "go-20", position, word, by))


def released(watch: Watch) -> bool:
    """Ask for the release; tell whether it was given."""
    found = watch.act(ReleaseHold("MK"))
    return any(isinstance(event, HoldReleased) for event in found)


def test_the_poll_opens_when_the_vehicle_stands_at_its_hold() -> None:
    """Not before it holds, and not while it holds elsewhere."""
    watch = Watch(procedure_of())
    watch.stand(40.0, 20.0)
    assert watch.of(PollOpened) == []
    assert watch.state.snapshot().polls == ()
    watch.move(40.0, 20.0, 100.0)
    watch.stand(20.0, 10.0)
    (opened,) = watch.of(PollOpened)
    assert (opened.poll, opened.hold_m) == ("go-20", 20.0)


def test_every_position_begins_with_not_yet() -> None:
    """And the one that answers from this console is marked."""
    (poll,) = at_hold().state.snapshot().polls
    assert [p.answer for p in poll.positions] == [Answer.NOT_YET, Answer.NOT_YET]
    assert [p.is_mine for p in poll.positions] == [False, True]
    assert poll.refusal == "not yet: navigation, console"


def test_an_answer_carries_initials_and_time() -> None:
    """Another position's own initials, or those of who pressed the key."""
    watch = at_hold()
    answer(watch, "navigation", GO, "LT")
    answer(watch, "console", NOT_YET)
    (poll,) = watch.state.snapshot().polls
    given = [(p.answer.value, p.initials, p.t) for p in poll.positions]
    assert given == [(GO, "LT", pytest.approx(watch.t)), (NOT_YET, "MK", pytest.approx(watch.t))]
    assert [event.missing for event in watch.of(PollAnswered)] == [1, 1]


@pytest.mark.parametrize("word", [NO_GO, NOT_YET, None])
def test_a_release_is_refused_while_one_position_is_not_go(word: str | None) -> None:
    """The refusal names it, and the hold stays."""
    watch = at_hold()
    answer(watch, "console", GO)
    if word is not None:
        answer(watch, "navigation", word, "LT")
    assert not released(watch)
    refusal = watch.of(Refused)[-1]
    assert "navigation" in refusal.words
    assert "20 m" in refusal.words
    assert watch.state.snapshot().polls[0].t_released is None


def test_with_every_go_the_word_releases_the_hold() -> None:
    """The release names the hold point, who and when; then nobody is polled any more."""
    watch = at_hold()
    answer(watch, "navigation", GO, "LT")
    answer(watch, "console", GO)
    assert released(watch)
    (event,) = watch.of(HoldReleased)
    assert (event.initials, event.range_m) == ("MK", 20.0)
    (poll,) = watch.state.snapshot().polls
    assert (poll.released_by, poll.t_released) == ("MK", pytest.approx(watch.t))
    answer(watch, "console", NO_GO)
    assert "not open" in watch.of(Refused)[-1].words


def test_an_answer_may_be_taken_back_until_the_release() -> None:
    """Go, then no-go: refused again."""
    watch = at_hold()
    answer(watch, "navigation", GO, "LT")
    answer(watch, "console", GO)
    answer(watch, "navigation", NO_GO, "LT")
    assert not released(watch)
    answer(watch, "navigation", GO, "LT")
    assert released(watch)


def test_nothing_is_released_by_answers_alone() -> None:
    """Every go, and still the hold waits for the word."""
    watch = at_hold()
    answer(watch, "navigation", GO, "LT")
    answer(watch, "console", GO)
    watch.stand(20.0, 60.0)
    assert watch.of(HoldReleased) == []


@pytest.mark.parametrize(
    ("poll", "position", "word", "said"),
    [
        ("other", "console", GO, "other"),
        ("go-20", "bridge", GO, "navigation, console"),
        ("go-20", "console", "maybe", "go, no-go, not yet"),
    ],
)
def test_an_answer_that_is_none_is_refused_with_what_is_allowed(
    poll: str, position: str, word: str, said: str
) -> None:
    """Unknown poll, position or word."""
    watch = at_hold()
    (event,) = watch.act(PollAnswer("MK", poll, position, word))
    assert isinstance(event, Refused)
    assert said in event.words


def test_a_hold_without_a_poll_is_released_freely() -> None:
    """A called hold at 12 m has none; nor has any watch without a procedure."""
    watch = Watch(procedure_of())
    watch.stand(12.0, 10.0)
    assert released(watch)
    bare = Watch()
    bare.stand(20.0, 10.0)
    assert released(bare)


def test_leaving_the_hold_without_the_word_is_an_advisory() -> None:
    """It names the hold and who is missing; back at the hold it clears."""
    watch = at_hold()
    watch.move(20.0, 15.0, 50.0)
    (raised,) = [event for event in watch.of(ExceedanceRaised) if event.id == "hold:go-20"]
    assert raised.level == "advisory"
    assert "20 m" in raised.words
    assert "navigation" in raised.words
    assert watch.state.snapshot().polls[0].is_left
    watch.move(15.0, 20.0, 50.0)
    watch.stand(20.0, 5.0)
    assert [event.id for event in watch.of(ExceedanceCleared)].count("hold:go-20") == 1


def test_a_late_word_still_counts_for_the_hold_that_was_left() -> None:
    """Released at 15 m, it is the 20 m hold's release, and the advisory clears."""
    watch = at_hold()
    watch.move(20.0, 15.0, 50.0)
    answer(watch, "navigation", GO, "LT")
    answer(watch, "console", GO)
    assert released(watch)
    assert watch.of(HoldReleased)[-1].range_m == 20.0
    assert "hold:go-20" in [event.id for event in watch.of(ExceedanceCleared)]


def test_passing_the_hold_point_without_stopping_is_told_too() -> None:
    """The vehicle never held there, so nobody was polled."""
    watch = Watch(procedure_of())
    watch.stand(25.0, 10.0)
    watch.move(25.0, 15.0, 100.0)
    assert "hold:go-20" in [event.id for event in watch.of(ExceedanceRaised)]


def test_a_watch_that_begins_inside_the_hold_is_not_blamed() -> None:
    """What was said before it began is not known."""
    watch = Watch(procedure_of())
    watch.move(15.0, 5.0, 100.0)
    assert [event.id for event in watch.of(ExceedanceRaised) if "go-20" in event.id] == []


def test_a_poll_left_unanswered_is_overdue() -> None:
    """After 30 s, and no longer once every position is go."""
    watch = at_hold()
    opened = watch.of(PollOpened)[0].t
    watch.stand(20.0, 40.0)
    (raised,) = [event for event in watch.of(ExceedanceRaised) if event.id == "poll:go-20"]
    assert raised.t == pytest.approx(opened + 30.0, abs=0.11)
    assert watch.state.snapshot().polls[0].overdue_s == pytest.approx(
        watch.t - opened - 30.0, abs=0.2
    )
    answer(watch, "navigation", GO, "LT")
    answer(watch, "console", GO)
    assert "poll:go-20" in [event.id for event in watch.of(ExceedanceCleared)]


def test_coming_back_to_the_hold_after_a_release_polls_anew() -> None:
    """Released, left, retreated: every answer is not yet again, and the release refused."""
    watch = at_hold()
    answer(watch, "navigation", GO, "LT")
    answer(watch, "console", GO)
    assert released(watch)
    watch.stand(20.0, 5.0)
    assert len(watch.of(PollOpened)) == 1
    watch.move(20.0, 14.0, 60.0)
    watch.move(14.0, 20.0, 60.0)
    watch.stand(20.0, 10.0)
    assert len(watch.of(PollOpened)) == 2
    (poll,) = watch.state.snapshot().polls
    assert {p.answer for p in poll.positions} == {Answer.NOT_YET}
    assert not released(watch)


def test_contact_ends_a_poll_nobody_closed() -> None:
    """Nobody is asked any longer, and the advisories end."""
    watch = at_hold()
    watch.move(20.0, 0.05, 200.0)
    watch.capture(contact=True)
    watch.wait(0.5)
    assert watch.state.snapshot().polls == ()
    raised = {event.id for event in watch.of(ExceedanceRaised) if "go-20" in event.id}
    cleared = {event.id for event in watch.of(ExceedanceCleared) if "go-20" in event.id}
    assert raised == cleared == {"hold:go-20"}


def test_the_poll_ahead_is_listed_among_what_comes() -> None:
    """Before the hold, with its range; no longer once it is open."""
    watch = Watch(shipped_procedure())
    watch.stand(100.0, 5.0)
    assert "go for final approach" in watch.line("poll:go-20").words
    watch.move(100.0, 20.0, 160.0)
    watch.stand(20.0, 10.0)
    assert watch.line("poll:go-20") is None
