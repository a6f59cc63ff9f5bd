"""The shipped passes hold what their table says, and their recordings replay to the byte."""

from __future__ import annotations

import csv
from itertools import pairwise
from pathlib import Path

import msgspec
import pytest
from debrief_tools import debrief_of

from console.app.around import around_in
from console.app.ship_passes import make
from console.app.ship_passes_list import SHIPPED
from console.app.ship_passes_table import HEAD, found
from console.approach.procedure_reading import parse_procedure
from console.archive.passes import read_pass
from console.archive.places import SUFFIX
from console.archive.recording import open_recording
from console.archive.shipped import shipped
from console.bench.scoring import score_pass
from console.envelope.reading import parse_limits
from console.envelope.setup_reading import parse_setup

FOLDER = shipped("replay_data", "passes")
MEGABYTE = 1_000_000
NAMES = [recipe.name for recipe in SHIPPED]
_encode = msgspec.json.Encoder(order="deterministic").encode


def rows_of_table() -> dict[str, tuple[str, ...]]:
    """Read the table of the folder's README."""
    lines = (FOLDER / "README.md").read_text(encoding="utf-8").splitlines()
    cells = [
        [cell.strip() for cell in line.strip("|").split("|")] for line in lines if line[:1] == "|"
    ]
    assert cells[0] == list(HEAD)
    return {row[0].strip("`"): tuple(row[2:]) for row in cells[2:]}


def test_there_are_enough_passes_and_they_are_small() -> None:
    """At least eight, in three forms, each under a megabyte and all under six."""
    files = [path for path in FOLDER.iterdir() if path.suffix in (".csv", ".parquet", SUFFIX)]
    assert len(files) >= 8
    assert {path.suffix for path in files} == {".csv", ".parquet", SUFFIX}
    sizes = [path.stat().st_size for path in FOLDER.iterdir()]
    assert max(sizes) < MEGABYTE
    assert sum(sizes) < 6 * MEGABYTE


def test_every_pass_has_its_row() -> None:
    """The table names each file once, and nothing else."""
    assert sorted(rows_of_table()) == sorted(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_the_table_says_what_score_finds(name: str) -> None:
    """Length, marks, contact and exceedances of a shipped pass are those of its row."""
    outcome = debrief_of(name).outcome
    assert rows_of_table()[name] == found(outcome)
    assert outcome["rejected"] == 0


def test_marks_of_a_plain_table_read_naively() -> None:
    """Two successive samples at or inside a mark, read with the csv module alone, pass it."""
    with (FOLDER / "nominal_short.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    optical = [row for row in rows if row["source"] == "optical" and row["range_m"]]
    optical.sort(key=lambda row: float(row["t"]))
    ranges = [float(row["range_m"]) for row in optical]
    outermost = ranges[0]
    passed = [
        mark
        for mark in (10.0, 5.0, 4.0, 3.0, 2.0, 1.0)
        if mark < outermost and any(max(pair) <= mark for pair in pairwise(ranges))
    ]
    assert rows_of_table()["nominal_short.csv"][1] == ", ".join(f"{m:g}" for m in passed)


def test_a_shipped_recording_replays_to_the_byte() -> None:
    """The event log kept in a recording is the one that scoring it gives."""
    path = FOLDER / "fast_hold_called.leadmark"
    kept = open_recording(path).events()
    one = read_pass(path)
    assert one.recording is not None
    meta = one.recording.meta
    setup, surroundings = around_in(meta).built(parse_setup(meta.setup_text.encode(), "setup"))
    found_events: list[bytes] = []
    score_pass(
        one,
        parse_limits(meta.limits_text.encode(), "limits"),
        setup,
        procedure=parse_procedure(meta.procedure_text.encode(), "procedure"),
        surroundings=surroundings,
        on_events=lambda events: found_events.extend(_encode(event) for event in events),
    )
    assert found_events == list(kept)
    assert len(kept) > 10


def test_made_again_a_pass_is_the_same(tmp_path: Path) -> None:
    """The command gives the shipped bytes of a table, and the shipped frames of a recording."""
    recipes = [r for r in SHIPPED if r.name in ("nominal_short.csv", "late_braking.leadmark")]
    make(tmp_path, recipes)
    for recipe in recipes:
        new, old = tmp_path / recipe.name, FOLDER / recipe.name
        if recipe.name.endswith(SUFFIX):
            with open_recording(new) as made, open_recording(old) as kept:
                assert list(made.inputs()) == list(kept.inputs())
                assert made.events() == kept.events()
                assert made.notes() == kept.notes()
        else:
            assert new.read_bytes() == old.read_bytes()
