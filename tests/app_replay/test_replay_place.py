"""Places as typed, and the bar's words and shares."""

from __future__ import annotations

import math

import pytest

from console.core.utc import parse_utc
from console.present.replay_bar import line_marks, replay_bar, share_of, time_at
from console.present.replay_place import RangePlace, TimePlace, place_of
from console.present.replay_port import ReplayNow, Tick, TickKind

BEGIN = parse_utc("2031-04-11T23:50:00Z")
NOW = ReplayNow(BEGIN, BEGIN + 1200.0, BEGIN + 300.0, 12.345, False, 0.25, BEGIN + 600.0)


@pytest.mark.parametrize(
    ("words", "place"),
    [
        ("15 m", RangePlace(15.0)),
        ("1.8M", RangePlace(1.8)),
        ("+90", TimePlace(BEGIN + 90.0)),
        ("+1:30", TimePlace(BEGIN + 90.0)),
        ("+1:01:30.5", TimePlace(BEGIN + 3690.5)),
        ("23:55", TimePlace(BEGIN + 300.0)),
        ("23:55:07.5", TimePlace(BEGIN + 307.5)),
        ("00:05 UTC", TimePlace(BEGIN + 900.0)),
        ("2031-04-12T00:05:00Z", TimePlace(BEGIN + 900.0)),
    ],
)
def test_place_is_read(words: str, place: object) -> None:
    """Ranges, clock times (of the next day after midnight) and times from the begin are read."""
    assert place == place_of(words, BEGIN)


@pytest.mark.parametrize("words", ["", "m", "15", "-3 m", "x", "2031-04-12T00:05:00", "1e3 m"])
def test_other_words_are_no_place(words: str) -> None:
    """What might be meant in two ways, or in none, is no place."""
    assert place_of(words, BEGIN) is None


def test_bar_says_where_it_stands() -> None:
    """State, speed, clock, time since the begin and range are written; reading is told."""
    view = replay_bar(NOW)
    assert (
        view.state, view.speed, view.clock, view.elapsed, view.range_m,
    ) == ("paused", "0.25×", "23:55:00.0", "5:00 of 20:00", "12.35 m")  # fmt: skip
    assert view.waits == "50 % read"
    assert "23:55:00.0 UTC" in view.spoken
    assert (view.share, view.read_share) == (0.25, 0.5)


def test_waiting_and_full_speed_are_said() -> None:
    """A place that is waited for is told with how far the reading is; infinite speed in words."""
    waiting = ReplayNow(
        BEGIN, BEGIN + 100.0, BEGIN, None, True, math.inf, BEGIN + 25.0, wanted_t=BEGIN + 90.0
    )
    view = replay_bar(waiting)
    assert view.waits == "going there: 25 % read"
    assert view.speed == "as fast as it goes"
    assert view.range_m == ""


def test_line_is_pointed_at_where_it_is_drawn() -> None:
    """The time at a share of the line has that share; outside its ends it is an end."""
    for share in (0.0, 0.25, 1.0):
        assert share == pytest.approx(share_of(NOW, time_at(NOW, share)))
    assert NOW.t_first == time_at(NOW, -1.0)
    assert NOW.t_last == time_at(NOW, 7.0)
    marks = line_marks(NOW, (Tick(BEGIN + 600.0, TickKind.NOTE, "note"),))
    assert [(mark.share, mark.kind) for mark in marks] == [(0.5, TickKind.NOTE)]
