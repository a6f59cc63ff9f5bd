"""Debriefs of shipped passes, made once for all tests that look at them."""

from __future__ import annotations

from functools import lru_cache

from console.app.score import ScoreOrder, score_one
from console.archive.shipped import shipped
from console.debrief.review import Debrief

FOLDER = shipped("replay_data", "passes")
CREATED_S = 1_933_600_000.0


@lru_cache(maxsize=16)
def debrief_of(name: str) -> Debrief:
    """Give the debrief of a shipped pass."""
    result = score_one(FOLDER / name, ScoreOrder(wants_report=True))
    assert result.debrief is not None, result.refusal
    return result.debrief
