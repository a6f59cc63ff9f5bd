"""A draft is always a limits file that could be saved, and every step can be taken back."""

from __future__ import annotations

import random
from itertools import pairwise

import pytest

from console.app.input_file import load_limits
from console.envelope.editing import edited
from console.envelope.limits import Curve
from console.envelope.reading import parse_limits
from console.present.bench_draft import HISTORY, Draft, Figure, read_point
from tests.fakes.changed import replace


@pytest.fixture
def draft() -> Draft:
    """Open the shipped file."""
    return Draft(load_limits(None))


def test_whatever_is_done_the_draft_stays_a_readable_limits_file(draft: Draft) -> None:
    """A thousand random deeds; then the text that would be saved is read back as the draft."""
    rng = random.Random(7)
    for _ in range(1000):
        draft.choose_limit(rng.randrange(len(draft.file.limits)))
        draft.choose_point(rng.randrange(-1, 6))
        deed = rng.choice(["move", "by", "add", "insert", "remove", "figure", "undo", "redo"])
        if deed == "move":
            draft.move_to(rng.uniform(-5.0, 300.0), rng.uniform(-1.0, 9.0))
        elif deed == "by":
            draft.move_by(rng.choice([-10, -1, 0, 1, 10]), rng.choice([-10, -1, 0, 1, 10]))
        elif deed == "insert":
            draft.insert(rng.uniform(-1.0, 250.0), rng.choice([None, 0.3]))
        elif deed == "figure":
            draft.put_figure(rng.choice(list(Figure)), rng.choice([0.0, 0.5, 3.0]))
        else:
            {
                "add": draft.add_point, "remove": draft.remove_point, "undo": draft.undo,
                "redo": draft.redo,
            }[deed]()  # fmt: skip
        ranges_m = draft.limit.curve.ranges_m
        assert all(a < b for a, b in pairwise(ranges_m))
        assert ranges_m[0] >= 0.0
        assert 0 <= draft.place.point < len(ranges_m)
    wanted = replace(draft.file, revision=8)
    text = edited(draft.opened, wanted, "draft.toml")
    assert parse_limits(text.encode(), "draft.toml").limits == draft.file.limits


def test_undoing_everything_gives_the_opened_file(draft: Draft) -> None:
    """And doing all again gives the draft."""
    draft.choose_point(1)
    for _ in range(5):
        draft.move_by(0, -1)
    draft.add_point()
    draft.put_figure(Figure.ON_DELAY, 2.0)
    made = draft.file
    while draft.undo():
        pass
    assert draft.file.limits == draft.opened.limits
    assert not draft.is_changed
    while draft.redo():
        pass
    assert draft.file.limits == made.limits


def test_a_drag_is_one_step(draft: Draft) -> None:
    """Many places on the way, one undo; a drag that ends where it began is none."""
    draft.choose_point(1)
    draft.begin_drag()
    for step in range(20):
        draft.move_to(2.0, 0.10 - 0.001 * step)
    draft.end_drag()
    assert draft.point == (2.0, 0.081)
    assert draft.undo()
    assert draft.point == (2.0, 0.10)
    assert not draft.can_undo
    draft.begin_drag()
    draft.move_to(2.0, 0.2)
    draft.move_to(2.0, 0.10)
    draft.end_drag()
    assert not draft.can_undo


def test_history_is_bounded(draft: Draft) -> None:
    """The oldest steps go."""
    for _ in range(HISTORY + 50):
        draft.move_by(0, 1)
    count = 0
    while draft.undo():
        count += 1
    assert count == HISTORY


def test_one_point_stays_and_points_need_room(draft: Draft) -> None:
    """The last point cannot be taken; two points do not stand on one range."""
    while draft.remove_point():
        pass
    assert len(draft.limit.curve.ranges_m) == 1
    assert not draft.add_point()
    assert not draft.insert(draft.limit.curve.ranges_m[0], 1.0)


def test_a_new_step_forgets_what_was_undone(draft: Draft) -> None:
    """Redo after another change would mix two drafts."""
    draft.move_by(0, 1)
    draft.undo()
    draft.move_by(0, 2)
    assert not draft.can_redo


def test_after_saving_there_is_nothing_to_undo(draft: Draft) -> None:
    """What was saved is what is opened now."""
    draft.move_by(0, 1)
    saved = replace(draft.file, revision=8)
    draft.saved(saved)
    assert (draft.opened, draft.is_changed, draft.can_undo) == (saved, False, False)


def test_steps_are_those_of_the_last_digit_shown(draft: Draft) -> None:
    """A rate moves by 0.001 m/s, an angle by 0.1 deg; the range by 0.1 m."""
    draft.move_by(1, 1)
    assert draft.point == (0.1, 0.101)
    draft.choose_limit([limit.id for limit in draft.file.limits].index("corridor"))
    draft.move_by(0, 1)
    assert draft.point == (5.0, 8.1)


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("10 0.118", (10.0, 0.118)), ("10 m, 0.118 m/s", (10.0, 0.118)), ("0 −0.5", (0.0, -0.5)),
        ("10", None), ("1 2 3", None), ("a b", None), ("1 nan", None), ("", None), ("1 inf", None),
    ],
)  # fmt: skip
def test_a_typed_point_is_two_numbers_and_nothing_else(
    words: str, found: tuple[float, float] | None
) -> None:
    """Units between are no matter; anything that is not two finite numbers is refused."""
    assert read_point(words) == found


def test_a_value_that_is_not_moved_keeps_its_digits(draft: Draft) -> None:
    """Moving the range alone does not round the limit."""
    at = replace(draft.limit, curve=Curve((0.0, 2.0, 20.0), (0.1, 0.10004, 0.2)))
    draft.put_limit(at)
    draft.choose_point(1)
    draft.move_by(1, 0)
    assert draft.point == (2.1, 0.10004)
