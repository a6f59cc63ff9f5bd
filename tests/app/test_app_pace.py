"""When a watch makes its next snapshot, and how the window hears of it."""

from __future__ import annotations

from itertools import pairwise

import pytest
from app_tools import HandWatch, sample_frame

from console.app.input_file import load_limits
from console.app.pace import (
    CATCHING_UP_EVERY_S,
    CATCHING_UP_FROM_S,
    IDLE_EVERY_S,
    SNAPSHOT_EVERY_S,
    Pace,
)


def made_at(news_s: list[float], step_s: float = 0.001, until_s: float = 2.0) -> list[float]:
    """Give the times at which snapshots are made when news come at some times."""
    pace, made, waiting = Pace(), [], sorted(news_s)
    for i in range(round(until_s / step_s)):
        now = 100.0 + i * step_s
        while waiting and 100.0 + waiting[0] <= now + 1e-9:
            waiting.pop(0)
            pace.note_news()
        if pace.left_s(now) == 0.0:
            pace.note_made(now)
            made.append(now - 100.0)
    return made


def test_news_after_a_pause_are_shown_at_once() -> None:
    """At 10 Hz every sample has its snapshot in the very step it came in."""
    news = [0.05 + 0.1 * n for n in range(19)]
    made = made_at(news)
    assert all(any(abs(m - n) < 2e-3 for m in made) for n in news)


def test_never_more_than_thirty_a_second_of_news() -> None:
    """News in every millisecond make no more than 30 snapshots a second, evenly spaced."""
    made = made_at([0.001 * n for n in range(2000)])
    assert 56 <= len(made) <= 61
    gaps = [b - a for a, b in pairwise(made)]
    assert min(gaps) >= SNAPSHOT_EVERY_S - 1e-6


def test_without_news_ages_go_on() -> None:
    """Nothing comes: a snapshot every eighth of a second, for ages and countdowns."""
    made = made_at([])
    assert abs(len(made) - 2.0 / IDLE_EVERY_S) <= 1


def test_clock_set_back_holds_nothing_up() -> None:
    """A clock that was set back an hour does not stop the picture for an hour."""
    pace = Pace()
    pace.note_made(10_000.0)
    assert pace.left_s(10_000.0) > 0.0
    assert pace.left_s(6_400.0) == 0.0


def test_an_engine_that_is_behind_paints_less_until_it_has_caught_up() -> None:
    """A quarter of a second behind, pictures come ten a second; then thirty again."""
    pace = Pace()
    pace.note_made(100.0)
    pace.note_news()
    pace.note_made(100.0)
    pace.note_news()
    pace.note_behind(CATCHING_UP_FROM_S)
    assert pace.left_s(100.0) == pytest.approx(CATCHING_UP_EVERY_S)
    pace.note_behind(0.0)
    assert pace.left_s(100.0) == pytest.approx(SNAPSHOT_EVERY_S)


def test_window_hears_of_each_snapshot_once_it_stands() -> None:
    """Whoever asked to be told is told after the snapshot can be had, and not without one."""
    hand = HandWatch(load_limits(None))
    seen: list[object] = []
    hand.watch.when_new(lambda: seen.append(hand.watch.snapshot()))
    first = hand.step(0.05, sample_frame(0.0, 20.0, 1))
    assert seen == [first]
    again = hand.step(0.06)
    assert again is first
    assert len(seen) == 1
    newer = hand.step(0.15, sample_frame(0.1, 19.99, 2))
    assert newer is not first
    assert seen[-1] is newer


def test_trail_of_a_fast_source_keeps_a_hundred_rows_a_second() -> None:
    """Every sample is judged; the trail has each at 100 Hz and below, and one in ten at 1 kHz."""
    for rate, rows in ((50.0, 100), (100.0, 200), (1000.0, 200)):
        hand = HandWatch(load_limits(None))
        for n in range(round(2.0 * rate)):
            hand.step(n / rate + 0.05, sample_frame(n / rate, 20.0 - 0.09 * n / rate, n + 1))
        assert hand.state.judged == round(2.0 * rate)
        assert hand.watch.trail.count == pytest.approx(rows, abs=2)
