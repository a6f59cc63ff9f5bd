"""The whole of ``score`` against an independent naive reading of the rules, on random passes."""

from __future__ import annotations

import csv
import os
import tomllib
from pathlib import Path
from typing import Any

import pytest
from naive_score import naive_score
from random_passes import T0, Case, make_case, make_live_case

from console.approach.engine_time import EngineTime
from console.archive.passes import read_pass
from console.archive.recording.meta import RecordingMeta
from console.archive.recording.recorder import Recorder
from console.bench.scoring import score_pass
from console.core.errors import InputError
from console.core.ids import SourceId
from console.core.records import Frame, RelativeSample
from console.envelope.limits import Level
from console.envelope.reading import parse_limits
from console.envelope.setup import Setup
from console.tracking.tracker import Tracker
from console.wire.encode import encode
from console.wire.table import records_from_row

CASES = int(os.environ.get("LEADMARK_RANDOM_PASSES", "120"))
"""How many random passes are compared; set LEADMARK_RANDOM_PASSES for more."""
FIELDS = (
    "source", "seq", "t", "range_m", "range_rate_mps", "y_m", "z_m", "roll_deg", "pitch_deg",
    "yaw_deg", "y_rate_mps", "z_rate_mps", "roll_rate_dps", "pitch_rate_dps", "yaw_rate_dps",
    "valid", "contact", "soft_capture",
)  # fmt: skip


class AskedEstimator:
    """The console's own estimator, run beside, for what only an estimator can know."""

    def __init__(self, limits: Any) -> None:
        self.tracker = Tracker(limits, Setup())

    def take(self, sample: dict) -> None:
        """Take an accepted sample."""
        names = [name for name in FIELDS[1:] if name not in ("contact", "soft_capture")]
        self.tracker.update(
            RelativeSample(SourceId(sample["source"]), *(sample[name] for name in names))
        )

    def change(self, source: str) -> None:
        """Take that another source came into use."""
        self.tracker.prefer(SourceId(source))

    def rates(self, t: float) -> dict:
        """Give the estimated rates."""
        estimate = self.tracker.estimate(t)
        if estimate is None:
            return {}
        return {name: getattr(estimate, name) for name in FIELDS[10:15]}

    def warned(self) -> set:
        """Give the sources with a warning of a cross-check."""
        findings = self.tracker.findings(0.0)
        return {str(f.source) for f in findings if f.level is Level.WARNING}


def write_rows(rows: list[dict], path: Path) -> Path:
    """Write rows as a table, floats so that they read back to the bit."""
    with path.open("w", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(FIELDS)
        for row in rows:
            cells = [row.get(name) for name in FIELDS]
            writer.writerow(["" if c is None else str(c) for c in cells])
    return path


def recorded(case: Case, end_at: float, folder: Path) -> Path:
    """Write a case's rows as the recording that a live watch of them would leave."""
    path = folder / f"pass-{case.seed}.leadmark"
    meta = RecordingMeta(started_s=T0, engine_time=EngineTime.RECEIVE)
    with Recorder(path, meta, synchronous="OFF") as recorder:
        for row in case.rows:
            for record in records_from_row({n: v for n, v in row.items() if n != "at"}):
                recorder.frame(Frame(row["at"], *encode(record)))
        recorder.tick_end(end_at)
    return path


def outcome_of_file(path: Path, case: Case) -> dict:
    """Score a file as the command does."""
    limits = parse_limits(case.limits_text.encode(), "random.toml")
    source = None if case.only is None else SourceId(case.only)
    try:
        result = score_pass(read_pass(path), limits, Setup(), source=source)
    except InputError:
        return {}
    finally:
        path.unlink()
    outcome = dict(result.outcome)
    outcome["judged"] = result.state.judged
    outcome["silences"] = [
        {name: e[name] for name in ("id", "source", "level", "raised", "cleared")}
        for e in outcome["data_exceedances"]
        if e["id"] in ("data:stale", "data:link")
    ]
    return outcome


def expected_of(case: Case, end_at: float | None = None) -> dict:
    """Judge a case naively."""
    limits = parse_limits(case.limits_text.encode(), "random.toml")
    plain = tomllib.loads(case.limits_text)
    return naive_score(case.rows, plain, case.only, AskedEstimator(limits), end_at)


def compare(case: Case, expected: dict, outcome: dict) -> None:
    """Hold every part of the outcome against the naive one."""
    if not outcome:
        assert expected["source"] is None  # the source asked for was never heard
        return
    for name in ("samples", "lost", "source", "judged"):
        assert expected[name] == outcome[name], name
    assert expected["duration_s"] == pytest.approx(outcome["duration_s"], abs=1e-6)
    assert [m["range_m"] for m in expected["marks"]] == [m["range_m"] for m in outcome["marks"]]
    for mine, theirs in zip(expected["marks"], outcome["marks"], strict=True):
        assert mine["t"] == pytest.approx(theirs["t"], rel=0, abs=1e-6)
    assert (expected["hands_off"] is None) == (outcome["hands_off"] is None)
    if expected["hands_off"] is not None:
        assert expected["hands_off"] == pytest.approx(outcome["hands_off"], rel=0, abs=1e-6)
    compare_contact(expected["contact"], outcome["contact"])
    compare_exceedances(expected["exceedances"], outcome["exceedances"])
    if not case.has_capture:
        assert expected["silences"] == outcome["silences"]


def compare_contact(expected: dict | None, outcome: dict | None) -> None:
    """Hold contact and its values against each other."""
    assert (expected is None) == (outcome is None)
    if expected is None or outcome is None:
        return
    assert list(expected) == list(outcome)
    for name, value in expected.items():
        if isinstance(value, float):
            assert value == pytest.approx(outcome[name], rel=1e-12), name
        else:
            assert value == outcome[name], name


def compare_exceedances(expected: list[dict], outcome: list[dict]) -> None:
    """Hold exceedances against each other: times and limits to the bit."""
    assert [(e["id"], e["onset"]) for e in expected] == [(e["id"], e["onset"]) for e in outcome]
    for mine, theirs in zip(expected, outcome, strict=True):
        assert set(mine) == set(theirs)
        peak, seen = mine.pop("peak"), theirs["peak"]
        assert peak == pytest.approx(seen, rel=1e-9, abs=1e-12)
        assert mine == {name: value for name, value in theirs.items() if name != "peak"}


@pytest.mark.parametrize("block", range(4))
def test_random_passes_score_as_the_naive_reading_says(block: int, tmp_path: Path) -> None:
    """Every random pass, under random limits, comes to what a naive reading comes to."""
    share = CASES // 4
    for seed in range(block * share, (block + 1) * share):
        case = make_case(seed)
        path = write_rows(case.rows, tmp_path / f"pass-{seed}.csv")
        try:
            compare(case, expected_of(case), outcome_of_file(path, case))
        except AssertionError as error:
            raise AssertionError(f"seed {seed}: {error}") from error


@pytest.mark.parametrize("block", range(2))
def test_random_recordings_score_as_the_naive_reading_says(block: int, tmp_path: Path) -> None:
    """Received one by one, some late, passes come to what a naive reading says."""
    share = max(CASES // 4, 1)
    for seed in range(block * share, (block + 1) * share):
        case, end_at = make_live_case(seed)
        if not case.rows:
            continue
        path = recorded(case, end_at, tmp_path)
        try:
            compare(case, expected_of(case, end_at), outcome_of_file(path, case))
        except AssertionError as error:
            raise AssertionError(f"seed {seed}: {error}") from error
