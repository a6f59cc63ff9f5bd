"""Messages for the tests of the wire: plain fields, and strategies that make records."""

from __future__ import annotations

import math

from hypothesis import strategies as st

from console.core.records import CaptureStatus, Heartbeat, RelativeSample

T = 1932100000.25  # in 2031


def sample_fields(**changes: object) -> dict[str, object]:
    """Give the fields of a good relative-state sample, some of them changed."""
    return {
        "seq": 7,
        "t": T,
        "range_m": 20.5,
        "range_rate_mps": -0.09,
        "y_m": 0.1,
        "z_m": -0.2,
        "roll_deg": 0.3,
        "pitch_deg": -0.4,
        "yaw_deg": 0.5,
        "y_rate_mps": 0.001,
        "z_rate_mps": -0.002,
        "roll_rate_dps": 0.01,
        "pitch_rate_dps": 0.02,
        "yaw_rate_dps": -0.03,
        "valid": True,
    } | changes


def without(fields: dict[str, object], *names: str) -> dict[str, object]:
    """Give the fields less some."""
    return {name: value for name, value in fields.items() if name not in names}


def capture_fields(**changes: object) -> dict[str, object]:
    """Give the fields of a good capture status, some of them changed."""
    return {
        "seq": 3,
        "t": T,
        "contact": True,
        "soft_capture": False,
        "ring_extension": 1.0,
        "ready_to_hook": [True, False, True],
        "hooks": [0.0, 0.5, 1.0],
        "hard_capture": False,
        "vestibule_kpa": 101.3,
        "vestibule_degc": 21.0,
        "rel_rate_mps": 0.002,
        "rel_rate_dps": 0.01,
    } | changes


def beat_fields(**changes: object) -> dict[str, object]:
    """Give the fields of a good heartbeat, some of them changed."""
    return {"t": T, "last_seq": 41} | changes


ANGLES = ("roll_deg", "pitch_deg", "yaw_deg")
NUMBERS = (
    "t", "range_m", "range_rate_mps", "y_m", "z_m", *ANGLES, "y_rate_mps", "z_rate_mps",
    "roll_rate_dps", "pitch_rate_dps", "yaw_rate_dps",
)  # fmt: skip
REQUIRED = ("seq", "t", "range_m", "range_rate_mps", "y_m", "z_m", *ANGLES)

finite = st.floats(allow_nan=False, allow_infinity=False)
times = st.floats(946684800.0, 253402300799.0)
sequences = st.integers(0, 2**63 - 1)
sources = st.text(
    st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=30
)
optional = st.none() | finite
flags = st.none() | st.booleans()

relative_samples = st.builds(
    RelativeSample,
    source=sources, seq=sequences, t=times, range_m=st.floats(-1e5, 1e5),
    range_rate_mps=finite, y_m=finite, z_m=finite, roll_deg=finite, pitch_deg=finite,
    yaw_deg=finite, y_rate_mps=optional, z_rate_mps=optional, roll_rate_dps=optional,
    pitch_rate_dps=optional, yaw_rate_dps=optional, valid=st.booleans(),
)  # fmt: skip
capture_statuses = st.builds(
    CaptureStatus,
    source=sources, seq=sequences, t=times, contact=flags, soft_capture=flags,
    ring_extension=optional,
    ready_to_hook=st.none() | st.lists(st.booleans(), min_size=1, max_size=20).map(tuple),
    hooks=st.none() | st.lists(finite, min_size=1, max_size=20).map(tuple),
    hard_capture=flags, vestibule_kpa=optional, vestibule_degc=optional,
    rel_rate_mps=optional, rel_rate_dps=optional,
)  # fmt: skip
heartbeats = st.builds(Heartbeat, source=sources, t=times, last_seq=sequences)


def assert_sound(record: object) -> None:
    """Hold that a record has only finite numbers and keeps the bounds of the wire."""
    assert isinstance(record, RelativeSample | CaptureStatus | Heartbeat)
    values = [getattr(record, name) for name in record.__struct_fields__]
    for value in values:
        for item in value if isinstance(value, tuple) else (value,):
            if isinstance(item, float):
                assert math.isfinite(item)
    assert record.t >= 946684800.0
    if isinstance(record, RelativeSample):
        assert abs(record.range_m) <= 100_000.0
