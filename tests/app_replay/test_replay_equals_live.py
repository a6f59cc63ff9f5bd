"""Replay equals live: watched over a real socket, replayed in every way, the same event log.

Short stretches of some scenarios, one of them in real time; all of them whole are run by
``python -m tests.benchmarks.replay_equals_live``.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from fakes.replay_equality import (
    WAYS,
    by_command,
    by_score,
    engine_over,
    recorded,
    watch_live,
)

from console.app.replay_engine import ReplayEngine

CASES = {
    "fast_closing": (1.4, 100.0, 700),
    "retreat": (6.0, 100.0, 600),
    "lateral_drift": (5.0, 1.0, 50),
}
"""Range at the start, speed and number of messages: at speed 1 the receive time counts."""


@pytest.fixture(scope="module", params=CASES)
def watched(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, list[str]]:
    """Watch a scenario over a socket."""
    path = tmp_path_factory.mktemp("live") / f"{request.param}.leadmark"
    range_m, speed, most = CASES[request.param]
    lines = watch_live(request.param, path, range_m=range_m, speed=speed, most=most)
    return path, lines


@pytest.fixture(scope="module")
def engine(watched: tuple[Path, list[str]]) -> Iterator[ReplayEngine]:
    """Read its recording as a replay does."""
    made = engine_over(watched[0])
    yield made
    made.close()


@pytest.mark.parametrize("way", WAYS)
def test_log_is_the_same_by_every_way(
    watched: tuple[Path, list[str]], engine: ReplayEngine, way: str
) -> None:
    """Read at once, played at 1x and 60x, and sought about in: the same bytes as live."""
    live = recorded(watched[0])
    assert len(live) > 1
    assert live == WAYS[way](engine)


def test_score_finds_the_same(watched: tuple[Path, list[str]]) -> None:
    """Scoring the recording goes through the same events to the byte."""
    assert recorded(watched[0]) == by_score(watched[0])


def test_text_is_the_same(watched: tuple[Path, list[str]]) -> None:
    """The text form writes the very lines the live watch wrote, from the first event on."""
    path, lines = watched
    assert lines[lines.index(by_command(path, 60.0)[0]) :] == by_command(path, 60.0)
