"""The readers of passes under test: tables, with and without a mapping, Parquet and recordings.

What is accepted must be fit to be judged, and a table must come back the same once written.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pyarrow.csv
import pyarrow.parquet  # noqa: F401  (its hundred megabytes are not the first table's fault)
from fuzz_holds import check_refusal, folder, require

from console.approach.action import Note
from console.archive.csv_pass import read_csv_pass
from console.archive.csv_write import write_csv_pass
from console.archive.mapping import parse_mapping
from console.archive.parquet_pass import read_parquet_pass, write_parquet_pass
from console.archive.recorded_pass import Pass
from console.archive.recording import EngineTime, Recorder, RecordingMeta, open_recording
from console.archive.shipped import shipped
from console.core.errors import InputError
from console.core.ids import SourceId
from console.core.records import CaptureStatus, Frame, RelativeSample
from console.wire.encode import Form, encode

T0 = 1_933_580_000.0


def run_csv(data: bytes) -> str:
    """Read a table of text; write what was taken and read that."""
    return _table("pass.csv", data, read_csv_pass, write_csv_pass)


def run_parquet(data: bytes) -> str:
    """Read a Parquet table; write what was taken and read that."""
    return _table("pass.parquet", data, read_parquet_pass, write_parquet_pass)


def _table(
    name: str, data: bytes, read: Callable[[Path], Pass], write: Callable[..., object]
) -> str:
    path = folder() / name
    path.write_bytes(data)
    try:
        one = read(path)
    except InputError as error:
        check_refusal(error, path.name)
        return "refused"
    for reject in one.rejects:
        require(bool(reject.reason), "a row rejected without a reason")
        require(f"{reject.reason} {reject.detail}".isprintable(), f"not printable: {reject}")
    records = [r for r in one.records() if isinstance(r, RelativeSample | CaptureStatus)]
    if not records:
        return "no row taken"
    again_path = folder() / f"again-{name}"
    write(again_path, records, one.header)
    again = read(again_path)
    require(not again.rejected, f"written rows are rejected: {again.rejected} {again.rejects}")
    require(list(again.records()) == records, "other records came back")
    require(again.header == one.header, f"{one.header} came back as {again.header}")
    return "taken"


TABLE = b"""No;Sensor;Elapsed ms;Slant mm;Opening mm/s;Right mm;Up mm;Right mm/s;Up mm/s;\
Roll mrad;Pitch mrad;Yaw mrad;Good;seq;t;range_m;source
0;optical;2100000.0;9030.25;-86.99;60.00;-30.00;-1.00;-5.00;8.378;-6.458;0.175;1;0;1933580100;9;a
1;optical;2100200.0;8940.32;-83.99;70.00;-30.00;2.00;4.00;2.094;-5.934;0.698;0;1;1933580101;8;b
"""


def run_mapping(data: bytes) -> str:
    """Read a mapping, and a table by it."""
    name = "columns.mapping.toml"
    try:
        mapping = parse_mapping(data, name)
    except InputError as error:
        check_refusal(error, name)
        return "refused"
    path = folder() / "mapped.csv"
    if not path.exists():
        path.write_bytes(TABLE)
    try:
        list(read_csv_pass(path, mapping).records())
    except InputError as error:
        line = str(error)
        check_refusal(error, name if name in line else path.name)
        return "taken, no table by it"
    return "taken"


def run_recording(data: bytes) -> str:
    """Open a recording, salvaged where it is damaged, and read everything in it."""
    path = folder() / "pass.leadmark"
    Path(f"{path}-wal").unlink(missing_ok=True)
    path.write_bytes(data)
    try:
        with open_recording(path) as recording:
            numbers = [number for number, _ in recording.frames()]
            require(all(a < b for a, b in pairwise(numbers)), "frames out of order")
            require(len(numbers) == recording.extent.frames, "another count of frames than said")
            list(recording.inputs())
            columns, notes = recording.columns(), recording.notes()
            require(columns.t.ndim == 1, "columns of another shape")
            require(all(note.text.isprintable() for note in notes), f"not printable: {notes}")
            recording.events(), recording.gaps(), recording.rejects()
            damage = recording.damage
    except InputError as error:
        check_refusal(error, path.name)
        return "refused"
    if damage is None:
        return "taken"
    require(damage.words.isprintable(), f"not printable: {damage.words!r}")
    return "salvaged"


# -------------------------------------------------------------------------------------- seeds


def csv_seeds() -> list[bytes]:
    """Give the begins of the shipped tables."""
    found = []
    for path in sorted(shipped("replay_data", "passes").glob("*.csv")):
        lines = path.read_bytes().splitlines(keepends=True)
        found += [b"".join(lines[:5]), b"".join(lines[3:7]), b"".join([*lines[3:5], *lines[-2:]])]
    bare = b"seq,t,range_m,range_rate_mps,y_m,z_m,q,source\n"
    return [
        *found,
        bare + b'3,2031-04-10T09:00:00Z,9,-0.1,0,0,"1;0;0;0",a\n',
        bare.replace(b",", b";") + b"3;1932100000;9;-0.1;0;0;;a\n",
        b"\xef\xbb\xbf# title: x\r\n" + bare.replace(b"\n", b"\r\n") + b",,,,,,,\r\n\r\n",
    ]


def _some(count: int) -> list[RelativeSample | CaptureStatus]:
    """Give samples with rates now and then, and one capture status."""
    rows: list[RelativeSample | CaptureStatus] = [
        RelativeSample(
            SourceId("optical"), n, T0 + 0.1 * n, 20.0 - 0.009 * n, -0.09, 0.01, -0.02, 0.1, 0.2,
            -0.3, y_rate_mps=0.001 if n % 2 else None, roll_rate_dps=0.01, valid=n % 7 != 6,
        )
        for n in range(count)
    ]  # fmt: skip
    rows.append(
        CaptureStatus(
            SourceId("mechanism"), 0, T0 + 60.0, contact=True, soft_capture=False,
            ring_extension=1.0, ready_to_hook=(True, False), hooks=(0.0, 0.5), hard_capture=False,
        )
    )  # fmt: skip
    return rows


def parquet_seeds() -> list[bytes]:
    """Give small tables with and without facts."""
    seeds = []
    for count, header in ((3, {}), (12, {"title": "a", "port": "b"})):
        path = folder() / "seed.parquet"
        write_parquet_pass(path, _some(count), header)
        seeds.append(path.read_bytes())
    return seeds


def recording_seeds() -> list[bytes]:
    """Give a short recording with something in every table, and its first and last parts."""
    with tempfile.TemporaryDirectory() as made:
        path = Path(made) / "seed.leadmark"
        meta = RecordingMeta(started_s=T0, engine_time=EngineTime.RECEIVE, title="a")
        with Recorder(path, meta) as recorder:
            for record in _some(20):
                number = recorder.frame(Frame(record.t, *encode(record, Form.MESSAGEPACK)))
                recorder.sample(record, number)
            recorder.action(T0 + 61.0, Note(text="a note"), number)
            recorder.event(b'{"kind":"note"}', number)
            recorder.flush()
        whole = path.read_bytes()
    return [whole, whole[: len(whole) // 2], bytes(4096) + whole[4096:]]
