"""Reading all samples of a recording at once gives what went in, to the bit."""

from __future__ import annotations

import math
import struct
from pathlib import Path

import numpy as np
import pytest
from archive_tools import META, frame_of, record_pass, samples
from hypothesis import given, settings
from hypothesis import strategies as st

from console.archive.recording import Recorder, open_recording
from console.archive.recording.rows import BLOCK_COLUMNS, pack_block, sample_row, unpack_block
from console.archive.recording.schema import BLOCK_ROWS
from console.core.ids import SourceId
from console.core.records import RelativeSample


@pytest.mark.parametrize("count", [0, 1, BLOCK_ROWS - 1, BLOCK_ROWS, BLOCK_ROWS + 1, 3000])
def test_columns_equal_the_samples_handed_in(tmp_path: Path, count: int) -> None:
    """Sealed blocks and the rows after them join without seam."""
    path = tmp_path / "a.leadmark"
    relative = samples(count)
    record_pass(path, relative)
    columns = open_recording(path).columns()
    assert relative == list(columns.samples())
    assert list(range(1, count + 1)) == columns.row.tolist()


def test_blocks_are_sealed_across_batches(tmp_path: Path) -> None:
    """A block may be filled by many small transactions; one large one may fill several."""
    path = tmp_path / "a.leadmark"
    relative = samples(2000)
    with Recorder(path, META) as recorder:
        for count, record in enumerate(relative):
            recorder.sample(record, recorder.frame(frame_of(record)))
            if count < 600 and count % 50 == 0:
                assert recorder.flush()
            if count == 700:
                assert relative[:701] == read_live(recorder, 701)
    assert relative == list(open_recording(path).columns().samples())


def read_live(recorder: Recorder, count: int) -> list[RelativeSample]:
    """Read a recording that goes on."""
    assert recorder.flush()
    columns = open_recording(recorder.path).columns()
    assert count == len(columns)
    return list(columns.samples())


finite = st.floats(allow_nan=False, allow_infinity=False)
any_sample = st.builds(
    RelativeSample,
    st.sampled_from(["optical", "radio", "grün"]).map(SourceId),
    st.integers(0, 2**63 - 1),
    *[finite] * 8,
    *[st.none() | finite] * 5,
    st.booleans(),
)


@settings(max_examples=60)
@given(st.lists(any_sample, min_size=1, max_size=10))
def test_a_block_keeps_every_bit(content: list[RelativeSample]) -> None:
    """Against the struct module's own packing, column by column."""
    codes = {"optical": 0, "radio": 1, "grün": 2}
    rows = [sample_row(number, record) for number, record in enumerate(content, start=5)]
    data = pack_block(rows, codes)
    expected = b""
    for name in BLOCK_COLUMNS:
        for number, record in enumerate(content, start=5):
            if name == "frame":
                expected += struct.pack("<q", number)
            elif name == "source_code":
                expected += struct.pack("<q", codes[record.source])
            elif name in {"seq", "valid"}:
                expected += struct.pack("<q", getattr(record, name))
            else:
                value = getattr(record, name)
                expected += struct.pack("<d", math.nan if value is None else value)
    assert expected == data
    assert (len(BLOCK_COLUMNS), len(rows)) == unpack_block(data, len(rows)).shape


def test_signs_of_zero_and_integers_keep(tmp_path: Path) -> None:
    """SQLite stores 20.0 and -0.0 as integers of its own; the block must not."""
    path = tmp_path / "a.leadmark"
    record = RelativeSample(SourceId("optical"), 2**53 + 1, 2e9, -0.0, 20.0, *[0.0] * 5)
    record_pass(path, [record] * BLOCK_ROWS)
    columns = open_recording(path).columns()
    assert np.signbit(columns.values["range_m"]).all()
    assert {2**53 + 1} == set(columns.seq.tolist())
    assert (columns.values["range_rate_mps"] == 20.0).all()
