"""Recording and reading passes: rows a second, bytes a row, bulk reading, a table of 2 M rows.

Run from the project's folder: ``python tests/benchmarks/recording.py [SAMPLES] [TABLE_ROWS]``.
Each figure stands beside a bare baseline of the same run; absolute numbers belong to the machine.

Goals: FULL at least half the rows of NORMAL; at most three times the bytes of the raw floats, raw
frame and columns both kept; reading in bulk at most five times ``np.load``.
"""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import msgspec
import numpy as np

from console.archive.recording import EngineTime, Recorder, RecordingMeta, open_recording
from console.archive.recording.rows import sample_row
from console.archive.recording.schema import COLUMNS
from console.archive.recording.store import Store
from console.core.ids import SourceId
from console.core.records import Frame, RelativeSample

META = RecordingMeta(started_s=1.933e9, engine_time=EngineTime.RECEIVE)
T0 = 1.933e9
ROWS_A_BATCH = 1000
REPEATS = 3
STATE = 12
RAW_BYTES = 8 * (STATE + 3)  # twelve numbers, seq, t and valid, 8 bytes each


def main(count: int, table_rows: int) -> None:
    """Run everything and print the table."""
    show("", "ours", "baseline", None, "goal")
    folder = Path(tempfile.mkdtemp(prefix="leadmark-bench-"))
    try:
        relative, frames = made(count)
        writing(folder, relative, frames)
        path = folder / "whole.leadmark"
        handing_in(path, relative, frames)
        size(path, len(relative), frames)
        bulk(path, folder, len(relative))
        streaming(path, len(relative))
        burst(folder, relative, frames)
        table(folder, table_rows)
    finally:
        shutil.rmtree(folder)


def show(what: str, ours: str, baseline: str, ratio: float | None, goal: str = "") -> None:
    """Print a line of the table."""
    shown = "" if ratio is None else f"{ratio:.2f}"
    sys.stdout.write(f"{what:<58} {ours:>12} {baseline:>12} {shown:>7}  {goal}\n")
    sys.stdout.flush()


def made(count: int) -> tuple[list[RelativeSample], list[Frame]]:
    """Make samples and their messages, all rates sent, every number with a full mantissa."""
    rng = np.random.default_rng(1)
    numbers = rng.normal(0.0, 1.0, (count, STATE)).tolist()
    source = SourceId("optical")
    relative = [
        RelativeSample(source, n, T0 + n * 0.001, *row) for n, row in enumerate(numbers, start=1)
    ]
    names = [name for name in RelativeSample.__struct_fields__ if name != "source"]
    encode = msgspec.msgpack.Encoder().encode
    frames = [
        Frame(s.t, b"rel/optical", encode({name: getattr(s, name) for name in names}))
        for s in relative
    ]
    return relative, frames


def best(work: Callable[[], None]) -> float:
    """Give the least wall time of some runs, s."""
    times = []
    for _ in range(REPEATS):
        begin_s = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin_s)
    return min(times)


def writing(
    folder: Path, relative: list[RelativeSample], frames: list[Frame]
) -> tuple[float, float]:
    """Commit batches of 1,000 samples, frame and columns each; give samples/s, FULL and NORMAL."""
    count = min(len(relative), 100_000)
    frame_rows = [(n, f.t_received_s, "rel/optical", f.payload) for n, f in enumerate(frames, 1)]
    sample_rows = [sample_row(n, s) for n, s in enumerate(relative, 1)]

    def run(mode: str) -> None:
        path = folder / "writing.leadmark"
        path.unlink(missing_ok=True)
        store = Store.create(path, META, mode)
        for start in range(0, count, ROWS_A_BATCH):
            part = slice(start, start + ROWS_A_BATCH)
            store.write({"frames": frame_rows[part], "samples": sample_rows[part]})
        store.finish()

    normal_s = best(lambda: run("NORMAL"))
    full_s = best(lambda: run("FULL"))
    show(
        "commit, FULL against NORMAL, samples/s",
        f"{count / full_s:,.0f}",
        f"{count / normal_s:,.0f}",
        normal_s / full_s,
        "at least 0.5",
    )
    return count / full_s, count / normal_s


def handing_in(path: Path, relative: list[RelativeSample], frames: list[Frame]) -> None:
    """Record through the recorder as a watch does; what the caller's threads pay."""
    with Recorder(path, META) as recorder:
        paid_s = 0.0
        for start in range(0, len(frames), 20_000):
            begin_s = time.thread_time()
            for index in range(start, min(start + 20_000, len(frames))):
                number = recorder.frame(frames[index])
                recorder.sample(relative[index], number)
            paid_s += time.thread_time() - begin_s
            recorder.flush(60.0)
        begin_s = time.perf_counter()
        assert recorder.status().lost_frames == 0
    close_s = time.perf_counter() - begin_s
    each_us = paid_s / len(frames) * 1e6
    show("handing in a frame and its sample, CPU us", f"{each_us:.2f}", "", None)
    show("ending a recording, s", f"{close_s:.3f}", "", None)


def size(path: Path, count: int, frames: list[Frame]) -> float:
    """Bytes a sample, by table; give those of the whole."""
    each = path.stat().st_size / count
    show(
        "bytes a sample against the raw floats",
        f"{each:.0f}",
        f"{RAW_BYTES}",
        each / RAW_BYTES,
        "at most 3",
    )
    with closing(sqlite3.connect(path)) as connection:
        for name in ("frames", "samples", "blocks"):
            query = "SELECT sum(pgsize) FROM dbstat WHERE name = ?"
            (used,) = connection.execute(query, (name,)).fetchone()
            show(f"    of these in {name}", f"{used / count:.0f}", "", None)
    show("    of these the payload as it came", f"{len(frames[0].payload)}", "", None)
    return each


def bulk(path: Path, folder: Path, count: int) -> tuple[float, float]:
    """All samples as arrays, against np.load of the same floats, and row by row by SQL.

    Gives the seconds of the first two.
    """
    floats = folder / "floats.npy"
    with open_recording(path) as recording:
        columns = recording.columns()
        values = [columns.t, *columns.values.values()]
        np.save(floats, np.column_stack([*values, columns.seq, columns.valid]))
        bulk_s = best(lambda: read_columns(path))
    load_s = best(lambda: read_array(floats))
    show(
        f"bulk reading {count:,} samples, s, against np.load",
        f"{bulk_s:.3f}",
        f"{load_s:.3f}",
        bulk_s / load_s,
        "at most 5",
    )
    wanted = ", ".join(COLUMNS["samples"][4:])

    def by_rows() -> None:
        with closing(sqlite3.connect(path)) as connection:
            connection.execute(f"SELECT {wanted} FROM samples").fetchall()

    begin_s = time.perf_counter()
    by_rows()
    rows_s = time.perf_counter() - begin_s
    show("    the same by SQL rows", f"{rows_s:.3f}", f"{load_s:.3f}", rows_s / load_s)
    return bulk_s, load_s


def read_columns(path: Path) -> None:
    """Open a recording without its check and read it in bulk, touching what was read."""
    from console.archive.recording.reader import Recording

    columns = Recording(path, path, None, None).columns()
    assert columns.t[-1] > 0.0


def read_array(path: Path) -> None:
    """Load an array, touching what was read."""
    assert np.load(path)[-1, 0] > 0.0


def streaming(path: Path, count: int) -> None:
    """Open with the check, and hand out inputs one by one as a replay does."""
    begin_s = time.perf_counter()
    recording = open_recording(path)
    open_s = time.perf_counter() - begin_s
    show("opening, with the check for damage, s", f"{open_s:.3f}", "", None)
    begin_s = time.perf_counter()
    assert count == sum(1 for _ in recording.inputs())
    rate = count / (time.perf_counter() - begin_s)
    show("inputs of a replay, a second", f"{rate:,.0f}", "", None)
    begin_s = time.perf_counter()
    next(iter(recording.inputs(count // 2)))
    show(
        "first input from the middle, ms", f"{(time.perf_counter() - begin_s) * 1e3:.1f}", "", None
    )


def burst(folder: Path, relative: list[RelativeSample], frames: list[Frame]) -> None:
    """Hand in 20,000 samples at once, and wait until all are committed."""
    path = folder / "burst.leadmark"
    with Recorder(path, META) as recorder:
        recorder.flush()
        begin_s = time.perf_counter()
        for frame, record in zip(frames[:20_000], relative, strict=False):
            recorder.sample(record, recorder.frame(frame))
        assert recorder.flush(30.0)
        took_s = time.perf_counter() - begin_s
        lost = recorder.status().lost_frames
    show(f"burst of 20,000, lost {lost}, s until committed", f"{took_s:.3f}", "", None)


def table(folder: Path, rows: int) -> None:
    """Read a CSV of millions of rows in a process of its own, against pandas alone."""
    path = folder / "table.csv"
    write_table(path, rows)
    size_mb = path.stat().st_size / 1e6
    ours = in_process("ours", path)
    pandas = in_process("pandas", path)
    show(
        f"CSV of {rows:,} rows ({size_mb:.0f} MB), s, against pandas",
        f"{ours[0]:.2f}",
        f"{pandas[0]:.2f}",
        ours[0] / pandas[0],
    )
    show("    peak memory, MB", f"{ours[1]:.0f}", f"{pandas[1]:.0f}", ours[1] / pandas[1])
    show("    then all records one by one, s", f"{ours[2]:.2f}", "", None)
    show("    peak memory after that, MB", f"{ours[3]:.0f}", "", None)


def write_table(path: Path, rows: int) -> None:
    """Write two sources' samples, every number with a full mantissa."""
    import pyarrow as pa
    from pyarrow import csv

    rng = np.random.default_rng(2)
    index = np.arange(rows)
    columns = {
        "source": np.where(index % 2, "optical", "radio"),
        "seq": index // 2,
        "t": T0 + index * 0.05,
    }
    names = RelativeSample.__struct_fields__[3:-1]
    columns |= {name: rng.normal(0.0, 1.0, rows) for name in names}
    columns["valid"] = rng.random(rows) < 0.99
    csv.write_csv(pa.table(columns), path)


def in_process(what: str, path: Path) -> list[float]:
    """Run one reading in a fresh process; give its figures."""
    done = subprocess.run(
        [sys.executable, __file__, what, str(path)], capture_output=True, text=True, check=True
    )
    return [float(word) for word in done.stdout.split()]


def read_ours(path: Path) -> None:
    """Read by the project's own reader; print seconds and peak memory."""
    from console.archive.passes import read_pass

    begin_s = time.perf_counter()
    one = read_pass(path)
    tell(time.perf_counter() - begin_s)
    begin_s = time.perf_counter()
    assert len(one.columns()) == sum(1 for _ in one.records())
    tell(time.perf_counter() - begin_s)


def read_pandas(path: Path) -> None:
    """Read by pandas with nothing checked and nothing sorted."""
    import pandas as pd

    begin_s = time.perf_counter()
    assert len(pd.read_csv(path))
    tell(time.perf_counter() - begin_s)


def tell(took_s: float) -> None:
    """Write a time, s, and the greatest resident memory so far, MB, for the process that asked."""
    # Not getrusage: its peak counts what the parent held when it forked.
    status = Path("/proc/self/status").read_text()
    peak_mb = int(status.split("VmHWM:")[1].split()[0]) / 1e3
    sys.stdout.write(f"{took_s} {peak_mb}\n")


if __name__ == "__main__":
    if sys.argv[1:2] == ["ours"]:
        read_ours(Path(sys.argv[2]))
    elif sys.argv[1:2] == ["pandas"]:
        read_pandas(Path(sys.argv[2]))
    else:
        arguments = [int(word.replace("_", "")) for word in sys.argv[1:]]
        main(*(arguments + [1_000_000, 2_000_000][len(arguments) :])[:2])
