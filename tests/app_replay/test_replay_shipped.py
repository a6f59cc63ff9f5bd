"""The shipped recordings are of the program as it is: fed again they give their own log."""

from __future__ import annotations

import math

import msgspec
import pytest

from console.app import replay_headless as headless
from console.archive.recording import open_recording
from console.archive.shipped import shipped

RECORDINGS = sorted(shipped("replay_data", "passes").glob("*.leadmark"))


@pytest.mark.parametrize("path", RECORDINGS, ids=lambda path: path.stem)
def test_a_shipped_recording_replays_to_its_own_log(path, monkeypatch):
    """To the byte; where not, ``python -m console.app.ship_passes`` makes them again."""
    found = []
    monkeypatch.setattr(headless, "printer", lambda say: found.append)
    headless.replay_headless(headless.ReplayOrder(path, speed=math.inf), lambda line: None)
    with open_recording(path) as recording:
        assert [msgspec.json.encode(event) for event in found] == list(recording.events())
