"""Kill -9 of a recording process at a random moment."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from contextlib import closing
from pathlib import Path

import pytest
from archive_tools import plain_frames, toy_events

from console.archive.recording import FrameTaken, open_recording

REPOSITORY = Path(__file__).resolve().parents[2]
VICTIM = Path(__file__).resolve().parent / "archive_victim.py"
KILLS = int(os.environ.get("LEADMARK_KILLS", "3"))
MANY = 20
SHOWN_BEFORE_S = 0.2


def kill_one(path: Path, seed: int) -> tuple[int, int]:
    """Record, kill, and check; give frames shown in time and frames in the file."""
    rng = random.Random(seed)
    victim = subprocess.Popen(
        [sys.executable, str(VICTIM), str(path), str(seed)],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(REPOSITORY)},
    )
    assert victim.stdout is not None
    with victim:
        lines = [victim.stdout.readline()]  # it has begun
        timer = threading.Timer(rng.uniform(0.3, 1.5), victim.send_signal, [signal.SIGKILL])
        timer.start()
        lines += victim.stdout
        timer.join()
        killed_s = time.monotonic()
    assert victim.returncode == -signal.SIGKILL
    shown = [line.split() for line in lines if line.endswith("\n")]
    # Standard output ends with the kill, at or after the last line; the end seen here is later.
    last_s = min(killed_s, float(shown[-1][1]))
    in_time = [int(n) for n, at_s in shown if float(at_s) < last_s - SHOWN_BEFORE_S]
    return len(in_time), check_file(path, in_time)


def check_file(path: Path, in_time: list[int]) -> int:
    """Check a file as the kill left it; give its number of frames."""
    recording = open_recording(path)
    assert recording.damage is None
    assert not recording.was_closed
    kept = [number for number, _ in recording.frames()]
    assert list(range(1, len(kept) + 1)) == kept  # one unbroken stretch
    assert set(in_time) <= set(kept)
    # Nothing derived is there without the frame it came from.
    columns = recording.columns()
    assert len(columns) <= len(kept)
    assert columns.row.tolist() == kept[: len(columns)]
    # The replay of what is there gives the same events, up to there.
    replayed = list(toy_events(recording.inputs()))
    logged = list(recording.events())
    assert logged == replayed[: len(logged)]
    assert len(replayed) - len(logged) <= 1 + 0.2 * len(kept)
    assert len(logged) >= len(in_time) // 11
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    return len(kept)


@pytest.mark.skipif(os.name != "posix", reason="kill -9 is a thing of POSIX")
@pytest.mark.parametrize("seed", range(KILLS))
def test_a_kill_loses_nothing_that_was_shown_in_time(tmp_path: Path, seed: int) -> None:
    """What was shown more than 200 ms before is in the file, which opens and replays the same."""
    in_time, kept = kill_one(tmp_path / "a.leadmark", seed)
    assert 0 < in_time <= kept


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="kill -9 is a thing of POSIX")
def test_twenty_kills(tmp_path: Path) -> None:
    """The same, twenty times."""
    for seed in range(100, 100 + MANY):
        kill_one(tmp_path / f"{seed}.leadmark", seed)


def test_the_toy_model_depends_on_every_input() -> None:
    """The comparison above would notice a missing, changed or swapped input."""
    inputs = [FrameTaken(n, frame) for n, frame in enumerate(plain_frames(30), start=1)]
    events = list(toy_events(inputs))
    assert len(events) == 3
    swapped = [*inputs[:4], inputs[5], inputs[4], *inputs[6:]]
    for other in (inputs[1:], swapped, [FrameTaken(0, inputs[0].frame), *inputs[1:]]):
        assert events[0] != next(iter(toy_events(other)))
