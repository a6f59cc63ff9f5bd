"""Labels find places that are free, keep them, and are left out rather than laid on another."""

from __future__ import annotations

from fakes.plot_meter import FakeMeter
from hypothesis import given
from hypothesis import strategies as st

from console.present.plot_label import SHY_PX, Wish, beside, elided, longest_that_fits, place
from console.present.plot_scene import Box

AREA = Box(0.0, 0.0, 400.0, 60.0)
METER = FakeMeter()
BOXES = st.builds(Box, st.floats(-50, 420), st.floats(-20, 70), st.floats(5, 90), st.floats(8, 20))
WISHES = st.lists(st.lists(BOXES, max_size=4), max_size=14).map(
    lambda all_slots: [Wish(str(i), tuple(slots)) for i, slots in enumerate(all_slots)]
)


@given(WISHES, st.lists(BOXES, max_size=3))
def test_placed_labels_neither_touch_nor_leave(wishes: list[Wish], taken: list[Box]) -> None:
    """Whatever is wished for, what is placed is in the area and free of all else."""
    placed = [found.box for found in place(wishes, AREA, taken=taken, gap=4.0).values()]
    for i, box in enumerate(placed):
        assert box.inside(AREA)
        assert not any(box.overlaps(other, 4.0) for other in [*placed[i + 1 :], *taken])


@given(WISHES)
def test_first_wish_with_a_slot_in_the_area_is_served(wishes: list[Wish]) -> None:
    """Importance is the order: the first wish that fits at all gets its best slot that fits."""
    placed = place(wishes, AREA)
    for wish in wishes:
        fits = [i for i, box in enumerate(wish.slots) if box.inside(AREA)]
        if fits:
            assert placed[wish.key].slot == fits[0]
            return
    assert placed == {}


def test_label_keeps_its_slot_while_free() -> None:
    """A label that stood left stays left though the right is free too."""
    slots = beside("4 m", 100.0, 0.0, METER)
    assert place([Wish("4 m", slots)], AREA, previous={"4 m": 1})["4 m"].slot == 1
    assert place([Wish("4 m", slots)], AREA)["4 m"].slot == 0


def test_label_that_was_not_shown_needs_more_room() -> None:
    """At the edge of having room, a label that was shown stays and a new one does not appear."""
    other = Box(0.0, 0.0, 50.0, 15.0)
    tight = Box(50.0 + 4.0 + SHY_PX / 2.0, 0.0, 30.0, 15.0)
    wish = Wish("new", (tight,))
    assert "new" in place([wish], AREA, taken=[other], previous={"new": 0})
    assert "new" not in place([wish], AREA, taken=[other], previous={})


def test_label_may_lie_close_to_its_own_line_only() -> None:
    """The line a label names does not keep it away; another line does."""
    line, other = Box(100.0, 0.0, 0.0, 60.0), Box(125.0, 0.0, 0.0, 60.0)
    right, left = beside("hands-off", 100.0, 0.0, METER, pad=2.0)
    wish = Wish("hands-off", (right, left), line)
    assert place([wish], AREA, taken=[line, other], gap=3.0)["hands-off"].slot == 1


def test_texts_are_shortened_to_fit() -> None:
    """A text is cut with an ellipsis, a wording is chosen, and neither is wider than told."""
    assert elided("picture steady", 14 * 6.8, METER) == "picture steady"
    assert elided("picture steady", 8 * 6.8, METER) == "picture…"
    assert elided("picture steady", 3.0, METER) == ""
    assert longest_that_fits(("Range to contact (m)", "Range (m)"), 70.0, METER) == "Range (m)"
    assert longest_that_fits(("Range (m)",), 10.0, METER) == ""
