"""The demo without a screen, end to end: socket, watch, recording, text, score."""

from __future__ import annotations

import json
import re
from pathlib import Path

import msgspec
import pytest
from app_tools import run_command

from console.app.input_file import load_limits
from console.approach.event import AnyEvent
from console.archive.recording import open_recording

MARKS_M = (20.0, 10.0, 5.0, 4.0, 3.0, 2.0, 1.0)


def demo(folder: Path, *options: str, timeout_s: float = 120.0) -> tuple[list[str], Path]:
    """Run the demo headless; give its lines and the recording it left."""
    path = folder / "demo.leadmark"
    done = run_command(
        "demo", "--headless", "--record", str(path), *options, folder=folder, timeout_s=timeout_s
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    return done.stdout.splitlines(), path


def score(path: Path, folder: Path) -> dict:
    """Score a recording as the command does; give its object."""
    done = run_command("score", str(path), "--json", "-", folder=folder)
    outcome = json.loads(done.stdout)
    warned = any(e["level"] == "warning" for e in outcome["exceedances"])
    assert done.returncode == (1 if warned else 0), done.stderr
    assert isinstance(outcome, dict)
    return outcome


def recorded_events(path: Path) -> list[AnyEvent]:
    """Give the recording's own event log."""
    with open_recording(path) as recording:
        return [msgspec.json.decode(line, type=AnyEvent) for line in recording.events()]


def assert_scores_as_watched(path: Path, folder: Path) -> dict:
    """Hold the score of a recording against the event log of the watch that made it."""
    outcome = score(path, folder)
    events = recorded_events(path)
    named = {kind: [e for e in events if type(e).__name__ == kind] for kind in KINDS}
    marks = [(e.range_m, e.t) for e in named["MarkPassed"]]
    assert [(m["range_m"], m["t"]) for m in outcome["marks"]] == sorted(marks, key=lambda m: m[1])
    hands_off = named["HandsOffPassed"][-1]
    assert outcome["hands_off"] == {
        "t": hands_off.t,
        "closing_rate_mps": hands_off.closing_rate_mps,
    }
    assert outcome["contact"]["t"] == named["ContactMade"][-1].t
    raised = [e for e in named["ExceedanceRaised"] if e.source is None]
    cleared = {e.key: e for e in named["ExceedanceCleared"]}
    watched = [
        (e.onset, e.id, e.level, e.t, cleared[e.key].t if e.key in cleared else None)
        for e in raised
    ]
    scored = [
        (e["onset"], e["id"], e["level"], e["raised"], e["cleared"])
        for e in outcome["exceedances"]
    ]
    assert scored == sorted(watched)
    return outcome


KINDS = ("MarkPassed", "HandsOffPassed", "ContactMade", "ExceedanceRaised", "ExceedanceCleared")


def assert_in_the_order_of_an_approach(lines: list[str]) -> None:
    """Hold the lines against the order of things in a real approach."""
    wanted = [
        r"source    optical in use", r"phase     (hold|approach)", r"call      2 metres, closing",
        r"call      Hands off", r"phase     inside hands-off", r"authority vehicle",
        r"call      1 metre, closing", r"call      Contact", r"phase     contact",
        r"phase     soft capture", r"phase     damping", r"authority none",
        r"phase     ring retraction", r"phase     hooks", r"capture   Hooks closed, 12 of 12",
        r"capture   Hard capture", r"phase     hard capture", r"^Summary", r"^  contact 2031",
        r"phase at the end: (hard capture|docked)", r"^Advisory display",
    ]  # fmt: skip
    at = -1
    for pattern in wanted:
        at = next((n for n in range(at + 1, len(lines)) if re.search(pattern, lines[n])), -1)
        assert at >= 0, f"no line {pattern!r} in its place"
    calls = [re.search(r"call      (\d+) metres?, closing", line) for line in lines]
    called = [float(found[1]) for found in calls if found]
    assert called == sorted(called, reverse=True)
    assert set(called) <= set(MARKS_M)
    stamped = [line[:22] for line in lines if re.match(r"2031-\d\d-\d\dT", line)]
    assert len(stamped) > 20
    assert all(re.fullmatch(r"2031-\d\d-\d\dT\d\d:\d\d:\d\d\.\dZ", one) for one in stamped)


def test_demo_runs_from_socket_to_score(tmp_path: Path) -> None:
    """One command flies, publishes, records and tells an approach; the file scores to the same."""
    lines, path = demo(tmp_path, "--scenario", "late_braking", "--from", "5", "--speed", "150")
    assert_in_the_order_of_an_approach(lines)
    assert any(str(path) in line for line in lines)
    outcome = assert_scores_as_watched(path, tmp_path)
    assert outcome["exceedances"]
    assert outcome["limits"]["sha256"] == load_limits(None).sha256
    assert not outcome["contact"]["within_limits"]


@pytest.mark.slow
def test_nominal_demo_ends_by_itself_in_time(tmp_path: Path) -> None:
    """The nominal approach at speed 60 ends by itself with contact and hard capture."""
    lines, path = demo(tmp_path, "--speed", "60")
    assert_in_the_order_of_an_approach(lines)
    outcome = assert_scores_as_watched(path, tmp_path)
    assert outcome["exceedances"] == []
    assert outcome["contact"]["within_limits"]
    assert outcome["lost"] == 0


@pytest.mark.slow
def test_demo_at_speed_one_is_as_fresh_as_the_scenario(tmp_path: Path) -> None:
    """At speed 1 the watch runs on the scenario's clock: no source looks stale or early."""
    lines, path = demo(tmp_path, "--from", "0.5", "--scenario", "nominal", timeout_s=600.0)
    contact = next(n for n, line in enumerate(lines) if "call      Contact" in line)
    assert not any("data:" in line for line in lines[:contact])
    with open_recording(path) as recording:
        ages = [frame.t_received_s for _, frame in recording.frames()]
        first = recording.meta.started_s
    assert ages[0] - first < 0.5
