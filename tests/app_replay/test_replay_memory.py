"""What stands outside a checkpoint, and what is read page by page, comes back as it was."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from replay_tools import flown, record

from console.app.checkpoints import _Log
from console.approach.engine_time import EngineTime
from console.archive.recording import Recorder, open_recording
from console.judging.gap import RECENT, Moment, Moments


@pytest.mark.parametrize("late_share", [0.0, 0.0005, 0.2])
def test_log_of_moments_gives_back_what_was_kept(late_share: float) -> None:
    """Whatever was dropped, or came late, between: each keeping is given back exactly."""
    rng = random.Random(3)
    moments, log = Moments(), _Log()
    kept: list[tuple[tuple[int, int], list[Moment]]] = []
    for n in range(5 * RECENT):
        t = float(n) - (rng.uniform(0.0, 50.0) if rng.random() < late_share else 0.0)
        moments.take((t, rng.random(), rng.random()))
        if rng.random() < 0.003:
            kept.append((log.keep(moments), list(moments)))
    assert moments.dropped >= 2 * RECENT
    for (start, end), wanted in kept:
        assert wanted == log.given(start, end)


def test_moments_are_bounded_and_in_order() -> None:
    """The newest stand in order of time, at most twice the number looked at."""
    moments = Moments()
    for n in range(3 * RECENT):
        moments.take((float(n ^ 1), 0.0, 0.0))
        assert len(moments) < 2 * RECENT
    assert list(moments) == sorted(moments)
    assert moments.reordered > 0


@pytest.mark.parametrize("frames", [1, 7, 200, 10_000])
def test_pages_put_together_are_the_inputs(frames: int, tmp_path: Path) -> None:
    """In pages of any size the inputs are those of one reading, actions and marks as well."""
    path = tmp_path / "a.leadmark"
    one = flown("nominal", 1.2, EngineTime.RECEIVE)
    record(path, one, one.frames[:300])
    with open_recording(path) as recording:
        whole = list(recording.inputs())
        pages, begin = [], 0
        while begin is not None:
            page, begin = recording.page(begin, frames)
            pages += page
    assert whole == pages
    assert len(whole) > 300


def test_frames_never_fed_are_on_no_page(tmp_path: Path) -> None:
    """A frame that did not reach the state model live is given by no page."""
    path = tmp_path / "b.leadmark"
    one = flown("nominal", 1.2, EngineTime.RECEIVE)
    with Recorder(path, one.meta, synchronous="OFF") as recorder:
        for frame in one.frames[:40]:
            number = recorder.frame(frame)
            if number in (1, 17, 20, 40):
                recorder.not_fed(number)
        recorder.tick_end(one.frames[40].t_received_s)
    with open_recording(path) as recording:
        whole = list(recording.inputs())
        pages, begin = [], 0
        while begin is not None:
            page, begin = recording.page(begin, 5)
            pages += page
    assert whole == pages
    assert len(whole) == 37
