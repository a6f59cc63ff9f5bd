"""A debrief of a pass whose capture statuses hold numbers that can be no reading."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np
from debrief_tools import FOLDER

from console.app.score import ScoreOrder, score_one
from console.debrief import figures
from console.debrief.page import Figure
from console.wire.rules import CAPTURE_NUMBERS

EVERY = 7


def test_the_largest_floats_there_are_spoil_no_figure(tmp_path: Path) -> None:
    """Every seventh status says so in all its numbers: drawn from the others."""
    text = (FOLDER / "nominal_short.csv").read_text(encoding="utf-8")
    head = [line for line in text.splitlines() if line.startswith("#")]
    rows = list(csv.DictReader(text.splitlines()[len(head) :]))
    wrong = 0
    for n, row in enumerate(row for row in rows if not row["range_m"]):
        if n % EVERY == 0:
            sign = "-" if n % 2 else ""
            row.update(dict.fromkeys(CAPTURE_NUMBERS, f"{sign}1.7e308"))
            row["hooks"] = "0;1.7e308;1.7e308"
            wrong += 1
    assert wrong > 5
    table = io.StringIO()
    writer = csv.DictWriter(table, rows[0])
    writer.writeheader()
    writer.writerows(rows)
    path = tmp_path / "wrong.csv"
    path.write_text(table.getvalue(), encoding="utf-8")
    result = score_one(path, ScoreOrder(wants_report=True))
    assert result.debrief is not None, result.refusal
    columns = result.debrief.course.capture
    for name in ("rel_rate_mps", "rel_rate_dps", "ring_extension"):
        assert np.isfinite(columns[name]).any()
    for name in set(columns) - {"t"}:
        assert not (np.abs(columns[name]) > 1000.0).any()
    assert figures.svg(Figure.CAPTURE, result.debrief).startswith(b"<?xml")
