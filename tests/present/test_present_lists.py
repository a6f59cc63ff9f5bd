"""Exceedances, calls and the status line."""

from __future__ import annotations

import pytest
from fakes.limits import fake_limits
from fakes.port import fake_status
from fakes.situations import ALL
from fakes.snapshots import (
    exceedance,
    no_data,
    nominal,
    thirty_exceedances,
)
from fakes.worst import worst_status
from hypothesis import given
from hypothesis import strategies as st

from console import CAUTION_TEXT
from console.approach.snapshot import CallLine
from console.envelope.limits import Level
from console.present.call_lines import Turn, call_lines, cut
from console.present.exceedance_lines import exceedances, fit
from console.present.port import Watched
from console.present.status_line import status_line
from console.present.tone import Tone
from tests.fakes.changed import replace

LIMITS = fake_limits()


def test_standing_lines_come_first_and_the_summary_counts() -> None:
    """One stands, two are cleared."""
    view = exceedances(nominal())
    assert view.summary == "1 standing · 0 unacknowledged · 2 cleared"
    assert [line.is_standing for line in view.lines] == [True, False, False]
    first = view.lines[0]
    assert (first.mark, first.level_word, first.state) == ("◧", "CAUTION", "standing 0:08")
    assert first.action == "watch; hold if above limit for 3 s"
    assert view.lines[1].state == "cleared, KM"
    assert view.lines[1].tone is Tone.QUIET


def test_only_an_unacknowledged_warning_blinks() -> None:
    """Neither a caution, nor an acknowledged warning, nor a cleared acknowledged one."""
    now = 1000.0
    made = [
        exceedance("w#1", Level.WARNING, now - 5, "x"),
        exceedance("w#2", Level.WARNING, now - 5, "x", by="KM"),
        exceedance("c#1", Level.CAUTION, now - 5, "x"),
        exceedance("w#3", Level.WARNING, now - 9, "x", cleared=now - 1),
        exceedance("w#4", Level.WARNING, now - 9, "x", cleared=now - 1, by="KM"),
        exceedance("a#1", Level.ADVISORY, now - 5, "x"),
    ]
    view = exceedances(replace(nominal(), t=now, exceedances=tuple(made)))
    assert {line.key for line in view.lines if line.blinks} == {"w#1", "w#3"}
    assert {line.key for line in view.waiting} == {"w#1", "c#1", "w#3"}
    assert view.waiting[0].key == "w#1"


def test_what_returned_unacknowledged_stands_above_the_cleared_and_says_so() -> None:
    """It still asks for its acknowledgement."""
    now = 1000.0
    made = (
        exceedance("old#1", Level.CAUTION, now - 50, "x", cleared=now - 1, by="KM"),
        exceedance("back#1", Level.WARNING, now - 90, "x", cleared=now - 60),
    )
    view = exceedances(replace(nominal(), t=now, exceedances=made))
    assert [line.key for line in view.lines] == ["back#1", "old#1"]
    assert view.lines[0].state == "cleared, unacknowledged"


@given(st.integers(1, 40))
def test_no_standing_warning_is_lost_by_cutting(full: int) -> None:
    """Each stands as a line of its own or is named among the packed ones; others are counted."""
    view = exceedances(thirty_exceedances())
    fitted = fit(view, full)
    warnings = {line.key for line in view.lines if line.is_standing and line.is_warning}
    shown = {line.key for line in (*fitted.lines, *fitted.packed)}
    assert warnings <= shown
    left = [line for line in view.lines if line.key not in shown]
    standing = sum(line.is_standing for line in left)
    assert (f"+{standing} more standing" in fitted.more) == (standing > 0)
    assert (f"+{len(left) - standing} cleared" in fitted.more) == (len(left) > standing)


def test_the_chosen_line_is_always_among_the_full_ones() -> None:
    """It takes the last place where it would be cut."""
    view = exceedances(thirty_exceedances())
    key = view.lines[20].key
    fitted = fit(view, 3, key)
    assert [line.key for line in fitted.lines] == [view.lines[0].key, view.lines[1].key, key]


def test_a_data_exceedance_names_its_source() -> None:
    """Unless its words do."""
    made = (
        exceedance("data:rate#1", Level.CAUTION, 990.0, "rate off the slope", source="radio"),
        exceedance("data:link#1", Level.CAUTION, 990.0, "Link silent: radio", source="radio"),
    )
    view = exceedances(replace(nominal(), t=1000.0, exceedances=made))
    assert [line.words for line in view.lines] == [
        "radio: rate off the slope",
        "Link silent: radio",
    ]


def test_nothing_yet_is_said() -> None:
    """An empty list has a summary and no line."""
    assert exceedances(None).summary == "none"
    assert exceedances(no_data()).lines == ()


def test_calls_are_told_by_shape_and_time() -> None:
    """Done with its time, now in full, next with its countdown."""
    rows = call_lines(nominal()).rows
    due = call_lines(nominal()).due
    assert due is not None
    assert due.words == "5 metres, closing 8 centimetres a second, contact in 64 seconds"
    assert (due.shape, due.when, due.tone) == ("●", "now", Tone.STRONG)
    done = [row for row in rows if row.turn is Turn.DONE]
    assert done[-1].words == "10 metres"
    assert done[-1].shape == "✓"
    nxt = next(row for row in rows if row.turn is Turn.NEXT)
    assert nxt.when.startswith("in 0:")
    assert nxt.words == "4 metres"


def test_only_the_newest_done_calls_stay() -> None:
    """A long pass does not push the call now out of sight."""
    s = nominal()
    old = tuple(CallLine(f"mark:{i}", f"{i} metres", "done", s.t, None) for i in range(50))
    view = call_lines(replace(s, calls=(*old, *s.calls)))
    assert sum(row.turn is Turn.DONE for row in view.rows) == 3


@given(st.integers(0, 15))
def test_cutting_keeps_the_call_now_longest(rows: int) -> None:
    """With any room at all the call to make now is shown."""
    view = call_lines(nominal())
    kept = cut(view, rows)
    assert len(kept) <= rows
    if rows:
        assert any(row.turn is Turn.NOW for row in kept)
    places = [view.rows.index(row) for row in kept]
    assert places == sorted(places)


def watched(**changes: object) -> Watched:
    """Give the nominal watch with a changed status."""
    return Watched(nominal(), fake_status(**changes), LIMITS)


def test_the_status_line_says_link_recording_limits_and_what_this_is() -> None:
    """All of it in quiet text."""
    view = status_line(watched())
    said = [note.text for note in (*view.left, *view.right)]
    assert said == [
        "Live", "tcp://127.0.0.1:5556", "20.0 samples/s", "0 lost",
        "recording 2031-04-11 kittiwake.leadmark", "Limits Port C final approach r7 3f9a…c1",
        CAUTION_TEXT,
    ]  # fmt: skip
    assert all(note.tone is Tone.QUIET for note in (*view.left, *view.right))


@pytest.mark.parametrize(
    ("changes", "words", "tone"),
    [
        ({"recording": None}, "◧ not recording", Tone.CAUTION),
        ({"recording": None, "not_recording_because": "disk full"}, "◧ not recording: disk full",
         Tone.CAUTION),
        ({"insecure": True}, "◧ link without keys", Tone.CAUTION),
        ({"overflowed": 7}, "■ 7 dropped, this console is too slow", Tone.WARNING),
        ({"rejected": 3}, "◧ 3 rejected", Tone.CAUTION),
        ({"notice": "limits refused"}, "◧ limits refused", Tone.CAUTION),
        ({"paused": True}, "paused", Tone.STRONG),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_with_its_mark(
    changes: dict[str, object], words: str, tone: Tone
) -> None:
    """Each trouble of link or recording has its own words."""
    view = status_line(watched(**changes))
    assert (words, tone) in [(note.text, note.tone) for note in view.left]


def test_a_picture_that_stands_still_says_so() -> None:
    """Unless a replay was paused."""
    old = replace(watched(), unchanged_s=3.2)
    assert "■ picture is 3.2 s old" in [note.text for note in status_line(old).left]
    paused = replace(watched(paused=True), unchanged_s=3.2)
    assert not any("old" in note.text for note in status_line(paused).left)


@pytest.mark.parametrize("name", ALL)
def test_every_list_can_be_spoken(name: str) -> None:
    """Each line has words for a screen reader, without a mark alone."""
    s = ALL[name]()
    for line in exceedances(s).lines:
        assert line.words in line.spoken
    for row in call_lines(s).rows:
        assert row.words in row.spoken
    assert "not recording" in status_line(Watched(s, worst_status(), LIMITS)).spoken
