"""The small parts: packing of names, breaking of lines, placing, announcements, blinking."""

from __future__ import annotations

import pytest
from fakes.port import FakePort
from fakes.snapshots import nominal, thirty_exceedances
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtWidgets import QScrollArea
from pytestqt.qtbot import QtBot

from console.approach.event import ExceedanceRaised, MarkPassed, NoteMade
from console.present.exceedance_lines import exceedances
from console.present.theme import DARK
from console.window.announcer import announce, announcements
from console.window.application import application
from console.window.arrangement import Arrangement, Part, Place, arrangement_of, places
from console.window.blinker import HALF_PERIOD_MS, Blinker
from console.window.fonts import FILES, Face, Faces, load_fonts
from console.window.main_window import scale_of
from console.window.packing import pack
from console.window.panels.exceedances import ExceedancesPanel
from console.window.watch_view import WatchView
from console.window.wrapping import wrap
from tests.fakes.changed import replace

WORDS = st.lists(st.text("abcdefgh", min_size=1, max_size=12), min_size=1, max_size=20)


def test_the_bundled_faces_are_the_ones_used(qtbot: QtBot) -> None:
    """Each file loads, and digits of the value face are all equally wide."""
    assert all(number >= 0 for number in load_fonts())
    assert len(load_fonts()) == len(FILES)
    faces = Faces(1.0)
    for face in (Face.VALUE, Face.DIGITS, Face.DIGITS_BOLD, Face.DIGITS_SMALL):
        widths = {faces.width(face, digit) for digit in "0123456789−. "}
        assert len(widths) == 1


@given(words=WORDS, width=st.floats(20.0, 400.0), most=st.integers(1, 6))
def test_breaking_loses_no_word_and_keeps_the_width(
    words: list[str], width: float, most: int
) -> None:
    """Lines joined give the text again; all but the last keep to the width or are one word."""
    faces = Faces(1.0)
    text = " ".join(words)
    lines = wrap(faces, Face.BODY, text, width, most)
    assert " ".join(lines) == text
    assert len(lines) <= most
    for line in lines[:-1]:
        assert faces.width(Face.BODY, line) <= width or " " not in line


@given(rows=st.integers(1, 30), width=st.floats(300.0, 1500.0), tall=st.integers(1, 2))
def test_packing_names_every_standing_warning_or_counts_it(
    rows: int, width: float, tall: int
) -> None:
    """Whatever the room, warnings are lines, names or a number, and rows are kept from two on."""
    view = exceedances(thirty_exceedances())
    packed = pack(view, Faces(1.0), rows, width, lambda _: tall)
    warnings = [line for line in view.lines if line.is_standing and line.is_warning]
    full = sum(line.is_standing and line.is_warning for line in packed.lines)
    named = sum(len(row) for row in packed.rows)
    counted = len(warnings) - full - named
    assert counted >= 0
    assert (f"+{counted} more warnings" in packed.more) == (counted > 0)
    if rows > tall:
        assert tall * len(packed.lines) + len(packed.rows) <= rows


NEEDS = {part: (lambda _w, h=60.0: h) for part in Part}


@pytest.mark.parametrize("arrangement", Arrangement)
@given(width=st.floats(900.0, 5000.0), height=st.floats(700.0, 3000.0))
def test_places_neither_overlap_nor_leave_the_window(
    arrangement: Arrangement, width: float, height: float
) -> None:
    """Every part has one place, fixed or scrolled."""
    made = places(arrangement, width, height, 13.0, NEEDS)
    assert set(made.fixed) | set(made.scrolled) == set(Part)
    assert not set(made.fixed) & set(made.scrolled)
    fixed = list(made.fixed.values()) + ([made.viewport] if made.viewport else [])
    for place in fixed:
        assert place.x >= 0.0
        assert place.y >= 0.0
        assert place.x + place.width <= width + 1e-6
        assert place.y + place.height <= height + 1e-6
    for group in (fixed, list(made.scrolled.values())):
        for i, a in enumerate(group):
            assert not any(_meet(a, b) for b in group[i + 1 :])


def _meet(a: Place, b: Place) -> bool:
    return (
        a.x + a.width > b.x + 1e-6
        and b.x + b.width > a.x + 1e-6
        and a.y + a.height > b.y + 1e-6
        and b.y + b.height > a.y + 1e-6
    )


@pytest.mark.parametrize(
    ("em", "width", "height", "expected"),
    [
        (13.0, 1600, 900, Arrangement.WIDE),
        (12.0, 1280, 720, Arrangement.SHORT),
        (12.0, 1280, 620, Arrangement.SHORT),
        (12.0, 1280, 600, Arrangement.TALL),
        (26.0, 1600, 900, Arrangement.TALL),
        (13.0, 1600, 600, Arrangement.TALL),
    ],
)
def test_the_arrangement_is_chosen_by_text_sizes(
    em: float, width: float, height: float, expected: Arrangement
) -> None:
    """Counted in body text sizes, not in pixels."""
    assert arrangement_of(em, width, height) is expected


@pytest.mark.parametrize("text_size", [1.0, 1.5, 2.0])
@pytest.mark.parametrize("size", [(1600, 900), (1280, 720), (1024, 600), (800, 600)])
def test_no_part_stands_on_another_at_any_text_size(
    qtbot: QtBot, size: tuple[int, int], text_size: float
) -> None:
    """What does not fit scrolls; what stays in sight has its whole height to itself."""
    application()
    view = WatchView(FakePort(nominal()))
    qtbot.addWidget(view)
    view.resize(*size)
    scale = scale_of(*size, text_size)
    view.apply_theme(DARK, scale)
    fixed = [part for part in view.panels if part.parent() is view and part.isVisibleTo(view)]
    scroll = [area for area in view.findChildren(QScrollArea) if area.isVisibleTo(view)]
    boxes = [part.geometry() for part in (*fixed, view.entry, *scroll[:1])]
    for n, box in enumerate(boxes):
        assert view.rect().contains(box)
        assert not any(box.intersects(other) for other in boxes[:n])


def raised(level: str, words: str) -> ExceedanceRaised:
    """Give an event of a new exceedance."""
    return ExceedanceRaised(
        t=0.0, key="k#1", id="k", level=level, onset=0.0, source=None, value=None, limit=None,
        words=words,
    )  # fmt: skip


def test_warnings_are_announced_first_and_interrupt() -> None:
    """Then cautions and calls; notes are not spoken back."""
    events = [
        MarkPassed(t=0.0, range_m=10.0, words="10 metres"),
        raised("caution", "roll"),
        raised("warning", "closing"),
        NoteMade(t=0.0, initials="KM", text="x"),
    ]
    assert announcements(events) == [
        ("warning: closing", True),
        ("caution: roll", False),
        ("10 metres", False),
    ]


def test_announcing_works_with_and_without_a_screen_reader(
    qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With one the events are handed to it, warnings as assertive; without one nothing is."""
    from PySide6.QtGui import QAccessible

    panel = ExceedancesPanel()
    qtbot.addWidget(panel)
    handed: list[tuple[str, object]] = []

    def keep(event: object) -> None:
        handed.append((event.message(), event.politeness()))  # type: ignore[attr-defined]

    monkeypatch.setattr(QAccessible, "updateAccessibility", keep)
    monkeypatch.setattr(QAccessible, "isActive", lambda: False)
    announce(panel, [raised("warning", "closing")])
    assert handed == []
    monkeypatch.setattr(QAccessible, "isActive", lambda: True)
    announce(panel, [raised("warning", "closing")])
    assert handed == [("warning: closing", QAccessible.AnnouncementPoliteness.Assertive)]


def test_the_blink_is_two_hertz_at_half_duty() -> None:
    """Equal halves of a quarter second: within 0.8 to 5 Hz and under three flashes a second."""
    assert HALF_PERIOD_MS == 250
    hertz = 1000.0 / (2 * HALF_PERIOD_MS)
    assert 0.8 <= hertz <= 3.0


def test_the_blinker_stands_lit_when_nothing_may_blink(qtbot: QtBot) -> None:
    """Stopping in the dark half goes back to lit."""
    blinker = Blinker()
    seen: list[bool] = []
    blinker.lit_changed.connect(seen.append)
    blinker.want(True)
    assert blinker.is_running
    blinker.flip()
    assert seen == [False]
    blinker.want(False)
    assert seen == [False, True]
    assert not blinker.is_running
    blinker.set_steady(True)
    blinker.want(True)
    assert not blinker.is_running


def test_the_chosen_line_survives_a_new_state(qtbot: QtBot) -> None:
    """A key that is gone no longer matters."""
    view = exceedances(replace(nominal(), exceedances=()))
    packed = pack(view, Faces(1.0), 4, 500.0, lambda _: 1, "gone#1")
    assert packed.lines == ()
