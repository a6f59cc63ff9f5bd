"""Tables a user might have, at two million rows: time and peak memory of reading each.

Run it: ``python -m tests.benchmarks.foreign_tables [ROWS]`` from the top folder. Every shape holds
the same samples of two sources at 20 Hz together, range going in and out; each is read in a fresh
process by the pass reader. The last line opens the plain one as a replay, as far as its first
picture. Seed 2. Time is of the processor, so that a busy machine does not count.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

T0 = 1_933_000_000.0
COLUMNS = ("range_m", "range_rate_mps", "y_m", "z_m", "roll_deg", "pitch_deg", "yaw_deg")
MAPPING = """
format = 1
[columns]
source = "Sensor"
seq = "No"
t = { column = "Time", unit = "ms", epoch = "2031-04-03T15:06:40Z" }
range_m = { column = "Distance", unit = "mm" }
range_rate_mps = { column = "Closing", unit = "mm/s", sign = -1 }
y_m = { column = "Y", unit = "mm" }
z_m = { column = "Z", unit = "mm", sign = -1 }
roll_deg = { column = "Roll", unit = "rad" }
pitch_deg = { column = "Pitch", unit = "rad" }
yaw_deg = { column = "Yaw", unit = "rad" }
"""


def columns(rows: int) -> dict[str, Any]:
    """Give the table's columns, every number with a full mantissa."""
    rng = np.random.default_rng(2)
    index = np.arange(rows)
    t = T0 + index * 0.05
    phase = 2.0 * np.pi * (t - T0) / 4000.0
    made: dict[str, Any] = {
        "source": np.where(index % 2, "optical", "radio"), "seq": index // 2, "t": t,
        "range_m": 100.0 + 95.0 * np.cos(phase) + rng.normal(0.0, 0.005, rows),
        "range_rate_mps": -95.0 * np.sin(phase) * 2.0 * np.pi / 4000.0
        + rng.normal(0.0, 0.002, rows),
    }  # fmt: skip
    made |= {name: rng.normal(0.0, 0.05, rows) for name in COLUMNS[2:]}
    return made


def write(made: dict[str, Any], path: Path, separator: str = ",", mark: bytes = b"") -> None:
    """Write columns as CSV."""
    import pyarrow as pa
    from pyarrow import csv

    with path.open("wb") as file:
        file.write(mark)
        csv.write_csv(pa.table(made), file, csv.WriteOptions(delimiter=separator))


def plain(made: dict[str, Any], path: Path) -> None:
    """Write it as the manual says."""
    write(made, path)


def other_separator(made: dict[str, Any], path: Path) -> None:
    """Write it with semicolons and a byte-order mark."""
    write(made, path, ";", b"\xef\xbb\xbf")


def iso_times(made: dict[str, Any], path: Path) -> None:
    """Write its times in ISO 8601 with Z."""
    micro = np.round(made["t"] * 1e6).astype("datetime64[us]")
    text = np.char.add(np.datetime_as_string(micro), "Z")
    write({**made, "t": text}, path)


def knots(made: dict[str, Any], path: Path) -> None:
    """Leave stretches of values away: one row in a hundred has no range, ten in a row no yaw."""
    import pyarrow as pa

    index = np.arange(len(made["t"]))
    no_range, no_yaw = index % 100 == 7, index % 1000 < 10
    changed = {
        "range_m": pa.array(made["range_m"], mask=no_range),
        "yaw_deg": pa.array(made["yaw_deg"], mask=no_yaw),
    }
    write({**made, **changed}, path)


def own_columns(made: dict[str, Any], path: Path) -> None:
    """Write millimetres, milliseconds, radians and reversed signs under other names."""
    other = {
        "Sensor": made["source"], "No": made["seq"], "Time": (made["t"] - T0) * 1e3,
        "Distance": made["range_m"] * 1e3, "Closing": -made["range_rate_mps"] * 1e3,
        "Y": made["y_m"] * 1e3, "Z": -made["z_m"] * 1e3, "Roll": np.radians(made["roll_deg"]),
        "Pitch": np.radians(made["pitch_deg"]), "Yaw": np.radians(made["yaw_deg"]),
    }  # fmt: skip
    write(other, path)
    path.with_name(path.stem + ".mapping.toml").write_text(MAPPING, encoding="utf-8")


def parquet(made: dict[str, Any], path: Path) -> None:
    """Write it as Parquet."""
    import pyarrow as pa
    from pyarrow import parquet as pq

    pq.write_table(pa.table(made), path)


SHAPES: dict[str, tuple[Callable[[dict[str, Any], Path], None], str]] = {
    "as the manual says": (plain, "plain.csv"),
    "semicolons, byte-order mark": (other_separator, "semicolons.csv"),
    "ISO times": (iso_times, "iso.csv"),
    "knots of missing values": (knots, "knots.csv"),
    "mm, ms, rad, reversed signs": (own_columns, "own.csv"),
    "Parquet": (parquet, "plain.parquet"),
}


def in_process(what: str, path: Path) -> list[str]:
    """Run one reading in a fresh process; give its words."""
    command = [sys.executable, "-m", "tests.benchmarks.foreign_tables", what, str(path)]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout.split()


def tell(*words: object) -> None:
    """Write words, the processor's seconds and the peak memory, MB, for who asked."""
    status = Path("/proc/self/status").read_text(encoding="utf-8")
    peak_mb = int(status.split("VmHWM:")[1].split()[0]) / 1e3
    print(*words, f"{time.process_time():.2f}", f"{peak_mb:.0f}")


def read(path: Path) -> None:
    """Read a table and tell what it took."""
    from console.archive.passes import read_pass

    one = read_pass(path)
    tell(len(one.columns()), one.rejected_count)


def replay(path: Path) -> None:
    """Open a table as a replay, as far as its first picture, and read 20,000 inputs on."""
    from console.app.replay import session_of

    session = session_of(path)
    assert session.snapshot() is not None
    first_s = time.process_time()
    session._engine.scan.read(20_000)
    per_input_us = 1e6 * (time.process_time() - first_s) / 20_000
    tell(f"{first_s:.2f}", f"{per_input_us:.0f}")
    session.stop()


def main(rows: int) -> None:
    """Write and read every shape; print the table."""
    made = columns(rows)
    print(f"{rows:,} rows; seconds of the processor, peak memory of the process")
    with tempfile.TemporaryDirectory(prefix="leadmark-tables-") as folder:
        for name, (write_shape, file_name) in SHAPES.items():
            path = Path(folder) / file_name
            write_shape(made, path)
            size_mb = path.stat().st_size / 1e6
            taken, rejected, took, peak = in_process("read", path)
            print(
                f"{name:<28} {size_mb:5.0f} MB  {took:>6} s  {peak:>5} MB  "
                f"taken {taken}, rejected {rejected}",
                flush=True,
            )
        first, per_input, _, peak = in_process("replay", Path(folder) / "plain.csv")
        print(f"opened as a replay: first picture after {first} s, peak {peak} MB, ", end="")
        print(f"then {per_input} us for each row read ahead")


if __name__ == "__main__":
    words = sys.argv[1:]
    if words[:1] == ["read"]:
        read(Path(words[1]))
    elif words[:1] == ["replay"]:
        replay(Path(words[1]))
    else:
        main(int(words[0].replace("_", "")) if words else 2_000_000)
