"""A shipped pass in somebody else's columns, and the mapping that reads it."""

from __future__ import annotations

import csv
import itertools
import math
from collections.abc import Sequence
from pathlib import Path

from console.archive.mapping import SUFFIX
from console.core.records import CaptureStatus, RelativeSample

EPOCH = "2031-04-10T09:00:00Z"
EPOCH_S = 1_933_578_000.0

HEAD = (
    "No", "Sensor", "Elapsed ms", "Slant mm", "Opening mm/s", "Right mm", "Up mm",
    "Right mm/s", "Up mm/s", "Roll mrad", "Pitch mrad", "Yaw mrad", "Good",
)  # fmt: skip

MAPPING = f"""\
# How the columns of foreign_columns.csv become fields: milliseconds from an epoch, slant range and
# its rate in millimetres, a rate that is positive while opening, angles in milliradians.
format = 1

[columns]
seq = "No"
source = "Sensor"
t = {{ column = "Elapsed ms", unit = "ms", epoch = "{EPOCH}" }}
range_m = {{ column = "Slant mm", unit = "mm", slant = true }}
range_rate_mps = {{ column = "Opening mm/s", unit = "mm/s", slant = true }}
y_m = {{ column = "Right mm", unit = "mm" }}
z_m = {{ column = "Up mm", unit = "mm" }}
y_rate_mps = {{ column = "Right mm/s", unit = "mm/s" }}
z_rate_mps = {{ column = "Up mm/s", unit = "mm/s" }}
roll_deg = {{ column = "Roll mrad", unit = "mrad" }}
pitch_deg = {{ column = "Pitch mrad", unit = "mrad" }}
yaw_deg = {{ column = "Yaw mrad", unit = "mrad" }}
valid = "Good"
"""


def write_foreign(path: Path, records: Sequence[RelativeSample | CaptureStatus]) -> None:
    """Write the samples up to contact with semicolons and foreign columns, and the mapping."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, delimiter=";", lineterminator="\n")
        writer.writerow(HEAD)
        samples = [record for record in records if isinstance(record, RelativeSample)]
        before = itertools.takewhile(lambda sample: sample.range_m > 0.0, samples)
        writer.writerows(_row(sample) for sample in before)
    path.with_name(path.stem + SUFFIX).write_text(MAPPING, encoding="utf-8")


def _row(s: RelativeSample) -> list[str]:
    y_rate, z_rate = s.y_rate_mps or 0.0, s.z_rate_mps or 0.0
    slant = math.sqrt(s.range_m**2 + s.y_m**2 + s.z_m**2)
    opening = (s.range_m * s.range_rate_mps + s.y_m * y_rate + s.z_m * z_rate) / slant
    millimetres = (slant, opening, s.y_m, s.z_m, y_rate, z_rate)
    angles = (s.roll_deg, s.pitch_deg, s.yaw_deg)
    return [
        str(s.seq), s.source, f"{(s.t - EPOCH_S) * 1e3:.1f}",
        *(f"{value * 1e3:.2f}" for value in millimetres),
        *(f"{math.radians(value) * 1e3:.3f}" for value in angles),
        "1" if s.valid else "0",
    ]  # fmt: skip
