"""A short soak with a clock that is set; the long ones are ``tests/benchmarks/soak.py``."""

from __future__ import annotations

import mmap

import numpy as np
import pytest

from console.archive.recording import open_recording
from tests.benchmarks.soak import soak_fast
from tests.benchmarks.soak_figures import columns_of, draw, report, slope_of
from tests.benchmarks.soak_meter import resident_bytes
from tests.benchmarks.soak_traffic import GARBAGE_EVERY_S, OPTICAL, RADIO, SILENT_S, traffic

LENGTH_S = 345.0
RATES_HZ = {OPTICAL: 5.0, RADIO: 5.0}


def test_a_cycle_of_everything(tmp_path):
    """Every message is fed, recorded and counted; nothing waits, nothing overflows."""
    soak_fast(tmp_path, LENGTH_S, every_s=50.0, rates_hz=RATES_HZ)
    table = columns_of(tmp_path / "soak.csv")
    last = {name: column[-1] for name, column in table.items()}
    sent = list(traffic(LENGTH_S, RATES_HZ, 1_933_580_000.0))
    assert last["fed"] == len(sent)
    assert last["rejected"] == sum(1 for one in sent if one.record is None)
    assert last["rejected"] == int(LENGTH_S / GARBAGE_EVERY_S)
    silent_s = sum(end - begin for name in (OPTICAL, RADIO) for begin, end in SILENT_S[name])
    assert last["lost"] == pytest.approx(silent_s * RATES_HZ[OPTICAL], abs=4)
    assert last["overflowed"] == 0
    assert max(table["queue"]) == 0
    assert last["events"] > 40
    with open_recording(tmp_path / "recorded.leadmark") as recording:
        assert sum(1 for _ in recording.frames()) == len(sent)
    lines = report(tmp_path / "soak.csv", from_s=100.0, until_s=LENGTH_S, title="A soak")
    assert any(line.startswith(f"fed {len(sent)}") for line in lines)
    draw(tmp_path / "soak.csv", tmp_path / "s.svg", from_s=100.0, until_s=340.0, title="A soak")
    assert b"</svg>" in (tmp_path / "s.svg").read_bytes()[-20:]


def test_only_what_was_written_to_counts_as_resident():
    """Of an array of 64 MB whose first quarter was written to, a quarter is in memory."""
    # its own mapping: an allocator may hand out memory that was written to before
    array = np.frombuffer(mmap.mmap(-1, 1 << 26), np.uint8)
    array[: 1 << 24] = 1
    # the system may hand out 2 MB at a time
    assert resident_bytes(array) == pytest.approx(1 << 24, abs=4 << 20)


@pytest.mark.parametrize("per_h", [0.0, 5.0])
def test_slope_holds_the_true_one(per_h):
    """Of readings that hang together, 95 of 100 intervals hold the slope, give or take a few."""
    rng = np.random.default_rng(7)
    t_s = np.arange(0.0, 3000.0, 5.0)
    held = 0
    for _ in range(100):
        noise = rng.normal(0.0, 0.2, len(t_s))
        for n in range(1, len(noise)):
            noise[n] += 0.8 * noise[n - 1]
        slope = slope_of(t_s, 150.0 + per_h * t_s / 3600.0 + noise)
        held += slope.low_per_h <= per_h <= slope.high_per_h
    assert 88 <= held <= 99
