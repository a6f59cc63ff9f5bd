"""Write a recording as a table, decoded again from its raw frames, in the order received."""

from __future__ import annotations

from pathlib import Path

from console.archive.csv_write import write_csv_pass
from console.archive.parquet_pass import write_parquet_pass
from console.archive.passes import pass_of_recording
from console.archive.recording import Recording


def export_recording(recording: Recording, target: Path) -> int:
    """Export to CSV, or to Parquet where the target's name ends so; give the number of rows.

    Duplicates and late samples are left in. A table is judged in order of time and a recording
    in the order received, so the two may differ in what is late.

    Raises
    ------
    InputError
        The target cannot be written, or the recording cannot be read.
    """
    one = pass_of_recording(recording)
    header = {**one.header, "note": f"exported from {one.name}"}
    write = write_parquet_pass if target.suffix == ".parquet" else write_csv_pass
    return write(target, one.records(), header)
