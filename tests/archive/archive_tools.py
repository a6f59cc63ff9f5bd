"""What the archive's tests share: a pass made by hand, facts, frames, and a toy of a replay."""

from __future__ import annotations

import hashlib
import random
from collections.abc import Iterable, Iterator
from pathlib import Path

import msgspec

from console.archive.recording import (
    ActionTaken,
    EngineTime,
    FrameTaken,
    Input,
    Recorder,
    RecordingMeta,
)
from console.core.ids import SourceId
from console.core.records import CaptureStatus, Frame, RelativeSample

T0 = 1933839312.0  # 2031-04-13T09:35:12Z, any time after 2000
META = RecordingMeta(started_s=T0, engine_time=EngineTime.RECEIVE, title="A pass made by hand")


def sample(index: int, rng: random.Random) -> RelativeSample:
    """Make one of two sources' samples in turn; some rates absent, some flags false."""
    rates = [rng.choice([None, rng.gauss(0, 0.1)]) for _ in range(5)]
    return RelativeSample(
        SourceId("optical" if index % 2 else "radio"),
        index // 2,
        T0 + index * 0.05,
        *[rng.gauss(0, 20) for _ in range(7)],
        *rates,
        valid=rng.random() < 0.9,
    )


def samples(count: int, seed: int = 1) -> list[RelativeSample]:
    """Make a pass of random values: nothing here looks at what they mean."""
    rng = random.Random(seed)
    return [sample(index, rng) for index in range(count)]


def statuses(count: int, first: int = 0) -> list[CaptureStatus]:
    """Make capture statuses with every field filled."""
    return [
        CaptureStatus(
            SourceId("mechanism"), first + index, T0 + 500 + index, contact=True,
            soft_capture=bool(index % 2), ring_extension=0.75, ready_to_hook=(True, False),
            hooks=(0.0, 0.5, 1.0), hard_capture=False, vestibule_kpa=1.25, vestibule_degc=21.5,
            rel_rate_mps=0.001, rel_rate_dps=0.02,
        )
        for index in range(count)
    ]  # fmt: skip


def frame_of(record: RelativeSample | CaptureStatus) -> Frame:
    """Write a message as a publisher would, without the project's own encoder."""
    kind = "rel" if isinstance(record, RelativeSample) else "cap"
    fields = {
        name: getattr(record, name)
        for name in record.__struct_fields__
        if name != "source" and getattr(record, name) is not None
    }
    payload = msgspec.msgpack.encode(fields)
    return Frame(record.t + 0.01, f"{kind}/{record.source}".encode(), payload)


def plain_frames(count: int, first: int = 1) -> list[Frame]:
    """Make frames whose payload tells their number."""
    return [Frame(T0 + n * 0.01, b"rel/optical", b"%08d" % n) for n in range(first, first + count)]


def record_pass(path: Path, records: Iterable[RelativeSample | CaptureStatus]) -> None:
    """Record records as a watch would, all of them accepted."""
    with Recorder(path, META) as recorder:
        for record in records:
            number = recorder.frame(frame_of(record))
            recorder.sample(record, number)


def toy_events(inputs: Iterable[Input]) -> Iterator[bytes]:
    """Be a state model for order's sake: each tenth input's event hashes all inputs before it."""
    digest = hashlib.sha256()
    for count, one in enumerate(inputs, start=1):
        if isinstance(one, FrameTaken):
            digest.update(f"{one.number} {one.frame.t_received_s!r}".encode())
            digest.update(one.frame.topic + one.frame.payload)
        elif isinstance(one, ActionTaken):
            digest.update(f"{one.t!r}".encode() + msgspec.json.encode(one.action))
        if count % 10 == 0:
            yield b'{"kind":"toy","count":%d,"sha256":"%s"}' % (
                count,
                digest.hexdigest().encode(),
            )
