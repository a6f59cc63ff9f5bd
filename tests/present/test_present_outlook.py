"""Advisories about light and link in the list of exceedances: told, never shelved or counted."""

from __future__ import annotations

from fakes.snapshots import SITUATIONS

from console.present.exceedance_lines import exceedances, fit
from tests.fakes.changed import replace

NOTES = (
    "Hands-off falls in a link gap of 15 s; contact before 09:38:45 (5 s earlier) avoids it",
    "Link coverage at contact is unknown: the plan ends at 10:20:00",
)


def test_an_advisory_has_a_line_with_what_avoids_it_as_its_action() -> None:
    """Quiet, without a time of its own, below what stands."""
    quiet = replace(SITUATIONS["nominal"](), exceedances=(), outlook_notes=NOTES)
    view = exceedances(quiet)
    first, second = view.lines
    assert (first.words, first.action) == (
        "Hands-off falls in a link gap of 15 s", "contact before 09:38:45 (5 s earlier) avoids it"
    )  # fmt: skip
    assert second.action == ""
    assert first.level_word == "ADVISORY"
    assert first.spoken.startswith("ahead, advisory, Hands-off falls in a link gap of 15 s")
    assert view.summary == "0 standing · 0 unacknowledged · 0 cleared · 2 advisories"
    assert not view.waiting
    assert all(line.is_note and not line.blinks for line in view.lines)


def test_advisories_follow_what_stands_and_give_way_to_it() -> None:
    """With no room they are counted apart from what stands."""
    name = next(n for n, make in SITUATIONS.items() if make().exceedances)
    busy = replace(SITUATIONS[name](), outlook_notes=NOTES)
    bare = exceedances(replace(busy, outlook_notes=()))
    view = exceedances(busy)
    assert [x for x in view.lines if not x.is_note] == list(bare.lines)
    first_note = next(i for i, x in enumerate(view.lines) if x.is_note)
    assert not any(x.is_standing and not x.is_note for x in view.lines[first_note:])
    cut = fit(view, first_note)
    assert "+2 advisories" in cut.more
    assert "more standing" not in cut.more
